"""Say how the file of a database is opened, also where it cannot be written."""

from __future__ import annotations

import os
import sqlite3
import sys
import uuid
from contextlib import closing
from pathlib import Path

from sqlalchemy import URL

from wherestood.daybook.connection import sqlite_url
from wherestood.errors import DaybookError

__all__ = ["database_url"]

_TRIES = 5


def database_url(path: Path, *, closed: bool) -> tuple[URL, sqlite3.Connection | None]:
    """Return the address of a database, and what must be kept open with it.

    Parameters
    ----------
    path : Path
        Its file.
    closed : bool
        Whether this person may not write it, though somebody else may.

    Raises
    ------
    DaybookError
        If somebody writes all the while.

    Notes
    -----
    Whoever may not write in a folder cannot make the log that SQLite reads with. While
    somebody has the database open the log is there, and is read with them. Otherwise
    the database is taken into memory as it is at this moment. To open the file as one
    that cannot change (``immutable``) while somebody may open and write it would give
    wrong rows (https://sqlite.org/c3ref/open.html); that is done only where the disk
    itself cannot be written.
    """
    whole = os.path.abspath(path)  # noqa: PTH100 (links stay as they are)
    if not closed:
        return sqlite_url(whole), None
    if _on_a_disk_for_reading(path):
        return sqlite_url(whole, read_only=True, immutable=not _log_stands(path)), None
    for _ in range(_TRIES):
        if _log_stands(path):
            return sqlite_url(whole, read_only=True), None
        taken = _taken_into_memory(path, whole)
        if taken is not None:
            return taken
    raise DaybookError(
        f"The daybook {str(path.parent)!r} is being written all the while, and cannot "
        "be read from a folder that you may not write.",
        "Try again in a minute.",
    )


def _log_stands(path: Path) -> bool:
    log = path.with_name(path.name + "-wal")
    return log.exists() and log.stat().st_size > 0


def _on_a_disk_for_reading(path: Path) -> bool:
    if sys.platform == "win32":
        return False
    return bool(os.statvfs(path).f_flag & os.ST_RDONLY)


def _taken_into_memory(path: Path, whole: str) -> tuple[URL, sqlite3.Connection] | None:
    """Copy a database that nobody has open; None if somebody opened it meanwhile."""
    before = path.stat()
    name = f"file:wherestood-{uuid.uuid4().hex}?mode=memory&cache=shared"
    kept = sqlite3.connect(name, uri=True, check_same_thread=False)
    try:
        still = sqlite_url(whole, read_only=True, immutable=True)
        query = "&".join(f"{k}={v}" for k, v in still.query.items() if k != "uri")
        with closing(sqlite3.connect(f"{still.database}?{query}", uri=True)) as source:
            source.backup(kept)
    except sqlite3.DatabaseError:
        kept.close()
        if _changed(path, before):
            return None
        raise
    if _changed(path, before):
        kept.close()
        return None
    url = URL.create(
        "sqlite",
        database=name.partition("?")[0],
        query={"mode": "memory", "cache": "shared", "uri": "true"},
    )
    return url, kept


def _changed(path: Path, before: os.stat_result) -> bool:
    now = path.stat()
    return (
        _log_stands(path)
        or path.with_name(path.name + "-journal").exists()
        or (now.st_size, now.st_mtime_ns) != (before.st_size, before.st_mtime_ns)
    )
