"""Load many items at once, so that telling of each asks the database no more.

A session forgets what nobody holds: whoever calls keeps what is returned.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from sqlalchemy import inspect, select
from sqlalchemy.orm import Session

from wherestood.daybook.tables import ITEMS, About, Item

__all__ = ["load_items", "load_referred_to"]

_AT_ONCE = 500  # of the 999 values that old SQLite takes


def load_items(session: Session, wanted: Iterable[tuple[str, str]]) -> list[Item]:
    """Return items by table and id, those that are there."""
    by_table: dict[str, set[str]] = {}
    for table, item_id in wanted:
        by_table.setdefault(table, set()).add(item_id)
    found: list[Item] = []
    for table, ids in by_table.items():
        kind = ITEMS[table]
        ordered = sorted(ids)
        for start in range(0, len(ordered), _AT_ONCE):
            some = kind.id.in_(ordered[start : start + _AT_ONCE])
            found += session.scalars(select(kind).where(some))
    return found


def load_referred_to(session: Session, items: Sequence[Item]) -> list[Item]:
    """Return what items refer to, or are about."""
    wanted: set[tuple[str, str]] = set()
    for item in items:
        for column in inspect(item).mapper.columns:
            table, value = column.info.get("table"), getattr(item, column.key)
            if table is not None and value is not None:
                wanted.add((table, value))
        if isinstance(item, About) and item.about_table in ITEMS:
            wanted.add((item.about_table, item.about_id))
    return load_items(session, wanted)
