"""Keep the keys of two copies apart, where each gave one to another item.

Whichever copy takes in the other, the same item keeps the key: the one whose key a
merge kept before, then the one that had it first. So copies that merge crosswise, or
back, come to the same keys, and a key that was kept once is kept for good.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from wherestood.daybook.handover.diverged import Row, Sides
from wherestood.daybook.handover.said_first import SaidFirst
from wherestood.daybook.keys import next_letter
from wherestood.daybook.tables import ITEMS, OnPlate

__all__ = ["Renamed", "keep_keys_apart"]

Item = tuple[str, str]
_NUMBERED = re.compile(r"^(.*?)(\d+)$")
_SECOND = re.compile(r"^(.+) \(\d+\)$")


@dataclass(frozen=True)
class Renamed:
    """Hold an item that has another key now.

    Attributes
    ----------
    table, item_id : str
        The item.
    before, after : str
        Its key, in the copy that it comes from.
    clash : bool
        True where people chose both keys: they may mean the same thing.
    ours : bool
        Whether it was here before.
    """

    table: str
    item_id: str
    before: str
    after: str
    clash: bool
    ours: bool = False


def keep_keys_apart(sides: Sides, final: dict[Item, Row]) -> list[Renamed]:
    """Give new keys where both copies gave one to two items; change `final` in place.

    Keys that the daybook itself gave (``lead-3``, a detail's letter) get the next
    number or letter; one that a person chose gets ``(2)`` after it.
    """
    said = SaidFirst(sides)
    chosen: set[Item] = set()
    for table, kind in ITEMS.items():
        here = sides.ours.items.get(table, {})
        rows = {**here, **{i: row for (name, i), row in final.items() if name == table}}
        holders: dict[str | None, dict[str, list[str]]] = {}
        for item_id, row in rows.items():
            if "key" in row:
                home = row["plate_id"] if issubclass(kind, OnPlate) else None
                holders.setdefault(home, {}).setdefault(row["key"], []).append(item_id)
        for home, keys in holders.items():
            taken = set(keys)
            for key, ids in sorted(keys.items()):
                if len(ids) < 2:
                    continue
                for item_id in sorted(ids, key=_first(said, table, home, key))[1:]:
                    item = (table, item_id)
                    other, clash = _other_key(table, kind.singular, key, taken)
                    taken.add(other)
                    final[item] = {**rows[item_id], "key": other}
                    if clash:
                        chosen.add(item)
    return list(_renamed(sides, final, chosen))


def _first(
    said: SaidFirst, table: str, home: str | None, key: str
) -> Callable[[str], tuple[bool, tuple[str, str]]]:
    """Return by what the holders of one key are put in order."""

    def order(item_id: str) -> tuple[bool, tuple[str, str]]:
        item = (table, item_id)
        kept = said.kept(item, home, key)
        return not kept, said.when(item, "key", key)

    return order


def _renamed(
    sides: Sides, final: Mapping[Item, Row], chosen: set[Item]
) -> Iterator[Renamed]:
    """List whose key is another one than in the copy that it comes from."""
    for item, row in final.items():
        table, item_id = item
        old = sides.ours.items[table].get(item_id)
        was = old or sides.theirs.items[table][item_id]
        if "key" in row and row["key"] != was["key"]:
            yield Renamed(
                table, item_id, was["key"], row["key"], item in chosen, old is not None
            )


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
    second = _SECOND.match(key)
    stem = second.group(1) if second is not None and second.group(1) in taken else key
    number = 2
    while f"{stem} ({number})" in taken:
        number += 1
    return f"{stem} ({number})", True
