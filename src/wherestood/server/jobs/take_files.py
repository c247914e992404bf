"""Take files that were sent in into the daybook."""

from __future__ import annotations

import shutil
import zipfile
from pathlib import Path
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook import Daybook, find
from wherestood.daybook.asked import whole_path
from wherestood.daybook.originals import ScanDetails, take_in
from wherestood.daybook.originals.take import same_file
from wherestood.daybook.plan_files import take_plan
from wherestood.daybook.tables import Plate, Scan, TerrainLayer
from wherestood.daybook.terrain_layers import LayerDetails, take_terrain
from wherestood.errors import CancelledError, InputError, PlateError, TerrainError
from wherestood.plate.pixels import open_image
from wherestood.plate.scan import Plate as Opened
from wherestood.plate.served.tiled_copy import make_tiled_copy
from wherestood.progress import Progress
from wherestood.server.forms.jobs import JobResult
from wherestood.server.scans import opened_scan, scan_file, tiled_path
from wherestood.server.uploads import LARGEST_BYTES, LARGEST_PX
from wherestood.terrain.checksum import file_sha256
from wherestood.terrain.intake import holds_heights

__all__ = ["take_plans", "take_scans", "take_terrain_files"]

#: A zip that unpacks to more than this many times its size is no elevation model.
_MOST_UNPACKED = 200
_BESIDE = (".tfw", ".jgw", ".pgw", ".wld", ".prj", ".xml", ".ovr")


def take_scans(
    asked: dict[str, Any], daybook: str | None, progress: Progress
) -> JobResult:
    """Take scans in, and make them ready to be looked at."""
    upload = Path(asked["upload"])
    files = sorted(path for path in upload.rglob("*") if path.is_file())
    if not files:
        raise InputError("What was sent is not there any more.", "Send the file again.")
    for file in files:
        _check_pixels(file)
    result = JobResult()
    with Daybook.open(_open(daybook)) as book:
        for number, file in enumerate(files):
            if (there := _there(book, file)) is not None and not asked.get("again"):
                # Sent once more after a stop: what came then is not sent back.
                result.scan_ids.append(there.id)
                result.plate_ids.append(there.plate_id)
                result.notes.append(f"{file.name} is there already.")
                continue
            if len(files) > 1:
                progress.stage(f"taking in {file.name}, {number + 1} of {len(files)}")
            try:
                _take_one(book, file, asked, result, progress)
            except CancelledError:
                if not result.scan_ids:
                    raise
                taken = len(result.scan_ids)
                result.notes.append(f"Stopped: {taken} of {len(files)} were taken in.")
                break
        if len(result.notes) == len(files) and all(
            note.endswith("is there already.") for note in result.notes
        ):
            raise InputError(
                " ".join(result.notes), "It is not taken in twice: look for it below."
            )
    shutil.rmtree(upload, ignore_errors=True)
    return result


def _take_one(
    book: Daybook,
    file: Path,
    asked: dict[str, Any],
    result: JobResult,
    progress: Progress,
) -> None:
    with book.reading() as session:
        if asked.get("plate_id"):
            key, new = session.get_one(Plate, asked["plate_id"]).key, None
        else:
            key = _free_key(session, asked.get("plate_key") or file.stem)
            new = {"title": asked["title"]} if asked.get("title") else {}
    details = ScanDetails(what=asked.get("what"), main=asked.get("main"))
    taken = take_in(
        book,
        key,
        file,
        asked["person"],
        why=asked.get("why", ""),
        details=details,
        again=bool(asked.get("again")),
        new_plate=new,
        progress=progress,
    )
    with book.reading() as session:
        scan = find(session, Scan, taken.address)
        plate = session.get_one(Plate, scan.plate_id)
    result.scan_ids.append(scan.id)
    result.plate_ids.append(plate.id)
    result.notes += [f"{taken.address}: {note}" for note in taken.notes]
    progress.stage("making it ready to look at", 100)
    negative = opened_scan(book, plate, scan).negative
    make_tiled_copy(
        scan_file(book, scan),
        tiled_path(book, scan, negative=negative),
        negative=negative,
        page=scan.page or 0,
        progress=progress,
    )


def _there(book: Daybook, file: Path) -> Scan | None:
    """Return the scan that a file was taken in as before, its file still in place."""
    with book.reading() as session:
        scan = same_file(session, file_sha256(file))
    if scan is None or not whole_path(book.folder, scan.file).is_file():
        return None
    return scan


def _check_pixels(file: Path) -> None:
    if holds_heights(file):
        raise PlateError(
            f"'{file.name}' holds heights of the ground, not a photograph.",
            "Drop it on the map of a plate, as terrain.",
        )
    image = open_image(file)  # by its content, whatever it is called
    if image.width_px * image.height_px > LARGEST_PX:
        raise PlateError(
            f"The scan '{file.name}' has "
            f"{image.width_px * image.height_px / 1e6:.0f} megapixels; at most "
            f"{LARGEST_PX // 10**6} are taken in here.",
            "Make a smaller copy, or take it in from the command line.",
        )


def _free_key(session: Session, wanted: str) -> str:
    key = " ".join(wanted.replace("/", "-").split()) or "plate"
    taken = set(session.scalars(select(Plate.key)))
    number, free = 1, key
    while free in taken:
        number += 1
        free = f"{key} ({number})"
    return free


def take_terrain_files(
    asked: dict[str, Any], daybook: str | None, progress: Progress
) -> JobResult:
    """Take an elevation model in: one raster, a zip, or a folder of files."""
    upload = Path(asked["upload"])
    files = sorted(path for path in upload.rglob("*") if path.is_file())
    if not files:
        raise InputError(
            "What was sent is not there any more.", "Send the files again."
        )
    for file in files:
        if file.suffix.lower() == ".zip":
            _check_zip(file)
    path = files[0] if len(files) == 1 else _as_folder(upload)
    details = LayerDetails(
        title=asked.get("title"),
        provenance=asked.get("provenance"),
        licence=asked.get("licence"),
        credit=asked.get("credit"),
        surface=asked.get("surface") or "unknown",
        vertical_datum=asked.get("vertical_datum"),
        note=asked.get("note"),
    )
    with Daybook.open(_open(daybook)) as book:
        taken = take_terrain(
            book,
            path,
            asked["person"],
            why=asked.get("why", ""),
            details=details,
            progress=progress,
        )
        with book.reading() as session:
            layer = find(session, TerrainLayer, taken.key)
    shutil.rmtree(upload, ignore_errors=True)
    notes = [*taken.steps, *taken.notes]
    return JobResult(terrain_layer_id=layer.id, notes=notes)


def take_plans(
    asked: dict[str, Any], daybook: str | None, progress: Progress
) -> JobResult:
    """Take plans in, to be pinned or lying where they say themselves."""
    upload = Path(asked["upload"])
    files = [path for path in sorted(upload.rglob("*")) if path.is_file()]
    # What stands beside a raster (a world file, its reference system) goes with it.
    plans = [path for path in files if path.suffix.lower() not in _BESIDE]
    if not plans:
        raise InputError("No plan was sent.", "Send a PDF, a TIFF or a picture.")
    result = JobResult()
    with Daybook.open(_open(daybook)) as book:
        for path in plans:
            taken = take_plan(
                book,
                path,
                asked["person"],
                title=asked.get("title"),
                page=asked.get("page"),
                must_lie=bool(asked.get("must_lie", True)),
                why=asked.get("why", ""),
                progress=progress,
            )
            result.notes += taken.notes
            result.plan_ids.append(taken.id)
    shutil.rmtree(upload, ignore_errors=True)
    return result


def _as_folder(upload: Path) -> Path:
    """Return the folder that was sent, or the set itself under a name for people."""
    inside = list(upload.iterdir())
    if len(inside) == 1 and inside[0].is_dir():
        return inside[0]
    named = upload / "terrain"
    if not named.exists():
        named.mkdir()
        for path in inside:
            path.rename(named / path.name)
    return named


def _check_zip(path: Path) -> None:
    """Refuse a zip that would unpack to far more than it can hold of ground."""
    try:
        with zipfile.ZipFile(path) as packed:
            unpacked = sum(entry.file_size for entry in packed.infolist())
    except (zipfile.BadZipFile, OSError) as error:
        raise TerrainError(
            f"{path.name} is no zip, or is damaged.", "Send it again."
        ) from error
    most = max(_MOST_UNPACKED * path.stat().st_size, 1024**2)
    if unpacked > min(most, 8 * LARGEST_BYTES):
        raise TerrainError(
            f"{path.name} says that it unpacks to {unpacked / 1024**3:.1f} GB, more "
            "than an elevation model of its size.",
            "Unpack it, and send the folder.",
        )


def _open(daybook: str | None) -> str:
    if daybook is None:
        raise InputError("No daybook is open.", "Open one, then send the file again.")
    return daybook


def opened(book: Daybook, plate: Plate, scan: Scan) -> Opened:
    """Open a scan as a search does."""
    return opened_scan(book, plate, scan)
