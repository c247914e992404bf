"""Settle what each item is after a merge, and list what both sides want."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from wherestood.daybook.handover.diverged import Row, Sides
from wherestood.daybook.tables import Base

__all__ = ["Conflict", "Settled", "settle"]

Item = tuple[str, str]


@dataclass(frozen=True)
class Conflict:
    """Hold one thing that both sides changed, each in its own way.

    Attributes
    ----------
    table, item_id : str
        The item.
    called : str
        What a person calls it.
    column : str
        Which of its columns.
    ours, theirs : object
        What either side has; ours is kept, theirs stays in the journal and in a note.
    """

    table: str
    item_id: str
    called: str
    column: str
    ours: Any
    theirs: Any

    def as_json(self) -> dict[str, Any]:
        """Return it as a JSON record."""
        return {
            "table": self.table,
            "item": self.called,
            "column": self.column,
            "kept": self.ours,
            "theirs": self.theirs,
        }


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


def settle(sides: Sides) -> Settled:
    """Settle each item that they touched.

    A column that one side changed is as that side has it. Where both changed it, ours
    is kept and the difference listed. What one side set aside while the other worked
    on it stays, and is listed too. What either withdrew is withdrawn.
    """
    ours, theirs = sides.ours, sides.theirs
    gone_here, gone_there = ours.withdrawn(), theirs.withdrawn()
    here = {(table, key) for table, rows in ours.items.items() for key in rows}
    not_coming = gone_here | _falling(sides, gone_here)
    skipped = not_coming | (gone_there & here)
    rows = [row for row in theirs.since if _item(row) not in skipped]
    left_out = sum(_item(row) in not_coming for row in theirs.since)
    final: dict[Item, Row] = {}
    conflicts: list[Conflict] = []
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
        differ += _set_aside(item, sides)
        final[item] = {**old, **{c: new[c] for c in wanted if c not in differ}}
        if "removed" in differ:
            final[item]["removed"] = False
        conflicts += [
            Conflict(table, item_id, _called(ours.items, item), c, old[c], new[c])
            for c in dict.fromkeys(differ)
        ]
    _let_go(final, not_coming - here)
    to_withdraw = sorted((gone_there & here) - gone_here)
    return Settled(rows, final, conflicts, to_withdraw, left_out)


def _falling(sides: Sides, gone: set[Item]) -> set[Item]:
    """Return what they added that falls with something withdrawn here."""
    falling: set[Item] = set()
    while True:
        fallen = gone | falling
        more = {
            (table, item_id)
            for table, item_id in sides.theirs.added - falling
            if any(
                (link, sides.theirs.items[table][item_id].get(column)) in fallen
                for column, link, required in _links(table)
                if required or column == "plate_id"
            )
        }
        if not more:
            return falling
        falling |= more


def _let_go(final: dict[Item, Row], missing: set[Item]) -> None:
    """Empty references to what does not come."""
    for (table, _), row in final.items():
        for column, link, _required in _links(table):
            if (link, row.get(column)) in missing:
                row[column] = None


def _links(table: str) -> list[tuple[str, str, bool]]:
    """Return columns that refer to items, their tables, and whether they must."""
    return [
        (key.parent.name, key.column.table.name, not key.parent.nullable)
        for key in Base.metadata.tables[table].foreign_keys
    ]


def _set_aside(item: Item, sides: Sides) -> Iterator[str]:
    """Give ``removed`` where one side set an item aside and the other changed it."""
    table, item_id = item
    old, new = (side.items[table][item_id] for side in (sides.ours, sides.theirs))
    mine = sides.ours.changed.get(item, set())
    other = sides.theirs.changed.get(item, set())
    if old["removed"] == new["removed"]:
        return
    here = "removed" in mine and old["removed"] and other - {"removed"}
    there = "removed" in other and new["removed"] and mine - {"removed"}
    if here or there:
        yield "removed"


def _item(row: Mapping[str, Any]) -> Item:
    return row["table_name"], row["item_id"]


def _called(items: Mapping[str, Mapping[str, Row]], item: Item) -> str:
    """Return what a person calls an item: its key, after its plate's."""
    table, item_id = item
    row = items[table][item_id]
    key = str(row.get("key") or item_id)
    plate = items["plates"].get(str(row.get("plate_id")))
    on_plate = table in ("scans", "details", "marks", "evidence")
    return f"{plate['key']}/{key}" if plate and on_plate else key
