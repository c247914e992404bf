"""Write a copy for the public as a bag (RFC 8493)."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC
from importlib import resources
from importlib.metadata import version
from pathlib import Path

import bagit
from sqlalchemy import select

from wherestood.daybook.book import Daybook
from wherestood.daybook.catalogue import write_dublin_core
from wherestood.daybook.catalogue.give import GIVEN_COLUMNS
from wherestood.daybook.counted import counted
from wherestood.daybook.handover.bag import bag_info, bag_name, clear_folder, zip_bag
from wherestood.daybook.handover.copying import new_beside
from wherestood.daybook.originals.names import safe_name
from wherestood.daybook.precision import restricted_plates
from wherestood.daybook.public.near import near_hidden
from wherestood.daybook.public.pictures import pictures_shown, write_picture
from wherestood.daybook.public.positions import public_positions
from wherestood.daybook.public.rows import LeftOut, public_names, public_rows
from wherestood.daybook.sheets.write import write_sheet
from wherestood.daybook.tables import Plate, Scan
from wherestood.daybook.trouble import told_plainly
from wherestood.errors import InputError, PlateError
from wherestood.progress import SILENT, Progress

__all__ = ["PublicCopy", "write_public_copy"]

_ACCESS = "public copy: what could give a restricted place away is left out"
_WHAT = "What may be published of a daybook: its catalogue, pictures, positions."


@dataclass(frozen=True)
class PublicCopy:
    """Hold what a copy for the public holds.

    Attributes
    ----------
    path : Path
        The bag: a folder, or a zip of one.
    plates, pictures, positions, restricted : int
        How many plates, pictures and accepted positions it has, and of how many
        plates the place is not told as it is known.
    left_out : tuple of LeftOut
        What stays out of it.
    cautions : tuple of str
        What a person should look at: places told more closely than others by them.
    """

    path: Path
    plates: int
    pictures: int
    positions: int
    restricted: int
    left_out: tuple[LeftOut, ...]
    cautions: tuple[str, ...] = ()


def write_public_copy(
    daybook: Daybook,
    target: Path,
    *,
    pictures: bool = True,
    info: Mapping[str, str] | None = None,
    progress: Progress = SILENT,
) -> PublicCopy:
    """Write what of a daybook may be published.

    Parameters
    ----------
    daybook : Daybook
        Which.
    target : Path
        The bag's folder, or a file ending in ``.zip``; it must not be there.
    pictures : bool
        Whether pictures come along; those that may not never do.
    info : mapping, optional
        What ``bag-info.txt`` says besides.
    progress : Progress
        Told of each picture.

    Raises
    ------
    InputError
        If the target is there.
    DaybookError
        If nothing can be written. Nothing is left of the copy then.
    """
    if target.exists():
        raise InputError(f"There is {str(target)!r} already.", "Choose another name.")
    with told_plainly(target.parent):
        staging = new_beside(target, "publishing")
        try:
            bag = staging / bag_name(target)
            bag.mkdir()
            made = _written(daybook, bag, pictures, progress)
            progress.stage("taking checksums of the copy", None)
            bagit.make_bag(
                str(bag), bag_info(info, _ACCESS, _WHAT), checksums=["sha256"]
            )
            whole = bag
            if target.suffix.lower() == ".zip":
                whole = staging / target.name
                zip_bag(bag, whole, progress)
            os.replace(whole, target)  # noqa: PTH105 (replaces no folder that is there)
        finally:
            clear_folder(staging)
    return PublicCopy(target, *made)


def _written(
    daybook: Daybook, bag: Path, pictures: bool, progress: Progress
) -> tuple[int, int, int, int, tuple[LeftOut, ...], tuple[str, ...]]:
    """Write everything, as of one moment; return what `PublicCopy` counts."""
    left_out: list[LeftOut] = []
    with daybook.reading() as session:
        told = list(public_rows(session))
        positions = public_positions(session)
        shown = list(pictures_shown(session)) if pictures else []
        limits = restricted_plates(session)
        called = public_names(session)
        standing = select(Plate).where(
            Plate.removed.is_(False), Plate.withdrawn.is_(None)
        )
        near = near_hidden(session, list(session.scalars(standing)))
    rows = [row for row, _ in told]
    for _, out in told:
        left_out += out
    table = [[row[column] for column in GIVEN_COLUMNS[:-1]] for row in rows]
    write_sheet(bag / "plates.csv", GIVEN_COLUMNS[:-1], table)
    write_dublin_core(bag / "plates.xml", rows)
    (bag / "positions.geojson").write_text(
        json.dumps(positions, indent=1, ensure_ascii=False) + "\n", encoding="utf-8"
    )
    (bag / "pictures").mkdir()
    progress.stage("writing pictures", len(shown))
    count, taken = 0, set[str]()
    for plate, scan in shown:
        progress.advance()
        if not isinstance(scan, Scan):
            left_out.append(scan)
            continue
        try:
            path = bag / "pictures" / _own_name(called[plate.id], taken)
            write_picture(daybook.folder, scan, path)
            count += 1
        except PlateError as error:
            left_out.append(LeftOut(plate.key, "picture", error.problem))
    found = len(positions["features"])
    strict = sum(not one.is_exact for one in limits.values())
    _write_readme(daybook, bag, (len(rows), count, found, strict))
    return len(rows), count, found, strict, tuple(left_out), near


def _own_name(key: str, taken: set[str]) -> str:
    """Return the name of a plate's picture, which is no other's: a/1 is not a_1."""
    stem = name = safe_name(key)
    number = 2
    while name.casefold() in taken:  # some disks do not tell a from A
        name, number = f"{stem}-{number}", number + 1
    taken.add(name.casefold())
    return f"{name}.jpg"


def _write_readme(
    daybook: Daybook, bag: Path, counts: tuple[int, int, int, int]
) -> None:
    plates, pictures, positions, strict = counts
    template = resources.files("wherestood.daybook.public").joinpath("readme.txt")
    text = template.read_text(encoding="utf-8").format(
        made=daybook.clock().astimezone(UTC).date().isoformat(),
        version=version("wherestood"),
        plates=counted(plates, "plate"),
        pictures=counted(pictures, "picture"),
        positions=counted(positions, "position"),
        restricted=counted(strict, "plate"),
    )
    (bag / "README.txt").write_text(text, encoding="utf-8")
