"""Keep a fix in a daybook with all that is needed to make it again."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from sqlalchemy.orm import Session

from wherestood.daybook.asked import Asked, named_within, whole_path
from wherestood.daybook.bearing import digest_of, name_of_input
from wherestood.daybook.redact import STUB
from wherestood.daybook.tables import Fix, FixInput, Item, Plate
from wherestood.errors import DaybookError
from wherestood.evidence.file import read_evidence
from wherestood.evidence.items import Evidence, RidgeLine, SkylinePiece
from wherestood.fix.area import Area, read_area
from wherestood.fix.camera_facts import USED
from wherestood.fix.result import Fix as Answer
from wherestood.fix.result import Proposed
from wherestood.fix.settings import LocateSettings
from wherestood.plate.scan import Plate as Scanned
from wherestood.plate.skyline import (
    TracedRidge,
    read_traced_lines,
    write_skyline_csv,
)
from wherestood.progress import Progress
from wherestood.record.fix_json import fix_to_json
from wherestood.record.inputs import FileRecord, FixInputs, Making
from wherestood.record.kept_evidence import keep_evidence
from wherestood.record.plain import plain
from wherestood.terrain.model import Terrain
from wherestood.terrain.read import open_terrain

__all__ = ["Reopened", "Together", "keep_fix", "reopened"]


@dataclass(frozen=True)
class Reopened:
    """Hold everything a fix was made from, opened once more.

    Attributes
    ----------
    plate, land, evidence, area, settings, proposed
        What `wherestood.notebook.locate` takes.
    """

    plate: Scanned
    land: Terrain
    evidence: Evidence
    area: Area
    settings: LocateSettings
    proposed: tuple[Proposed, ...]

    def given(self) -> dict[str, Any]:
        """Return what `wherestood.notebook.locate` takes, by name.

        Settings that evidence of the camera could fill are among it: they stood
        then, so that what it says does not fill them again.
        """
        given: dict[str, Any] = {
            "plate": self.plate,
            "land": self.land,
            "evidence": self.evidence,
            "within": self.area,
            "settings": self.settings,
            "proposed": self.proposed,
        }
        return given | {name: getattr(self.settings, name) for name in USED}


@dataclass(frozen=True)
class Together:
    """Hold what a fix has in common with those of the other plates of its panorama.

    Attributes
    ----------
    form : dict
        What the plates tell of one another, as it is published.
    question : dict
        How to ask for all of them again.
    """

    form: dict[str, Any]
    question: dict[str, Any]


def keep_fix(
    session: Session,
    folder: Path,
    plate: Plate,
    answer: Answer,
    inputs: FixInputs,
    making: Making,
    asked: Asked,
    *,
    items: Sequence[Item] = (),
    words: str = "",
    after_journal: int = 0,
    together: Together | None = None,
) -> Fix:
    """Add a fix, and a row for each file and item it was made from.

    Parameters
    ----------
    session : Session
        Of `Daybook.writing`.
    folder : Path
        The daybook's.
    plate : Plate
        Its plate.
    answer, inputs, making
        What was found, from what, when and by what version.
    asked : Asked
        How plate and ground were opened.
    items : sequence of Item
        The items whose words the evidence was, as they were read.
    words : str
        The page of words.
    after_journal : int
        Number of the journal's last row when the items were read.
    together : Together, optional
        What it has in common with the other plates of its panorama.

    Returns
    -------
    Fix
    """
    with tempfile.TemporaryDirectory() as passing:
        files = _files(inputs, Path(passing))
        inputs = replace(
            inputs,
            skyline_file=FileRecord.of(files[0]) if files[0] else None,
            evidence_file=FileRecord.of(files[1]) if files[1] else None,
        )
        lines, told = (one.read_text("utf-8") if one else None for one in files)
    form = json.loads(json.dumps(fix_to_json(answer, inputs, making)))
    question = {
        "asked": asked.record(),
        "settings": plain(inputs.settings),
        "proposed": [asdict(one.proposed) for one in answer.proposed],
        "area": form["inputs"]["ground_searched"],
        "scan": form["inputs"]["scan"],
    }
    if together is not None:
        form["panorama"] = together.form
        question["panorama"] = together.question
    station = form["station"]
    fix = Fix(
        plate_id=plate.id,
        made=making.made,
        version=making.version,
        verdict=form["verdict"],
        near_enough_m=form["near_enough_m"],
        lon_deg=station["lon"],
        lat_deg=station["lat"],
        height_m=station["height_m"],
        sd_east_m=station["sd_east_m"],
        sd_north_m=station["sd_north_m"],
        elsewhere=form["elsewhere"],
        answer=form,
        words=words or None,
        question=question,
        skyline_csv=lines,
        evidence_toml=told,
        after_journal=after_journal,
    )
    session.add(fix)
    session.flush()
    session.add_all(_rests_on(session, folder, fix, inputs, asked, [plate, *items]))
    session.flush()
    return fix


def _files(inputs: FixInputs, folder: Path) -> tuple[Path | None, Path | None]:
    """Write the lines and the other evidence used into files."""
    lines: Path | None = None
    if inputs.has_skyline or inputs.ridges:
        lines = folder / "skyline.csv"
        ridges = [TracedRidge(one.id, one.line, one.trust) for one in inputs.ridges]
        write_skyline_csv(inputs.skyline, lines, ridges)
    return lines, keep_evidence(inputs, folder)


def _rests_on(
    session: Session,
    folder: Path,
    fix: Fix,
    inputs: FixInputs,
    asked: Asked,
    items: Sequence[Item],
) -> list[FixInput]:
    """Return a row for each file and item a fix rests on."""
    scan = FixInput(
        role="scan",
        name=Path(str(inputs.plate.path)).name,
        file=asked.scan_file,
        sha256=inputs.plate.sha256,
    )
    ground = [
        FixInput(
            role="terrain",
            name=Path(source.path).name,
            file=_where(folder, asked, source.path),
            sha256=source.sha256,
        )
        for source in inputs.terrain.sources
    ]
    told = [
        FixInput(
            role="item",
            name=name_of_input(session, item),
            sha256=digest_of(item),
            item_table=item.__tablename__,
            item_id=item.id,
        )
        for item in items
    ]
    rows = [scan, *ground, *told]
    for row in rows:
        row.fix_id = fix.id
    return rows


def _where(folder: Path, asked: Asked, source: str) -> str | None:
    """Return the file that an elevation model was read from, whole or a zip."""
    name = Path(source).name
    for given in asked.terrain_files:
        path = whole_path(folder, given)
        if path.is_file() and (path.name == name or path.name in Path(source).parts):
            return given
        if path.is_dir():
            found = next(iter(sorted(path.rglob(name))), None)
            if found is not None:
                return named_within(folder, found)
    files = [g for g in asked.terrain_files if whole_path(folder, g).is_file()]
    return files[0] if len(asked.terrain_files) == len(files) == 1 else None


def reopened(
    folder: Path,
    fix: Fix,
    progress: Progress | None = None,
    *,
    moved: Mapping[str, str] | None = None,
) -> Reopened:
    """Open everything a fix was made from, as it then was.

    Parameters
    ----------
    folder : Path
        The daybook's.
    fix : Fix
        The fix.
    progress : Progress, optional
        Told how far the opening has come.
    moved : mapping, optional
        Files that lie elsewhere now (`wherestood.daybook.files_now`).

    Raises
    ------
    DaybookError
        If a file is missing or is not the one it was, or content was withdrawn.
    """
    question: dict[str, Any] = fix.question or {}
    if fix.withdrawn or "asked" not in question or _was_withdrawn(fix):
        raise DaybookError(
            f"The {fix.key} cannot be made again: some of what it rests on was "
            "withdrawn.",
            "Make a new fix from what is left.",
        )
    asked = _where_now(Asked.of(question["asked"]), moved or {})
    settings = LocateSettings(**question["settings"])
    plate = _scan(folder, asked, question["scan"])
    land = _ground(folder, fix, asked, settings, progress)
    evidence, area = _told(fix, plate, question)
    proposed = tuple(Proposed(**one) for one in question["proposed"])
    return Reopened(plate, land, evidence, area, settings, proposed)


def _was_withdrawn(fix: Fix) -> bool:
    return STUB in (fix.evidence_toml or "") or STUB in (fix.skyline_csv or "")


def _where_now(asked: Asked, moved: Mapping[str, str]) -> Asked:
    return replace(
        asked,
        scan_file=moved.get(asked.scan_file, asked.scan_file),
        terrain_files=tuple(moved.get(name, name) for name in asked.terrain_files),
    )


def _scan(folder: Path, asked: Asked, scan: dict[str, Any]) -> Scanned:
    path = whole_path(folder, asked.scan_file)
    _require(path)
    corners = scan["corners_px"]
    plate = Scanned.open(
        path,
        size=tuple(scan["size_mm"]) if scan["size_mm"] else None,
        scan_ppi=asked.scan_ppi,
        trimmed=scan["trimmed"],
        negative=scan["negative"],
        reversed=scan["reversed"],
        page=scan["page"],
        corners=tuple((x, y) for x, y in corners) if corners else None,  # type: ignore[arg-type]
    )
    _require_same(path, plate.sha256, scan["sha256"])
    return plate


def _ground(
    folder: Path,
    fix: Fix,
    asked: Asked,
    settings: LocateSettings,
    progress: Progress | None,
) -> Terrain:
    paths = [whole_path(folder, name) for name in asked.terrain_files]
    for path in paths:
        _require(path)
    then = [(s["file"], s["sha256"]) for s in (fix.answer or {})["terrain"]["sources"]]
    land = open_terrain(
        list(_of_then(paths, {name for name, _ in then})),
        around=asked.around_deg,
        radius_m=asked.radius_m,
        surface=settings.surface,
        refraction=settings.refraction,
        progress=progress,
    )
    now = {Path(source.path).name: source.sha256 for source in land.sources}
    for name, checksum in then:
        if name not in now:
            raise DaybookError(
                f"The elevation file {name!r} of {fix.key} is not among those opened.",
                "Put it back where it was.",
            )
        _require_same(Path(name), now[name], checksum)
    return land


def _of_then(paths: list[Path], names: set[str]) -> Iterator[Path]:
    """Give what to open: of a folder what a fix used, where other files came to it."""
    for path in paths:
        inside = [one for one in path.rglob("*") if one.name in names]
        others = {one.suffix for one in inside} & {
            one.suffix for one in path.rglob("*") if one.name not in names
        }
        yield from sorted(inside) if inside and others else (path,)


def _told(fix: Fix, plate: Scanned, question: dict[str, Any]) -> tuple[Evidence, Area]:
    with tempfile.TemporaryDirectory() as passing:
        folder = Path(passing)
        evidence = Evidence()
        if fix.evidence_toml is not None:
            path = folder / "evidence.toml"
            path.write_text(fix.evidence_toml, encoding="utf-8")
            evidence = read_evidence(
                path, width_px=plate.width_px, height_px=plate.height_px
            ).evidence
        if fix.skyline_csv is not None:
            lines = folder / "skyline.csv"
            lines.write_text(fix.skyline_csv, encoding="utf-8")
            skyline, ridges = read_traced_lines(lines, plate.width_px, plate.height_px)
            evidence = replace(
                evidence,
                skylines=(SkylinePiece(skyline),),
                ridge_lines=tuple(
                    RidgeLine(one.line, id=one.name, trust=one.trust) for one in ridges
                ),
            )
        searched = folder / "searched.geojson"
        searched.write_text(json.dumps(question["area"]["geometry"]))
        area = replace(read_area(searched), source=question["area"]["source"])
    return evidence, area


def _require(path: Path) -> None:
    if not path.exists():
        raise DaybookError(
            f"The file {str(path)!r}, which the fix was made from, is not there.",
            "Put it back where it was.",
        )


def _require_same(path: Path, now: str, then: str) -> None:
    if now != then:
        raise DaybookError(
            f"The file {str(path)!r} is not the one the fix was made from: its "
            f"checksum was {then[:12]}... and is {now[:12]}... now.",
            "Put the file back, or make a new fix from what is there now.",
        )
