"""Keep out of a merge what was withdrawn here, and the words that repeat it.

This copy knows no more what it withdrew; theirs may still hold it, and so tells which
words must not come.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from wherestood.daybook.falling import (
    falls_by,
    own_words,
    redacted,
    stands_without,
    stub_columns,
    words_in,
)
from wherestood.daybook.handover.diverged import AFTER, Row, Side, Sides
from wherestood.daybook.handover.words_gone import words_gone
from wherestood.daybook.redact import STUB, Needles
from wherestood.daybook.tables import ITEMS, About, Base

__all__ = [
    "KeptOut",
    "called",
    "keep_out",
    "leaned_on",
    "links",
    "same_files",
    "was_everywhere",
]

Item = tuple[str, str]


@dataclass(frozen=True)
class KeptOut:
    """Say what does not come.

    Attributes
    ----------
    items : frozenset of item
        Withdrawn here, or falling with what was.
    still_held : tuple of str
        What was withdrawn here and is whole in the other copy.
    same_files : tuple of str
        Their scans whose file is, byte for byte, one that was withdrawn here.
    redacted : tuple of str
        Items of theirs out of which the same words were taken.
    still_in : tuple of str
        Items of theirs that come and repeat the words.
    """

    items: frozenset[Item]
    still_held: tuple[str, ...] = ()
    same_files: tuple[str, ...] = ()
    redacted: tuple[str, ...] = ()
    still_in: tuple[str, ...] = ()

    def as_json(self) -> dict[str, list[str]]:
        """Return what a person is told, as a JSON record."""
        return {
            "still_held": list(self.still_held),
            "same_files": list(self.same_files),
            "redacted": list(self.redacted),
            "still_in": list(self.still_in),
        }


def keep_out(sides: Sides) -> KeptOut:
    """Find what does not come, and take its words out of what does, in place.

    What was withdrawn with its words everywhere takes them out of all that comes,
    otherwise out of fixes that rest on it.
    """
    ours, theirs = sides.ours, sides.theirs
    gone = ours.withdrawn()
    files = _same_files(ours, theirs)
    items = frozenset(gone | _falling(theirs, gone | files))
    held = {item for item in items if _is_whole(theirs, item)} - files
    words = _words_of(sides, held)
    wide = {item for item in gone & held if was_everywhere(ours, item)}
    later = words_gone(theirs, ours)
    of_all = _words_of(sides, held if wide == held & gone else wide)
    all_words, everywhere = Needles(words | later), Needles(of_all | later)
    taken_out = bool(held or later)
    resting = {
        ("fixes", row["fix_id"])
        for row in theirs.items["fix_inputs"].values()
        if (row["item_table"], row["item_id"]) in items
    }
    acts = {row["act"] for row in theirs.journal if _item(row) in items}
    coming = dict.fromkeys(_item(row) for row in theirs.since)
    emptied, still = [], []
    for table, item_id in coming if taken_out else ():
        item = (table, item_id)
        if item in items:
            continue
        row = theirs.items[table][item_id]
        needles = all_words if item in resting else everywhere
        without = redacted(table, row, needles)
        if without:
            theirs.items[table][item_id] = row = {**row, **without}
            emptied.append(called(theirs.items, item))
        if any(all_words.stand_in(row[column]) for column in stub_columns(table)):
            still.append(called(theirs.items, item))
    if taken_out:
        theirs.since[:] = [
            _row_without(
                row,
                all_words if _item(row) in resting else everywhere,
                all_words if row["act"] in acts else everywhere,
                everywhere,
            )
            for row in theirs.since
        ]
    return KeptOut(
        items,
        tuple(sorted(called(theirs.items, item) for item in held & gone)),
        tuple(sorted(called(theirs.items, item) for item in files)),
        tuple(emptied),
        tuple(still),
    )


def was_everywhere(side: Side, item: Item) -> bool:
    """Tell whether an item was withdrawn with its words, wherever they stood."""
    return any(
        row["action"] == "withdraw all" and _item(row) == item for row in side.journal
    )


def links(table: str) -> list[tuple[str, str, bool]]:
    """Return columns that refer to items, their tables, and whether they must."""
    return [
        (key.parent.name, key.column.table.name, not key.parent.nullable)
        for key in Base.metadata.tables[table].foreign_keys
    ]


def called(items: Mapping[str, Mapping[str, Row]], item: Item) -> str:
    """Return what a person calls an item: its key, after its plate's."""
    table, item_id = item
    row = items[table][item_id]
    key = str(row.get("key") or item_id)
    plate = items["plates"].get(str(row.get("plate_id")))
    on_plate = table in ("scans", "details", "marks", "evidence")
    return f"{plate['key']}/{key}" if plate and on_plate else key


def same_files(one: Side, other: Side) -> tuple[str, ...]:
    """Return scans of the other side whose file one withdrew, by address."""
    return tuple(sorted(called(other.items, i) for i in _same_files(one, other)))


def _same_files(ours: Side, theirs: Side) -> set[Item]:
    """Return scans they added whose file is one that was withdrawn here."""
    gone = {
        row["sha256"]
        for row in ours.items["scans"].values()
        if row["withdrawn"] and row["sha256"] != STUB
    }
    return {
        ("scans", item_id)
        for item_id, row in theirs.items["scans"].items()
        if ("scans", item_id) in theirs.added
        and not row["withdrawn"]
        and row["sha256"] in gone
    }


def _falling(theirs: Side, gone: set[Item]) -> set[Item]:
    """Return what they added that falls with something that does not come."""
    falling = gone & theirs.added
    while True:
        fallen = gone | falling
        more = {
            item
            for item in theirs.added - falling
            if any(one in fallen for one in leaned_on(theirs, item))
        }
        if not more:
            return falling
        falling |= more


def leaned_on(side: Side, item: Item) -> Iterator[Item]:
    """Give what an item cannot stay without."""
    table, item_id = item
    row = side.items[table][item_id]
    for column, link in falls_by(table):
        if not stands_without(table, row, column):
            yield link, str(row.get(column))
    for column, link, required in links(table):
        if required:
            yield link, str(row.get(column))
    if issubclass(ITEMS[table], About):
        yield row["about_table"], row["about_id"]


def _is_whole(side: Side, item: Item) -> bool:
    row = side.items[item[0]].get(item[1])
    return row is not None and not row["withdrawn"]


def _words_of(sides: Sides, held: set[Item]) -> set[str]:
    """Return what their copy still holds of items, or held, and no other says too."""
    if not held:
        return set()
    theirs = sides.theirs
    found: set[str] = set()
    for table, item_id in held:
        found |= words_in(table, theirs.items[table][item_id])
    for row in theirs.journal:
        if _item(row) in held:
            for side in (row["before"] or {}, row["after"] or {}):
                found |= words_in(row["table_name"], side)
    others = (
        (table, row)
        for side in (sides.ours, theirs)
        for table, rows in side.items.items()
        for item_id, row in rows.items()
        if (table, item_id) not in held
    )
    return found - own_words({table for table, _ in held}, others)


def _row_without(
    row: Row, needles: Needles, of_why: Needles, of_person: Needles
) -> Row:
    """Return a journal row without the words."""
    sides = {
        name: None
        if row[name] is None
        else {**row[name], **redacted(row["table_name"], row[name], needles)}
        for name in ("before", "after")
    }
    texts = {
        "why": of_why.taken_out_of(row["why"]),
        "person": of_person.taken_out_of(row["person"]),
    }
    changed = {**row, **sides, **texts}
    return row if changed == row else {**changed, AFTER: None}


def _item(row: Mapping[str, Any]) -> Item:
    return row["table_name"], row["item_id"]
