"""Bring the tables of a daybook up to date, and refuse those of a newer program."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, inspect

from wherestood.daybook.connection import (
    is_sqlite,
    lock_for_writing,
    writing_by_flush,
)
from wherestood.errors import DaybookError

__all__ = ["newest_schema", "schema_of", "upgrade"]

MIGRATIONS = Path(__file__).with_name("migrations")
# The library of migrations holds one connection a process.
_ONE_AT_A_TIME = threading.Lock()


def _config() -> Config:
    config = Config()
    config.set_main_option("script_location", MIGRATIONS.as_posix().replace("%", "%%"))
    return config


@cache
def newest_schema() -> int:
    """Return the number of the newest schema this program knows."""
    head = ScriptDirectory.from_config(_config()).get_current_head()
    assert head is not None
    return int(head)


def schema_of(connection: Connection) -> int:
    """Return the number of a database's schema; 0 where it has no tables yet.

    Raises
    ------
    DaybookError
        If it is no daybook, or one of a newer program.
    """
    current = MigrationContext.configure(connection).get_current_revision()
    if current is None:
        others = inspect(connection).get_table_names()
        if others:
            raise DaybookError(
                "The database is no daybook: it holds the table "
                f"{sorted(others)[0]!r} and no schema number.",
                "Name the folder of a daybook, or an empty one.",
            )
        return 0
    newest = newest_schema()
    number = int(current) if current.isdecimal() else newest + 1
    if number > newest:
        raise DaybookError(
            f"The daybook was made by a newer version of wherestood (schema {current}; "
            f"this version knows up to {newest}). Nothing was changed.",
            "Install the newer version to open it.",
        )
    return number


def upgrade(engine: Engine) -> tuple[int, int]:
    """Bring the tables up to date in one transaction; return from and to.

    Raises
    ------
    DaybookError
        If the database is no daybook, or one of a newer program.
    """
    with engine.connect() as connection:
        before = schema_of(connection)
    newest = newest_schema()
    if before == newest:
        return before, newest
    writer = engine.execution_options(wherestood_writes=True)
    with (
        writer.connect() as connection,
        _without_foreign_keys(connection),
        connection.begin(),
    ):
        lock_for_writing(connection)
        writing_by_flush(connection, True)
        # Another process may have done it meanwhile.
        if schema_of(connection) < newest:
            config = _config()
            config.attributes["connection"] = connection
            with _ONE_AT_A_TIME:
                command.upgrade(config, "head")
        writing_by_flush(connection, False)
    return before, newest


@contextmanager
def _without_foreign_keys(connection: Connection) -> Iterator[None]:
    """Let SQLite's tables be rebuilt, which its references would prevent."""
    if not is_sqlite(connection):
        yield
        return
    raw = connection.connection.driver_connection
    assert raw is not None
    raw.execute("PRAGMA foreign_keys = OFF")
    try:
        yield
    finally:
        raw.execute("PRAGMA foreign_keys = ON")
