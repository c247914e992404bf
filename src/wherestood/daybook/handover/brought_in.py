"""Take in the files that had been left outside a daybook that came in a bag."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.book import ORIGINALS, TERRAIN, Daybook
from wherestood.daybook.files_held import lies_apart
from wherestood.daybook.handover.bag import LEFT_IN_PLACE, clear_folder
from wherestood.daybook.handover.copying import copy_file
from wherestood.daybook.originals.names import safe_name
from wherestood.daybook.tables import Plan, Plate, Scan, TerrainLayer
from wherestood.daybook.within import lies_within
from wherestood.progress import SILENT

__all__ = ["bring_in"]


def bring_in(
    daybook: Daybook, person: str, left_alone: Collection[str]
) -> tuple[str, ...]:
    """Take in the files that had been left outside the daybook elsewhere.

    Parameters
    ----------
    daybook : Daybook
        Just out of its bag, whose `LEFT_IN_PLACE` holds them.
    person : str
        Who takes it in.
    left_alone : collection of str
        Ids of items that go on naming where their files lie.

    Returns
    -------
    tuple of str
        The files, where they are now.
    """
    left = daybook.folder / LEFT_IN_PLACE
    if not left.is_dir():
        return ()
    with daybook.writing(person, "brought in with the bag") as session:
        brought = [
            *_bring_scans(daybook, session, left_alone),
            *_bring_layers(daybook, session, left_alone),
            *_bring_plans(daybook, session, left_alone),
        ]
    clear_folder(left)
    return tuple(brought)


def _bring_scans(
    daybook: Daybook, session: Session, but: Collection[str]
) -> Iterator[str]:
    wanted = select(Scan).where(Scan.kept == "left in place", Scan.withdrawn.is_(None))
    for scan in session.scalars(wanted.order_by(Scan.id)).all():
        if scan.id in but:
            continue
        plate = session.get_one(Plate, scan.plate_id)
        home = f"{ORIGINALS}/{safe_name(plate.key)}"
        file = _brought(daybook, scan.sha256, home)
        if file is not None:
            scan.file, scan.kept = file, "taken in"
            yield file


def _bring_layers(
    daybook: Daybook, session: Session, but: Collection[str]
) -> Iterator[str]:
    wanted = select(TerrainLayer).where(
        TerrainLayer.kept == "left in place", TerrainLayer.withdrawn.is_(None)
    )
    for layer in session.scalars(wanted.order_by(TerrainLayer.id)).all():
        if layer.id in but:
            continue
        files = []
        # A folder of its own, as all that lies in a layer's folder is read as one.
        home = _free(daybook.folder / TERRAIN, safe_name(layer.key))
        for record in layer.files or ():
            below = _below_all(str(record.get("file")), layer.files or ())
            within = "/".join([TERRAIN, home.name, *map(safe_name, below)])
            file = _brought(daybook, str(record.get("sha256")), within)
            files.append(record if file is None else {**record, "file": file})
            if file is not None:
                yield file
        # A layer of which a file did not come stays where it was, all of it.
        if all(lies_within(str(record.get("file"))) for record in files):
            layer.files, layer.kept = files, "taken in"


def _below_all(file: str, records: Sequence[Mapping[str, Any]]) -> tuple[str, ...]:
    """Return the folders of a file below the one that holds all of its layer.

    Grids are folders of files that are called alike, and lists name others by where
    they lie.
    """
    parents = [_folders_of(str(record.get("file"))) for record in records]
    shared = 0
    while all(len(one) > shared for one in parents) and (
        len({one[shared] for one in parents}) == 1
    ):
        shared += 1
    return _folders_of(file)[shared:]


def _folders_of(file: str) -> tuple[str, ...]:
    windows = PureWindowsPath(file)
    pure = windows if windows.drive else PurePosixPath(file)
    return pure.parent.parts


def _bring_plans(
    daybook: Daybook, session: Session, but: Collection[str]
) -> Iterator[str]:
    for plan in session.scalars(select(Plan).order_by(Plan.id)).all():
        if plan.id in but:
            continue
        if plan.file and plan.sha256 and lies_apart(plan.file):
            file = _brought(daybook, plan.sha256, f"{TERRAIN}/old plans")
            if file is not None:
                plan.file = file
                yield file


def _brought(daybook: Daybook, sha256: str, within: str) -> str | None:
    """Copy a file that came along to its place; None where it did not come."""
    held = daybook.folder / LEFT_IN_PLACE / sha256
    file = next(iter(held.iterdir()), None) if held.is_dir() else None
    if file is None:
        return None
    home = daybook.folder / within
    home.mkdir(parents=True, exist_ok=True)
    place = _free(home, file.name)
    copy_file(file, place, SILENT)
    place.chmod(0o444)
    return place.relative_to(daybook.folder).as_posix()


def _free(home: Path, name: str) -> Path:
    taken = {path.name.casefold() for path in home.iterdir()}
    number, wanted = 1, name
    while wanted.casefold() in taken:
        number += 1
        wanted = f"{Path(name).stem} ({number}){Path(name).suffix}"
    return home / wanted
