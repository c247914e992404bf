"""Connect to the database of a daybook, and refuse what goes round the journal."""

from __future__ import annotations

import json
import re
import sqlite3
from contextlib import suppress
from typing import Any, Literal

from sqlalchemy import URL, Connection, Engine, QueuePool, create_engine, event

from wherestood.errors import DaybookError

__all__ = [
    "APPLICATION_ID",
    "JournalMode",
    "is_sqlite",
    "lock_for_writing",
    "make_engine",
    "sqlite_url",
    "writing_by_flush",
]

#: Tells a daybook from other SQLite files (PRAGMA application_id): "wsdb".
APPLICATION_ID = 0x77736462
BUSY_S = 30.0  # how long a writer waits for another
_CHANGES_ROWS = re.compile(
    r"(?:\s|--[^\n]*\n|/\*.*?\*/)*"
    r"(?:insert|update|delete|replace|truncate|merge|alter|drop|with\b.*?\)\s*"
    r"(?:insert|update|delete|replace))\b",
    re.I | re.S,
)
_LET_THROUGH = "wherestood_journalled"
JournalMode = Literal["wal", "delete"]


def sqlite_url(path: str, *, read_only: bool = False, immutable: bool = False) -> URL:
    """Return the address of a SQLite file, whatever letters its path has."""
    if not read_only:
        return URL.create("sqlite", database=path)
    from urllib.parse import quote

    query = {"mode": "ro", "uri": "true"}
    if immutable:
        query["immutable"] = "1"
    return URL.create("sqlite", database=f"file:{quote(path)}", query=query)


def make_engine(
    url: URL, *, journal_mode: JournalMode = "wal", read_only: bool = False
) -> Engine:
    """Return an engine whose connections keep a daybook safe.

    Parameters
    ----------
    url : URL
        SQLite or PostgreSQL.
    journal_mode : str
        SQLite's: ``wal``, or ``delete`` where the folder is shared or synced.
    read_only : bool
        Whether nothing will be written.
    """
    engine = create_engine(
        url,
        json_serializer=_as_json,
        **({"connect_args": {"timeout": BUSY_S}} if _sqlite(url) else {}),
        # One in memory is shared by its name, and needs no pool of its own kind.
        **({"poolclass": QueuePool} if url.query.get("mode") == "memory" else {}),
    )
    if _sqlite(url):
        _set_up_sqlite(engine, journal_mode, read_only)
    event.listen(engine, "before_cursor_execute", _guard)
    event.listen(engine, "checkin", _close_guard)
    event.listen(engine, "checkout", _close_guard)
    return engine


def is_sqlite(engine: Engine | Connection) -> bool:
    """Tell whether a database is a SQLite file."""
    return engine.dialect.name == "sqlite"


def _sqlite(url: URL) -> bool:
    return url.get_backend_name() == "sqlite"


def _as_json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def _set_up_sqlite(engine: Engine, journal_mode: JournalMode, read_only: bool) -> None:
    @event.listens_for(engine, "connect")
    def _connected(raw: sqlite3.Connection, _record: Any) -> None:
        # Transactions are begun below, not by the driver, which would not take
        # the lock until the first change and could then fail half-way.
        raw.isolation_level = None
        raw.execute("PRAGMA foreign_keys = ON")
        # What a schema that came from elsewhere calls is not run
        # (https://sqlite.org/security.html, 1.2).
        raw.execute("PRAGMA trusted_schema = OFF")
        if not read_only:
            # Without a log the folder must be forced too when a change is done, or a
            # power cut may take it back (https://sqlite.org/pragma.html, synchronous).
            level = "FULL" if journal_mode == "wal" else "EXTRA"
            raw.execute(f"PRAGMA synchronous = {level}")
            raw.execute("PRAGMA secure_delete = ON")
            # While somebody else has it open the mode stays as it is, which is safe.
            with suppress(sqlite3.OperationalError):
                raw.execute(f"PRAGMA journal_mode = {journal_mode}")

    @event.listens_for(engine, "begin")
    def _begun(connection: Connection) -> None:
        options = connection.get_execution_options()
        kind = "IMMEDIATE" if options.get("wherestood_writes") else "DEFERRED"
        connection.exec_driver_sql(f"BEGIN {kind}")


def lock_for_writing(connection: Connection, wait_s: float = BUSY_S) -> None:
    """Let one write at a time in a server's database; SQLite does so of itself.

    The lock belongs to the schema that holds the tables, and goes with the transaction.

    Parameters
    ----------
    connection : Connection
        In the transaction.
    wait_s : float
        How long others are waited for [s].
    """
    if is_sqlite(connection):
        return
    milliseconds = round(wait_s * 1000.0)
    connection.exec_driver_sql(f"SET LOCAL lock_timeout = {milliseconds}")
    connection.exec_driver_sql(
        f"SELECT pg_advisory_xact_lock({APPLICATION_ID}, hashtext(current_schema()))"
    )


def writing_by_flush(connection: Connection, on: bool) -> None:
    """Let statements that change rows through, or not, on one connection."""
    connection.info[_LET_THROUGH] = on


def _close_guard(_raw: Any, record: Any, *_proxy: Any) -> None:
    """Let nothing through that follows a session which failed in its flush."""
    record.info.pop(_LET_THROUGH, None)


def _guard(connection: Connection, _cursor: Any, statement: str, *_rest: Any) -> None:
    """Refuse a statement that would change rows without a journal row."""
    if _CHANGES_ROWS.match(statement) and not connection.info.get(_LET_THROUGH):
        raise DaybookError(
            "A statement was to change rows of the daybook without the journal: "
            f"{' '.join(statement.split())[:60]}.",
            "Change items in a session of Daybook.writing.",
        )
