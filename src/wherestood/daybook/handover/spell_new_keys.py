"""Let what names items by their keys name them by those that they have after a merge.

Evidence is kept in the words of the evidence file, which calls features and marks by
key; all else refers to ids.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from wherestood.daybook.handover.diverged import Row, Side, Sides
from wherestood.daybook.handover.settle import Settled

__all__ = ["name_by_new_keys"]

Item = tuple[str, str]
#: Columns that name other items by their keys rather than refer to their ids.
_NAMING = ("content", "derived_from", "features", "more", "stands_with")
_ON_PLATES = ("marks", "evidence", "statements")
_NOTHING: Mapping[str, str] = {}


class _NewKeys:
    """Hold by which keys one copy called items, and what these are called now."""

    def __init__(self, side: Side, rows: Mapping[Item, Row]) -> None:
        self.everywhere: dict[str, str] = {}
        self.by_plate: dict[str, dict[str, str]] = {}
        for table in ("features", *_ON_PLATES):
            for item_id, was in side.items[table].items():
                now = rows.get((table, item_id))
                if now is None or now["key"] == was["key"]:
                    continue
                if table == "features":
                    self.everywhere[was["key"]] = now["key"]
                elif plate := now.get("plate_id"):
                    self.by_plate.setdefault(plate, {})[was["key"]] = now["key"]

    def __bool__(self) -> bool:
        return bool(self.everywhere or self.by_plate)

    def spelt(self, row: Row, value: Any) -> Any:
        """Return a column's value of a row as it is spelt now."""
        own = self.by_plate.get(str(row.get("plate_id")), _NOTHING)
        keys = {**self.everywhere, **own}
        return _spelt(value, keys) if keys else value


def name_by_new_keys(sides: Sides, settled: Settled) -> None:
    """Spell what came of either copy by the new keys; change `settled` in place.

    What differs in the keys alone is no conflict.
    """
    final = settled.final
    here = {
        (table, item_id): row
        for table, rows in sides.ours.items.items()
        for item_id, row in rows.items()
    }
    rows = here | final
    ours, theirs = _NewKeys(sides.ours, rows), _NewKeys(sides.theirs, rows)
    if not (ours or theirs):
        return
    for item, row in rows.items():
        spelt = {}
        for column in _NAMING:
            value = row.get(column)
            if value is None:
                continue
            old = here.get(item)
            # What stands here as it did names what it always named here.
            by = ours if old is not None and value == old.get(column) else theirs
            spelt[column] = by.spelt(row, value)
        if any(row[column] != value for column, value in spelt.items()):
            final[item] = {**row, **spelt}
    settled.conflicts[:] = [
        one
        for one in settled.conflicts
        if one.column not in _NAMING
        or ours.spelt(rows[one.table, one.item_id], one.ours)
        != theirs.spelt(rows[one.table, one.item_id], one.theirs)
    ]


def _spelt(value: Any, keys: Mapping[str, str]) -> Any:
    if isinstance(value, str):
        return keys.get(value, value)
    if isinstance(value, list):
        return [_spelt(part, keys) for part in value]
    if isinstance(value, dict):
        return {name: _spelt(part, keys) for name, part in value.items()}
    return value
