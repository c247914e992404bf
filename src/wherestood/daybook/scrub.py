"""Overwrite what was withdrawn in the files of a daybook."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import stat
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path

from sqlalchemy import Engine, select, text
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session

from wherestood.daybook.connection import is_sqlite
from wherestood.daybook.files_held import OUT, PENDING
from wherestood.daybook.forced import force_folder
from wherestood.daybook.tables import Base, JournalRow
from wherestood.daybook.within import lies_within

__all__ = ["PENDING", "Pending", "finish", "is_pending", "note_pending"]

#: Another process may be long at work: nobody waits for it here.
_PATIENCE_MS = 2000


@dataclass(frozen=True)
class Pending:
    """Hold what is still to be done for a withdrawal.

    Attributes
    ----------
    act : str
        The act; if the journal does not know it, nothing was withdrawn.
    files : tuple of str
        Files to delete, relative to the folder.
    """

    act: str
    files: tuple[str, ...]


def note_pending(folder: Path, pending: Pending) -> None:
    """Write down what is to be done, so that a crash cannot lose it."""
    passing = folder / f"{PENDING}.part"
    with passing.open("w", encoding="utf-8") as stream:
        stream.write(json.dumps(asdict(pending)))
        stream.flush()
        os.fsync(stream.fileno())
    passing.replace(folder / PENDING)
    force_folder(folder)


def finish(folder: Path, engine: Engine) -> bool:
    """Delete files, empty ``out``, and overwrite what the database let go of.

    Parameters
    ----------
    folder : Path
        The daybook's.
    engine : Engine
        Its database.

    Returns
    -------
    bool
        False where another process uses the database, a file cannot be deleted, or
        the disk has no room: the next opening tries again.
    """
    note = folder / PENDING
    if not note.exists():
        return True
    pending = _noted(note)
    try:
        with Session(engine) as session:
            chosen = select(JournalRow.number).where(JournalRow.act == pending.act)
            committed = session.scalars(chosen.limit(1)).first() is not None
        if committed or not pending.act:
            for name in pending.files:
                if lies_within(name):  # the note may have come with a folder
                    _delete(folder / name)
            _empty(folder / OUT)
            if not _overwritten(engine):
                return False
        note.unlink()
    except (OSError, DBAPIError, sqlite3.Error):
        return False  # work goes on; whoever opens the daybook is told
    return True


def is_pending(folder: Path) -> bool:
    """Tell whether something was withdrawn and may not all be deleted yet."""
    return (folder / PENDING).exists()


def _noted(note: Path) -> Pending:
    """Return what is to be done; of a note that cannot be read, all but its files.

    ``wherestood verify`` names files that no item names.
    """
    try:
        return Pending(**json.loads(note.read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError):
        return Pending("", ())


def _delete(path: Path) -> None:
    """Delete a file, read-only or not, and its folder if that is empty then."""
    with suppress(FileNotFoundError):
        path.chmod(stat.S_IWUSR | stat.S_IRUSR)
        path.unlink()
    with suppress(OSError):
        path.parent.rmdir()


def _empty(folder: Path) -> None:
    for path in folder.iterdir() if folder.is_dir() else ():
        if path.is_dir() and not path.is_symlink():
            shutil.rmtree(path)
        else:
            path.unlink()


def _overwritten(engine: Engine) -> bool:
    """Rewrite the database without its free pages; tell whether its log is empty."""
    if is_sqlite(engine):
        with engine.connect() as connection:
            raw = connection.connection.driver_connection
            assert raw is not None
            if raw.in_transaction:
                raw.rollback()
            waits_ms = raw.execute("PRAGMA busy_timeout").fetchone()[0]
            raw.execute(f"PRAGMA busy_timeout = {_PATIENCE_MS}")
            try:
                raw.execute("VACUUM")
                busy, _log, _moved = raw.execute(
                    "PRAGMA wal_checkpoint(TRUNCATE)"
                ).fetchone()
            finally:
                raw.execute(f"PRAGMA busy_timeout = {waits_ms}")
            return not busy
    plain = engine.execution_options(isolation_level="AUTOCOMMIT")
    with plain.connect() as connection:
        for table in Base.metadata.sorted_tables:
            connection.execute(text(f'VACUUM FULL "{table.name}"'))
    return True
