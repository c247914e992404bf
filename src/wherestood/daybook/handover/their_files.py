"""Find which files of another copy must come along in a merge."""

from __future__ import annotations

from wherestood.daybook.handover.diverged import Row, Sides
from wherestood.daybook.handover.settle import Settled
from wherestood.daybook.tables import ITEMS
from wherestood.daybook.within import is_whole, lies_within
from wherestood.errors import InputError

__all__ = ["set_file", "their_files"]

Item = tuple[str, str]


def their_files(
    sides: Sides, settled: Settled
) -> tuple[dict[str, tuple[Item, str | None]], tuple[str, ...]]:
    """Return files that must come along, with their items, and those left outside."""
    ours = {
        (file, sha256)
        for table in ("scans", "plans", "terrain_layers")
        for row in sides.ours.items[table].values()
        for file, sha256 in _named(row)
    }
    files: dict[str, tuple[Item, str | None]] = {}
    outside = []
    for item, row in settled.final.items():
        if item[0] not in ("scans", "plans", "terrain_layers") or row["withdrawn"]:
            continue
        for file, sha256 in _named(row):
            if (file, sha256) in ours:
                continue
            if kept := _kept_here(sides, item, sha256):
                set_file(row, file, kept)
                continue
            left = row.get("kept") == "left in place" or item[0] == "plans"
            if left and is_whole(file):
                outside.append(file)
            elif not lies_within(file):
                raise InputError(
                    f"The other copy's {ITEMS[item[0]].singular} {row['key']!r} names "
                    f"the file {file!r}, which lies outside it.",
                    "Nothing was merged. Get the copy again from somebody you trust.",
                )
            else:
                files[file] = (item, sha256)
    return files, tuple(outside)


def _named(row: Row) -> list[tuple[str, str | None]]:
    """Return the files that a scan, a plan or a terrain layer names."""
    if "files" in row:
        records = row["files"] or ()
        return [(str(record["file"]), record.get("sha256")) for record in records]
    return [(row["file"], row["sha256"])] if row.get("file") else []


def _kept_here(sides: Sides, item: Item, sha256: str | None) -> str | None:
    """Return where this copy keeps the same file of the same item, if it does."""
    here = sides.ours.items[item[0]].get(item[1])
    return next(
        (
            file
            for file, checksum in (_named(here) if here is not None else ())
            if checksum is not None and checksum == sha256 and lies_within(file)
        ),
        None,
    )


def set_file(row: Row, before: str, after: str) -> None:
    """Let a row name a file by where it lies here; change the row in place."""
    if "files" in row:
        row["files"] = [
            {**record, "file": after} if record["file"] == before else record
            for record in row["files"]
        ]
    else:
        row["file"] = after
