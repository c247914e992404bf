"""Take old plans in: pages of a PDF, of a TIFF, pictures, georeferenced files."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.book import TERRAIN, Daybook
from wherestood.daybook.originals.lost import put_lost_back
from wherestood.daybook.originals.names import refuse_controls, safe_name
from wherestood.daybook.originals.passing import arrive, sweep
from wherestood.daybook.originals.take import named_files
from wherestood.daybook.plan_place import FilePlace, check_place, place_of_file
from wherestood.daybook.tables import Plan, TerrainLayer
from wherestood.daybook.trouble import told_plainly
from wherestood.errors import InputError, PlanError
from wherestood.plans.sheet_file import SheetFile, open_sheet
from wherestood.progress import SILENT, Progress
from wherestood.terrain.checksum import file_sha256

__all__ = ["PlanTaken", "take_plan"]

_FOLDER = "old plans"
_PIN_IT = (
    "Send a GeoTIFF, or take it in with wherestood plans take and pin it with "
    "wherestood plans pin."
)


@dataclass(frozen=True)
class PlanTaken:
    """Hold a plan that was taken in.

    Attributes
    ----------
    id, key : str
        What it is called by.
    sheet : SheetFile
        What its file is.
    box_deg : (west, south, east, north) or None
        What it covers, if its file says so [deg].
    notes : tuple of str
        What to know about it.
    """

    id: str
    key: str
    sheet: SheetFile
    box_deg: tuple[float, float, float, float] | None
    notes: tuple[str, ...] = ()


def take_plan(
    daybook: Daybook,
    path: Path,
    person: str,
    *,
    title: str | None = None,
    date: str | None = None,
    page: int | None = None,
    page_ppi: float | None = None,
    must_lie: bool = True,
    place: bool = True,
    why: str = "",
    progress: Progress = SILENT,
) -> PlanTaken:
    """Take a plan in.

    Parameters
    ----------
    daybook : Daybook
        Where.
    path : Path
        PDF, TIFF, JPEG, PNG, JPEG 2000 or WebP; georeferenced or not.
    person, why : str
        Who takes it in, and why.
    title, date : str, optional
        Its title, its file's name unless told; its date, EDTF.
    page, page_ppi
        As of `wherestood.plans.sheet_file.open_sheet`.
    must_lie : bool
        Whether a file that does not say where it lies is refused.
    place : bool
        Whether what it says of where it lies is believed.
    progress : Progress
        Told how far it has come.

    Raises
    ------
    InputError
        If it cannot be read, says that it lies at no place it could, or is there
        already.

    Notes
    -----
    The file is kept as it came. The corners or control points that it gives become
    pins, so that the record says where it lies without the file.
    """
    refuse_controls(path.name)
    sheet = open_sheet(path, page, page_ppi)
    lies = _lies(path, sheet) if place else None
    if lies is None and must_lie:
        raise PlanError(
            f"The plan {path.name!r} does not say where it lies on the ground.",
            _PIN_IT,
        )
    sha256 = file_sha256(path, progress)
    with daybook.reading() as session:
        _refuse_again(daybook, session, path, sha256, sheet)
        home = _home(session)
        if lies is not None:
            odd = check_place(session, lies, path.name)
            sheet = replace(sheet, notes=(*sheet.notes, *odd))

    def has_row(file: str) -> bool:
        return file in named_files(daybook)

    with told_plainly(daybook.folder):
        sweep(daybook.folder, has_row)
        with (
            arrive(
                daybook.folder,
                path,
                home,
                safe_name(path.name),
                has_row,
                expected_sha256=sha256,
                progress=progress,
            ) as arrival,
            daybook.writing(person, why) as session,
        ):
            plan = Plan(
                title=title or path.stem,
                date_edtf=date,
                file=arrival.file,
                sha256=sha256,
                page=sheet.page if sheet.pages > 1 else None,
                page_ppi=sheet.page_ppi,
                width_px=sheet.width_px,
                height_px=sheet.height_px,
            )
            if lies is not None:
                plan.pins, plan.fit = lies.pins, lies.fit
                plan.note = "Its pins are those that its file gives."
            session.add(plan)
            session.flush()
            return PlanTaken(
                plan.id, plan.key, sheet, lies.box_deg if lies else None, sheet.notes
            )


def _lies(path: Path, sheet: SheetFile) -> FilePlace | None:
    return None if sheet.kind == "pdf" else place_of_file(path, sheet.directory)


def _refuse_again(
    daybook: Daybook, session: Session, path: Path, sha256: str, sheet: SheetFile
) -> None:
    """Refuse a plan that is there already; another page of its file is another plan."""
    wanted = select(Plan).where(Plan.sha256 == sha256, Plan.removed.is_(False))
    for there in session.scalars(wanted):
        if (there.page or 1) == sheet.page:
            raise InputError(
                f"The plan {path.name!r} is in the daybook already, as {there.key}.",
                put_lost_back(daybook, [(there.file or "", sha256)], {sha256: path}),
            )


def _home(session: Session) -> str:
    """Return the folder of plans; a layer of that name is a folder of its own."""
    layers = session.scalars(select(TerrainLayer.files))
    taken = {str(record.get("file")) for files in layers for record in files or ()}
    number, home = 1, f"{TERRAIN}/{_FOLDER}"
    while any(file.startswith(f"{home}/") for file in taken):
        number += 1
        home = f"{TERRAIN}/{_FOLDER} ({number})"
    return home
