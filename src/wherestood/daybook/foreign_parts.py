"""Find what the database of a daybook holds that none has: triggers, further tables.

A trigger that came with somebody's bag would change rows whenever another is written,
and a further table would carry along what no withdrawal looks into.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

from wherestood.daybook.tables import Base

__all__ = ["foreign_parts"]


def foreign_parts(raw: sqlite3.Connection) -> Iterator[str]:
    """Name what a SQLite file holds beside a daybook's tables and their indexes."""
    tables = {*Base.metadata.tables, "alembic_version"}
    indexes = {
        str(one.name)
        for table in Base.metadata.tables.values()
        for one in table.indexes
    }
    of_kind = {"table": tables, "index": indexes}
    told = raw.execute("SELECT type, name, sql FROM sqlite_master ORDER BY name")
    for kind, name, sql in told.fetchall():
        if name.startswith("sqlite_"):
            continue  # SQLite's own: no one else can make these
        virtual = kind == "table" and "VIRTUAL" in str(sql).upper().split()[:2]
        if name not in of_kind.get(kind, ()) or virtual:
            yield f"the {kind} {name!r}"
