"""Keep the keys of two copies apart, where each gave one to another item."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from wherestood.daybook.handover.diverged import Row
from wherestood.daybook.keys import next_letter
from wherestood.daybook.tables import ITEMS, OnPlate

__all__ = ["Renamed", "keep_keys_apart"]

Item = tuple[str, str]
_NUMBERED = re.compile(r"^(.*?)(\d+)$")
#: Columns that name other items by their keys rather than refer to their ids.
_NAMING = ("content", "derived_from", "features", "more", "stands_with")


@dataclass(frozen=True)
class Renamed:
    """Hold an item of theirs that has another key now.

    Attributes
    ----------
    table, item_id : str
        The item.
    before, after : str
        Its key.
    clash : bool
        True where people chose both keys: they may mean the same thing.
    """

    table: str
    item_id: str
    before: str
    after: str
    clash: bool


def keep_keys_apart(
    ours: Mapping[str, Mapping[str, Row]], final: dict[Item, Row]
) -> list[Renamed]:
    """Give new keys to items of theirs whose keys ours has; change `final` in place.

    Keys that the daybook itself gave (``lead-3``, a detail's letter) get the next
    number or letter; one that a person chose gets ``(2)`` after it. What names these
    items by their keys names them by the new ones.
    """
    renamed: list[Renamed] = []
    for table, kind in ITEMS.items():
        taken: dict[str | None, dict[str, str]] = {}
        for item_id, row in ours.get(table, {}).items():
            home = row["plate_id"] if issubclass(kind, OnPlate) else None
            if (table, item_id) not in final:
                taken.setdefault(home, {})[row["key"]] = item_id
        # Those that are here keep their keys before those that come.
        known = ours.get(table, {})
        rows = [
            (item_id, row) for (name, item_id), row in final.items() if name == table
        ]
        for item_id, row in sorted(rows, key=lambda one: one[0] not in known):
            if "key" not in row:
                continue
            home = row["plate_id"] if issubclass(kind, OnPlate) else None
            there = taken.setdefault(home, {})
            if there.get(row["key"], item_id) != item_id:
                key, clash = _other_key(table, kind.singular, row["key"], set(there))
                renamed.append(Renamed(table, item_id, row["key"], key, clash))
                row["key"] = key
            there[row["key"]] = item_id
    _name_by_new_keys(ours, final, renamed)
    return renamed


def _other_key(
    table: str, singular: str, key: str, taken: set[str]
) -> tuple[str, bool]:
    """Return a key that nothing has, and whether a person chose the old one."""
    if table == "details" and key.isalpha() and key.isupper():
        return next_letter(taken), False
    found = _NUMBERED.match(key)
    given = table in ("scans", "marks", "evidence") or (
        found is not None and found.group(1) == f"{singular.split()[0]}-"
    )
    if given and found is not None:
        number = int(found.group(2))
        while f"{found.group(1)}{number}" in taken:
            number += 1
        return f"{found.group(1)}{number}", False
    number = 2
    while f"{key} ({number})" in taken:
        number += 1
    return f"{key} ({number})", True


def _name_by_new_keys(
    ours: Mapping[str, Mapping[str, Row]],
    final: dict[Item, Row],
    renamed: list[Renamed],
) -> None:
    """Let what came with a renamed item name it by its new key."""
    everywhere = {one.before: one.after for one in renamed if one.table == "features"}
    by_plate: dict[str, dict[str, str]] = {}
    for one in renamed:
        plate = final[one.table, one.item_id].get("plate_id")
        if plate is not None and one.table in ("marks", "evidence", "statements"):
            by_plate.setdefault(plate, {})[one.before] = one.after
    for (table, item_id), row in final.items():
        here = ours.get(table, {}).get(item_id)
        keys = everywhere | by_plate.get(str(row.get("plate_id")), {})
        for column in _NAMING:
            # What stands here as it did names what it always named.
            theirs = here is None or row.get(column) != here.get(column)
            if keys and theirs and row.get(column) is not None:
                row[column] = _spelt(row[column], keys)


def _spelt(value: Any, keys: Mapping[str, str]) -> Any:
    if isinstance(value, str):
        return keys.get(value, value)
    if isinstance(value, list):
        return [_spelt(part, keys) for part in value]
    if isinstance(value, dict):
        return {name: _spelt(part, keys) for name, part in value.items()}
    return value
