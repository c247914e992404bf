"""Name the files in a daybook's folder that are none of its own."""

from __future__ import annotations

from collections.abc import Collection

from wherestood.daybook.book import ADDRESS_FILE, DATABASE, OUT, Daybook
from wherestood.daybook.originals.passing import TAKING_IN
from wherestood.daybook.scrub import PENDING

__all__ = ["files_beside"]

#: SQLite's own, by their whole names (https://sqlite.org/tempfiles.html, 2): a copy of
#: the database whose name only begins so holds all that it held.
_OWN = frozenset(
    {
        ADDRESS_FILE, DATABASE, f"{DATABASE}-journal", f"{DATABASE}-shm",
        f"{DATABASE}-wal", PENDING, f"{PENDING}.part",
    }
)  # fmt: skip


def files_beside(daybook: Daybook, known: Collection[str]) -> tuple[str, ...]:
    """Return files in the folder that are none of the daybook's own.

    Parameters
    ----------
    daybook : Daybook
        Where.
    known : collection of str
        Files, and folders of files, that items name.
    """
    found = []
    for path in sorted(daybook.folder.rglob("*")):
        inside = path.relative_to(daybook.folder)
        name = inside.as_posix()
        if not path.is_file() or name in _OWN or name in known:
            continue
        if inside.parts[0] == OUT or TAKING_IN in inside.parts:
            continue
        if not any(parent.as_posix() in known for parent in inside.parents):
            found.append(name)
    return tuple(found)
