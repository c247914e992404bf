"""Settle what each item is after a merge, and list what both sides want."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Set
from dataclasses import dataclass
from typing import Any

from wherestood.daybook.act import WITHDRAWING
from wherestood.daybook.handover.both import (
    Conflict,
    both_decided,
    keep_a_main_scan,
    one_main_scan,
)
from wherestood.daybook.handover.diverged import Row, Sides
from wherestood.daybook.handover.kept_out import KeptOut, called, links
from wherestood.daybook.handover.said_first import SaidFirst

__all__ = ["Conflict", "Settled", "settle"]

Item = tuple[str, str]


@dataclass
class Settled:
    """Hold what is to be done.

    Attributes
    ----------
    rows : list of dict
        Their journal rows, to follow ours as they are.
    final : dict of item to dict
        Each item that they touched, as it shall be.
    conflicts : list of Conflict
        What both wanted.
    to_withdraw : list of item
        Items that they withdrew and we have.
    left_out : int
        Their changes to items that we withdrew: content of these does not come back.
    """

    rows: list[Row]
    final: dict[Item, Row]
    conflicts: list[Conflict]
    to_withdraw: list[Item]
    left_out: int


def settle(sides: Sides, kept_out: KeptOut) -> Settled:
    """Settle each item that they touched, but for what does not come.

    A column that one side changed is as that side has it. Where both changed it, ours
    is kept and the difference listed, unless it was listed in an earlier merge: then
    what was said first stands. What one side set aside while the other worked on it
    stays, and is listed too. What either withdrew is withdrawn.
    """
    said = SaidFirst(sides)
    ours, theirs = sides.ours, sides.theirs
    gone_here, gone_there = ours.withdrawn(), theirs.withdrawn()
    here = {(table, key) for table, rows in ours.items.items() for key in rows}
    not_coming = kept_out.items | gone_here
    skipped = not_coming | (gone_there & here)
    rows = [row for row in theirs.since if _item(row) not in skipped]
    left_out = sum(
        _item(row) in not_coming and row["action"] not in WITHDRAWING
        for row in theirs.since
    )
    final: dict[Item, Row] = {}
    conflicts: list[Conflict] = []
    worked_on = ours.worked_on(), theirs.worked_on()
    for item in dict.fromkeys(_item(row) for row in rows):
        table, item_id = item
        new = theirs.items[table][item_id]
        old = ours.items[table].get(item_id)
        if old is None:
            final[item] = dict(new)
            continue
        wanted = theirs.changed.get(item, set())
        both = wanted & ours.changed.get(item, set())
        differ = sorted(column for column in both if old[column] != new[column])
        stand = {column: said.settled(item, column) for column in differ}
        wanted = {column for column in wanted if stand.get(column) != "ours"}
        differ = [column for column in differ if stand[column] is None]
        differ += _set_aside(item, sides, worked_on)
        final[item] = {**old, **{c: new[c] for c in wanted if c not in differ}}
        if "removed" in differ:
            final[item]["removed"] = False
        conflicts += [
            Conflict(table, item_id, called(ours.items, item), c, old[c], new[c])
            for c in dict.fromkeys(differ)
        ]
    _let_go(final, not_coming - here)
    conflicts += one_main_scan(sides, final)
    keep_a_main_scan(sides, final, said)
    conflicts += both_decided(sides, final)
    to_withdraw = sorted((gone_there & here) - gone_here)
    return Settled(rows, final, conflicts, to_withdraw, left_out)


def _let_go(final: dict[Item, Row], missing: Set[Item]) -> None:
    """Empty references to what does not come."""
    for (table, _), row in final.items():
        for column, link, _required in links(table):
            if (link, row.get(column)) in missing:
                row[column] = None


def _set_aside(
    item: Item, sides: Sides, worked_on: tuple[set[str], set[str]]
) -> Iterator[str]:
    """Give ``removed`` where one side set an item aside and the other worked on it."""
    table, item_id = item
    old, new = (side.items[table][item_id] for side in (sides.ours, sides.theirs))
    mine = sides.ours.changed.get(item, set())
    other = sides.theirs.changed.get(item, set())
    if old["removed"] == new["removed"]:
        return
    their_work = other - {"removed"} or item_id in worked_on[1]
    our_work = mine - {"removed"} or item_id in worked_on[0]
    here = "removed" in mine and old["removed"] and their_work
    there = "removed" in other and new["removed"] and our_work
    if here or there:
        yield "removed"


def _item(row: Mapping[str, Any]) -> Item:
    return row["table_name"], row["item_id"]
