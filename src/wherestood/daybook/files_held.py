"""List what a daybook's folder holds: the one list for all who copy, check or delete.

Whoever writes a bag, takes one in, merges, verifies or withdraws asks here, so that a
new kind of file is known to all of them or to none.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from pathlib import PurePath
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.tables import ITEMS
from wherestood.daybook.within import is_whole

__all__ = [
    "ADDRESS_FILE", "DATABASE", "FOLDERS", "ORIGINALS", "OUT", "OWN_FILES",
    "PENDING", "REPORTS", "REPORT_KEY", "TAKING_IN", "TERRAIN", "WITH_FILES",
    "HeldFile", "columns_with_files_at", "files_named", "files_of", "is_known",
    "is_report", "lies_apart", "may_lie_outside", "rows_with_files",
]  # fmt: skip

DATABASE = "daybook.sqlite"
#: Where the database is on a server, this file in the folder holds its address.
ADDRESS_FILE = "daybook.url"
#: What a withdrawal has still to delete.
PENDING = "withdrawal-pending.json"
ORIGINALS, TERRAIN, OUT = "originals", "terrain", "out"
#: Where frozen issues of reports lie; what each holds is told by its setting.
REPORTS = "reports"
#: With this the key of an issued report's setting begins; its number follows.
REPORT_KEY = "report-"
#: In the folder of originals: what is coming in just now.
TAKING_IN = ".taking-in"
#: Folders whose files items name, and which cannot be made again.
FOLDERS = (ORIGINALS, TERRAIN, REPORTS)
#: Files beside these folders that are the daybook's own, by their whole names
#: (SQLite's: https://sqlite.org/tempfiles.html, 2): a copy of the database whose name
#: only begins so holds all that it held.
OWN_FILES = (
    DATABASE, f"{DATABASE}-wal", f"{DATABASE}-shm", f"{DATABASE}-journal",
    ADDRESS_FILE, PENDING, f"{PENDING}.part",
)  # fmt: skip
#: Tables whose items name files.
WITH_FILES = ("scans", "plans", "terrain_layers", "settings")

_READ = (
    "id", "key", "plate_id", "file", "files", "value", "kept", "sha256",
    "size_bytes", "removed", "withdrawn",
)  # fmt: skip


@dataclass(frozen=True)
class HeldFile:
    """Hold a file that an item names, and what it was when it came."""

    file: str
    sha256: str | None = None
    size_bytes: int | None = None


def files_of(table: str, row: Mapping[str, Any]) -> Iterator[HeldFile]:
    """Give the files that an item names.

    Parameters
    ----------
    table : str
        The item's.
    row : mapping
        Its columns.
    """
    if table in ("scans", "plans"):
        if row.get("file"):
            yield HeldFile(row["file"], row.get("sha256"), row.get("size_bytes"))
        return
    records: Any = ()
    if table == "terrain_layers":
        records = row.get("files") or ()
    elif is_report(table, row):
        records = row["value"].get("files") or ()
    for record in records:
        yield HeldFile(
            str(record.get("file", "")), record.get("sha256"), record.get("size_bytes")
        )


def rows_with_files(session: Session, table: str) -> Iterator[Mapping[str, Any]]:
    """Give the items of a table with the columns that tell of their files."""
    columns = [one for one in ITEMS[table].__table__.c if one.name in _READ]
    for row in session.execute(select(*columns)).mappings():
        yield dict(row)


def files_named(session: Session) -> set[str]:
    """Return every file that an item names, set aside or not."""
    return {
        held.file
        for table in WITH_FILES
        for row in rows_with_files(session, table)
        for held in files_of(table, row)
    }


def columns_with_files_at(
    table: str, row: Mapping[str, Any], moved: Mapping[str, str]
) -> dict[str, Any]:
    """Return the columns of an item that name files, with where these lie now."""
    if table in ("scans", "plans"):
        return {"file": moved.get(row["file"], row["file"])}
    if table == "terrain_layers":
        return {"files": _at(row["files"], moved)}
    return {"value": {**row["value"], "files": _at(row["value"]["files"], moved)}}


def _at(
    records: list[dict[str, Any]], moved: Mapping[str, str]
) -> list[dict[str, Any]]:
    return [
        {**record, "file": moved.get(record["file"], record["file"])}
        for record in records
    ]


def is_report(table: str, row: Mapping[str, Any]) -> bool:
    """Tell whether an item is an issue of a report, of which something is left."""
    named = table == "settings" and str(row["key"]).startswith(REPORT_KEY)
    return named and isinstance(row.get("value"), dict)


def may_lie_outside(table: str, row: Mapping[str, Any]) -> bool:
    """Tell whether an item may name files by their whole path."""
    return table == "plans" or row.get("kept") == "left in place"


def lies_apart(file: str) -> bool:
    """Tell whether a file lies in none of the folders whose files items name."""
    return is_whole(file) or PurePath(file).parts[0] not in FOLDERS


def is_known(inside: PurePath, named: Collection[str]) -> bool:
    """Tell whether items name a file, or a folder that holds it."""
    whole = inside.as_posix()
    return whole in named or any(up.as_posix() in named for up in inside.parents)
