"""Find what two copies of one daybook did since they parted.

Every journal row has an id that no other has, so rows that both have were written
before they parted, and the others after.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, select
from sqlalchemy.orm import Session

from wherestood.daybook.replay import table_rows
from wherestood.daybook.seal import SEALS
from wherestood.daybook.tables import ITEMS, JournalRow
from wherestood.errors import InputError

__all__ = ["AFTER", "MERGES", "Side", "Sides", "read_sides"]

Row = dict[str, Any]
#: Changed by every writing, and so never a matter of opinion.
BOOKKEEPING = frozenset({"revision"})
#: Under this a row keeps which seal it followed in its copy; None where it was changed
#: on the way here.
AFTER = "follows"
#: The setting that counts the merges of one copy; it stays with that copy.
MERGES = "merges"
#: Settings that tell of one copy's journal, and are no matter of another's.
_OWN = frozenset({MERGES, SEALS})


@dataclass
class Side:
    """Hold one copy.

    Attributes
    ----------
    items : dict of str to dict of str to dict
        Rows by id, by table.
    journal : list of dict
        Its journal, in order.
    since : list of dict
        The rows written after they parted.
    changed : dict of (table, id) to set of str
        Columns changed after they parted, of items that were there before.
    added : set of (table, id)
        Items added after they parted.
    """

    items: dict[str, dict[str, Row]]
    journal: list[Row]
    since: list[Row] = field(default_factory=list)
    changed: dict[tuple[str, str], set[str]] = field(default_factory=dict)
    added: set[tuple[str, str]] = field(default_factory=set)

    def worked_on(self) -> set[str]:
        """Return ids of items under or about which something came or changed."""
        return {
            str(row[column])
            for table, item_id in [*self.added, *self.changed]
            if (row := self.items[table].get(item_id)) is not None
            for column in ("plate_id", "about_id")
            if row.get(column) and not row["removed"]
        }

    def withdrawn(self) -> set[tuple[str, str]]:
        """Return the items whose content was taken out for good."""
        return {
            (table, item_id)
            for table, rows in self.items.items()
            for item_id, row in rows.items()
            if row["withdrawn"]
        }


@dataclass(frozen=True)
class Sides:
    """Hold both copies; `shared` is how many journal rows they have in common."""

    ours: Side
    theirs: Side
    shared: int


def read_sides(ours: Session, theirs: Session, *, unrelated: bool) -> Sides:
    """Read both copies, and tell what either did since they parted.

    Raises
    ------
    InputError
        If the other is empty, or they have no journal row in common, unless that is
        expected.
    """
    one, other = _side(ours), _side(theirs)
    own = {row["uid"] for row in one.journal}
    others = {row["uid"] for row in other.journal}
    shared = len(own & others)
    if own and not others:
        raise InputError(
            "The other daybook is empty: nobody did anything in it.",
            "Name the folder of the other copy.",
        )
    if not shared and own and others and not unrelated:
        raise InputError(
            "The two daybooks have no act in common: they are not copies of one.",
            "To put everything of the other into this one all the same, say "
            "--unrelated.",
        )
    _tell_since(one, others)
    _tell_since(other, own)
    return Sides(one, other, shared)


def _side(session: Session) -> Side:
    connection: Connection = session.connection()
    items = {name: dict(table_rows(connection, name)) for name in ITEMS}
    own = {key for key, row in items["settings"].items() if row["key"] in _OWN}
    for key in own:
        del items["settings"][key]
    wanted = select(JournalRow.__table__).order_by(JournalRow.number)
    journal: list[Row] = []
    seal = ""
    for row in connection.execute(wanted).mappings():
        if row["item_id"] not in own:
            journal.append({**row, AFTER: seal})
        seal = row["seal"] or ""
    return Side(items, journal)


def _tell_since(side: Side, others: set[str]) -> None:
    for row in side.journal:
        if row["uid"] in others:
            continue
        side.since.append(row)
        item = (row["table_name"], row["item_id"])
        if row["before"] is None:
            side.added.add(item)
        elif item not in side.added:
            columns = set(row["after"] or {}) - BOOKKEEPING
            side.changed.setdefault(item, set()).update(columns)
