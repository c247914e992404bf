"""Tell which of two values was said first, by the journals of both copies.

Both copies find the same: what they go by, times and ids of rows, both have.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import Any, Literal

from wherestood.daybook.handover.diverged import Row, Side, Sides

__all__ = ["SaidFirst"]

Item = tuple[str, str]
_Claims = dict[tuple[str, str, str], int]
_Moves = dict[tuple[str, str | None, str], list[tuple[str, int]]]
_LATER = ("~", "~")  # after every time


class SaidFirst:
    """Look up in the journals of two copies what was said when.

    Parameters
    ----------
    sides : Sides
        The copies.
    """

    def __init__(self, sides: Sides) -> None:
        self._sides = sides

    @cached_property
    def _rows(self) -> Mapping[Item, list[Row]]:
        rows: dict[Item, list[Row]] = {}
        for row in (*self._sides.ours.journal, *self._sides.theirs.journal):
            rows.setdefault((row["table_name"], row["item_id"]), []).append(row)
        return rows

    def when(self, item: Item, column: str, value: Any) -> tuple[str, str]:
        """Return when a column first had a value: the time, and the item's id."""
        times = (
            row["time"]
            for row in self._rows.get(item, ())
            if column in (row["after"] or {}) and row["after"][column] == value
        )
        time = min(times, default=None)
        return _LATER if time is None else (time, item[1])

    def kept(self, item: Item, home: str | None, key: str) -> bool:
        """Tell whether an earlier merge let an item keep a key, and moved another."""
        return any(
            moved != item[1] and claims.get((*item, key), number) < number
            for claims, moves in self._keys
            for moved, number in moves.get((item[0], home, key), ())
        )

    @cached_property
    def _keys(self) -> list[tuple[_Claims, _Moves]]:
        """Return by journal where items came by keys, and where merges moved them."""
        found: list[tuple[_Claims, _Moves]] = []
        for side in (self._sides.ours, self._sides.theirs):
            claims: _Claims = {}
            moves: _Moves = {}
            for number, row in enumerate(side.journal):
                table, item_id = row["table_name"], row["item_id"]
                if "key" not in (row["after"] or {}):
                    continue
                claims.setdefault((table, item_id, row["after"]["key"]), number)
                if row["action"] == "merge" and row["before"]:
                    for home in (None, row["plate_id"]):
                        left = (table, home, row["before"]["key"])
                        moves.setdefault(left, []).append((item_id, number))
            found.append((claims, moves))
        return found

    def settled(self, item: Item, column: str) -> Literal["ours", "theirs"] | None:
        """Tell which of two values stands, where that is not for a person to say.

        What merges alone wrote on both sides was settled before, not alike, and a
        person was told then: now what was said first stands, in every copy. A key
        that a person gave stands before one that a merge gave.
        """
        ours, theirs = self._sides.ours, self._sides.theirs
        mine, other = (_merged_only(side, item, column) for side in (ours, theirs))
        if mine and other:
            old, new = (
                (self.when(item, column, value), repr(value))
                for value in (
                    ours.items[item[0]][item[1]][column],
                    theirs.items[item[0]][item[1]][column],
                )
            )
            return "theirs" if new < old else "ours"
        if column == "key" and mine != other:
            return "theirs" if mine else "ours"
        return None


def _merged_only(side: Side, item: Item, column: str) -> bool:
    return all(
        row["action"] == "merge"
        for row in side.since
        if (row["table_name"], row["item_id"]) == item
        and column in (row["after"] or {})
    )
