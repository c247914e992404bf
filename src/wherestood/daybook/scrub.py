"""Overwrite what was withdrawn in the files of a daybook."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from sqlalchemy import Connection, Engine, select, text
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session

from wherestood.daybook.connection import is_sqlite, lock_for_writing
from wherestood.daybook.files_held import OUT, PENDING, files_named
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
    emptied : bool
        Whether ``out`` was emptied since: what others make there meanwhile stays.
    """

    act: str
    files: tuple[str, ...]
    emptied: bool = False


def note_pending(folder: Path, pending: Pending) -> None:
    """Write down what is to be done, so that no crash loses it, beside what is left.

    Whoever calls it keeps all others from writing (`Daybook.writing`).
    """
    _write(folder, [*_noted(folder), pending])


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
    if not is_pending(folder):
        return True
    try:
        done = _deleted(folder, engine)
        acts = {one.act for one in done}
        if not all(one.emptied for one in done):
            _empty(folder / OUT)
            with _alone(engine):
                _write(
                    folder,
                    [
                        replace(one, emptied=one.emptied or one.act in acts)
                        for one in _noted(folder)
                    ],
                )
        if done:
            if not _overwritten(engine):
                return False
            with _alone(engine):
                _write(folder, [one for one in _noted(folder) if one.act not in acts])
    except (OSError, DBAPIError, sqlite3.Error):
        return False  # work goes on; whoever opens the daybook is told
    return True


def is_pending(folder: Path) -> bool:
    """Tell whether something was withdrawn and may not all be deleted yet."""
    return (folder / PENDING).exists()


def _deleted(folder: Path, engine: Engine) -> list[Pending]:
    """Delete the files of what was withdrawn, and strike out what never was.

    Nobody else writes meanwhile: a withdrawal that is not yet done would seem never to
    have been, and a file that comes in could take the place of one that is to go.
    """
    with _alone(engine) as session:
        noted = _noted(folder)
        acts = [one.act for one in noted]
        chosen = select(JournalRow.act).where(JournalRow.act.in_(acts)).distinct()
        committed = {*session.scalars(chosen), ""}
        done = [one for one in noted if one.act in committed]
        named = files_named(session) if done else set()
        for one in done:
            for name in one.files:
                # The note may have come with a folder, and a name may be given anew.
                if lies_within(name) and name not in named:
                    _delete(folder, name)
        if done != noted:
            _write(folder, done)
    return done


@contextmanager
def _alone(engine: Engine) -> Iterator[Session]:
    """Give a session while nobody else writes; wait a moment for others alone."""
    writer = engine.execution_options(wherestood_writes=True)
    with writer.connect() as connection, _soon(connection), connection.begin():
        lock_for_writing(connection, _PATIENCE_MS / 1000.0)
        with Session(connection) as session:
            yield session


@contextmanager
def _soon(connection: Connection) -> Iterator[None]:
    """Let SQLite give up soon where another process is at work."""
    if not is_sqlite(connection):
        yield
        return
    raw = connection.connection.driver_connection
    assert raw is not None
    waits_ms = raw.execute("PRAGMA busy_timeout").fetchone()[0]
    raw.execute(f"PRAGMA busy_timeout = {_PATIENCE_MS}")
    try:
        yield
    finally:
        raw.execute(f"PRAGMA busy_timeout = {waits_ms}")


def _noted(folder: Path) -> list[Pending]:
    """Return what is to be done; of a note that cannot be read, all but its files.

    ``wherestood verify`` names files that no item names.
    """
    try:
        told = json.loads((folder / PENDING).read_text(encoding="utf-8"))
        records = told if isinstance(told, list) else [told]
        return [
            Pending(one["act"], tuple(one["files"]), bool(one.get("emptied")))
            for one in records
        ]
    except FileNotFoundError:
        return []
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        return [Pending("", ())]


def _write(folder: Path, pending: list[Pending]) -> None:
    """Write what is to be done, whole or not at all; no note where that is nothing."""
    if not pending:
        (folder / PENDING).unlink(missing_ok=True)
        force_folder(folder)
        return
    passing = folder / f"{PENDING}.part"
    with passing.open("w", encoding="utf-8") as stream:
        stream.write(json.dumps([asdict(one) for one in pending]))
        stream.flush()
        os.fsync(stream.fileno())
    passing.replace(folder / PENDING)
    force_folder(folder)


def _delete(folder: Path, name: str) -> None:
    """Delete a file, read-only or not, and its folder if that is empty then."""
    path = folder / name
    with suppress(FileNotFoundError):
        path.chmod(stat.S_IWUSR | stat.S_IRUSR)
        path.unlink()
    if path.parent.parent != folder:  # those of the daybook itself stay
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
            with _soon(connection):
                raw.execute("VACUUM")
                busy, _log, _moved = raw.execute(
                    "PRAGMA wal_checkpoint(TRUNCATE)"
                ).fetchone()
            return not busy
    plain = engine.execution_options(isolation_level="AUTOCOMMIT")
    with plain.connect() as connection:
        # Whoever reads for long holds a table; others would queue behind this.
        connection.execute(text(f"SET lock_timeout = {_PATIENCE_MS}"))
        connection.detach()  # it goes with its settings
        for table in Base.metadata.sorted_tables:
            connection.execute(text(f'VACUUM FULL "{table.name}"'))
    return True
