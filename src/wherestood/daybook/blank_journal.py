"""Take what is withdrawn out of the journal's rows."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from sqlalchemy import select, true, update
from sqlalchemy.orm import Session

from wherestood.daybook.act import WITHDRAWING
from wherestood.daybook.connection import writing_by_flush
from wherestood.daybook.falling import redacted, stub_columns
from wherestood.daybook.may_hold import may_hold
from wherestood.daybook.redact import STUB, Needles
from wherestood.daybook.tables import Item, JournalRow

__all__ = ["blank_journal"]

_TEXTS = (JournalRow.before, JournalRow.after, JournalRow.why, JournalRow.person)
_AT_ONCE = 1000  # rows held in memory at a time


def blank_journal(
    session: Session,
    falling: Collection[Item],
    quoting: Collection[Item],
    needles: Needles,
    *,
    everywhere: bool,
    runs: list[str] | None,
) -> int:
    """Empty the journal rows that told of what falls; return how many changed.

    Parameters
    ----------
    session : Session
        That withdraws.
    falling, quoting : collection of Item
        What is emptied, and what only repeated its words.
    needles : Needles
        The words.
    everywhere : bool
        Whether they are taken out of all other rows too, and out of the names of
        those who wrote them.
    runs : list of str or None
        Plain runs of the words, as `wherestood.daybook.may_hold.plain_runs` gives
        them: rows without these are not looked at.
    """
    stubs = {item.id: stub_columns(item.__tablename__) for item in falling}
    repeating = {item.id for item in quoting}
    acts = _acts(session, stubs)
    wanted = JournalRow.item_id.in_([*stubs, *repeating]) | JournalRow.act.in_(acts)
    if everywhere:
        wanted |= may_hold(_TEXTS, runs) if runs is not None else true()
    chosen = select(JournalRow).where(wanted).order_by(JournalRow.number)
    changes = []
    for row in session.scalars(chosen.execution_options(yield_per=_AT_ONCE)):
        sides = [row.before, row.after]
        if row.item_id in stubs:
            sides = [_stub_of(side, stubs[row.item_id]) for side in sides]
        elif row.item_id in repeating or everywhere:
            sides = [_without(row.table_name, side, needles) for side in sides]
        why = STUB if row.why and acts.get(row.act) else needles.taken_out_of(row.why)
        if row.action in WITHDRAWING:
            why = row.why
        person = needles.taken_out_of(row.person) if everywhere else row.person
        as_it_was = (row.before, row.after, row.why, row.person)
        if (sides[0], sides[1], why, person) != as_it_was:
            changes.append((row.number, sides[0], sides[1], why, person))
        session.expunge(row)
    connection = session.connection()
    writing_by_flush(connection, True)
    for number, before, after, why, person in changes:
        values = {"before": before, "after": after, "why": why, "person": person}
        where = JournalRow.number == number
        connection.execute(update(JournalRow).where(where).values(**values))
    writing_by_flush(connection, False)
    return len(changes)


def _acts(session: Session, stubs: Collection[str]) -> dict[str, bool]:
    """Return the acts that touched what falls, and whether nothing else was in them."""
    mine = select(JournalRow.act).where(JournalRow.item_id.in_(stubs))
    rows = session.execute(
        select(JournalRow.act, JournalRow.item_id).where(JournalRow.act.in_(mine))
    )
    alone: dict[str, bool] = {}
    for act, item_id in rows:
        alone[act] = alone.get(act, True) and item_id in stubs
    return alone


def _stub_of(
    side: dict[str, Any] | None, stub: Mapping[str, Any]
) -> dict[str, Any] | None:
    if side is None:
        return None
    return {name: stub.get(name, value) for name, value in side.items()}


def _without(
    table: str, side: dict[str, Any] | None, needles: Needles
) -> dict[str, Any] | None:
    return None if side is None else {**side, **redacted(table, side, needles)}
