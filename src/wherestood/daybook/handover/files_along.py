"""Find the files that come along in a merge, and where they go."""

from __future__ import annotations

from collections.abc import Set
from dataclasses import dataclass
from pathlib import PurePosixPath

from wherestood.daybook.files_held import (
    REPORTS,
    TERRAIN,
    WITH_FILES,
    HeldFile,
    columns_with_files_at,
    files_of,
    is_report,
    may_lie_outside,
)
from wherestood.daybook.handover.diverged import Row, Sides
from wherestood.daybook.handover.settle import Settled
from wherestood.daybook.originals.names import safe_name
from wherestood.daybook.tables import ITEMS
from wherestood.daybook.within import is_whole, lies_within
from wherestood.errors import InputError

__all__ = ["Along", "files_along", "named_at"]

Item = tuple[str, str]


@dataclass(frozen=True)
class Along:
    """Hold a file of theirs that comes, its item, and the folder it goes to.

    Attributes
    ----------
    item : (str, str)
        Table and id.
    held : HeldFile
        The file as they name it.
    within : str
        Folder here, with slashes. Another name is given if the file's is taken there.
    """

    item: Item
    held: HeldFile
    within: str

    @property
    def name(self) -> str:
        """Return the file's own name."""
        return PurePosixPath(self.held.file).name


def files_along(
    sides: Sides, settled: Settled
) -> tuple[tuple[Along, ...], tuple[str, ...]]:
    """Return files that must come along, and those that they left outside.

    A report that was issued on both sides under one number gets a folder of its own
    with its new key, as its files name one another; a terrain layer gets one too where
    another has its folder, as all that lies in a layer's folder is read as one.

    Raises
    ------
    InputError
        If an item of theirs names a file outside their folder as its own.
    """
    ours = {
        (held.file, held.sha256)
        for table in WITH_FILES
        for row in sides.ours.items[table].values()
        for held in files_of(table, row)
    }
    taken = {PurePosixPath(file).parts[:2] for file, _ in ours}
    files: dict[str, Along] = {}
    outside: list[str] = []
    for item, row in settled.final.items():
        table = item[0]
        if table not in WITH_FILES or row["withdrawn"]:
            continue
        known = sides.ours.items[table].get(item[1])
        all_of_it = tuple(files_of(table, row))
        home = ""
        if known is None and is_report(table, row):
            home = _home(REPORTS, row["key"], taken)
        elif known is None and table == "terrain_layers":
            home = _home_of_layer(all_of_it, ours, taken)
        for held in all_of_it:
            if (held.file, held.sha256) in ours and not home:
                continue
            if kept := _kept_here(table, known, held):
                row.update(columns_with_files_at(table, row, {held.file: kept}))
                continue
            if may_lie_outside(table, row) and is_whole(held.file):
                outside.append(held.file)
            elif not lies_within(held.file):
                raise InputError(
                    f"The other copy's {ITEMS[table].singular} {row['key']!r} names "
                    f"the file {held.file!r}, which lies outside it.",
                    "Nothing was merged. Get the copy again from somebody you trust.",
                )
            else:
                there = PurePosixPath(held.file).parent
                place = PurePosixPath(home, *there.parts[2:]) if home else there
                files[held.file] = Along(item, held, place.as_posix())
    return tuple(files.values()), tuple(outside)


def _kept_here(table: str, known: Row | None, held: HeldFile) -> str | None:
    """Return where this copy keeps the same file of the same item, if it does."""
    here = files_of(table, known) if known is not None else ()
    alike = (
        one.file
        for one in here
        if one.sha256 is not None
        and one.sha256 == held.sha256
        and lies_within(one.file)
    )
    return next(alike, None)


def named_at(final: dict[Item, Row], along: Along, file: str) -> None:
    """Let an item name a file where it lies now."""
    row = final[along.item]
    row.update(columns_with_files_at(along.item[0], row, {along.held.file: file}))


def _home_of_layer(
    files: tuple[HeldFile, ...],
    ours: Set[tuple[str, str | None]],
    taken: Set[tuple[str, ...]],
) -> str:
    """Return a folder for a layer of theirs; none where its own is free or shared."""
    inside = [held for held in files if lies_within(held.file)]
    homes = {PurePosixPath(held.file).parts[:2] for held in inside}
    if all((held.file, held.sha256) in ours for held in inside) or not homes & taken:
        return ""
    return _home(TERRAIN, min(homes & taken)[1], taken)


def _home(folder: str, wanted: str, taken: Set[tuple[str, ...]]) -> str:
    """Return a folder of an issue or a layer of theirs that no other has."""
    name, number = safe_name(wanted), 1
    while (folder, name) in taken:
        number += 1
        name = f"{safe_name(wanted)} ({number})"
    return f"{folder}/{name}"
