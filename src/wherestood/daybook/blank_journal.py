"""Take what is withdrawn out of the journal's rows."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from sqlalchemy import ColumnElement, select, true, update
from sqlalchemy.orm import Session

from wherestood.daybook.act import WITHDRAWING
from wherestood.daybook.connection import writing_by_flush
from wherestood.daybook.falling import redacted, stub_columns, stub_of
from wherestood.daybook.may_hold import may_hold
from wherestood.daybook.other_forms import OtherForms
from wherestood.daybook.redact import STUB, Needles
from wherestood.daybook.seal import note_resealing, resealed_from
from wherestood.daybook.tables import Item, JournalRow

__all__ = ["acts_that_still_hold", "blank_journal"]

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

    All rows from the first of these on are sealed anew, and a row tells that
    (`wherestood.daybook.seal`).

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
    blanked = _Blanked(session, falling, quoting, needles, everywhere=everywhere)
    wanted: ColumnElement[bool] = JournalRow.item_id.in_(
        [*blanked.stubs, *blanked.repeating]
    )
    wanted |= JournalRow.act.in_(blanked.acts)
    if everywhere:
        wanted |= may_hold(_TEXTS, runs) if runs is not None else true()
    chosen = select(JournalRow).where(wanted).order_by(JournalRow.number)
    changes = []
    for row in session.scalars(chosen.execution_options(yield_per=_AT_ONCE)):
        blank = blanked.of(row)
        if blank != (row.before, row.after, row.why, row.person):
            changes.append((row.number, *blank))
        session.expunge(row)
    connection = session.connection()
    writing_by_flush(connection, True)
    for number, before, after, why, person in changes:
        values = {"before": before, "after": after, "why": why, "person": person}
        where = JournalRow.number == number
        # What it was sealed as elsewhere, it is no more.
        without = (
            update(JournalRow).where(where).values(**values, sealed_elsewhere=None)
        )
        connection.execute(without)
    writing_by_flush(connection, False)
    if changes:
        note_resealing(session, changes[0][0], len(changes))
        writing_by_flush(connection, True)
        resealed_from(connection, changes[0][0])
        writing_by_flush(connection, False)
    return len(changes)


def acts_that_still_hold(
    session: Session,
    falling: Collection[Item],
    quoting: Collection[Item],
    needles: Needles,
    *,
    everywhere: bool,
    forms: OtherForms,
) -> dict[str, set[str]]:
    """Return acts whose reason or values hold other forms, once words are taken out.

    Parameters
    ----------
    session, falling, quoting, needles, everywhere
        As for `blank_journal`, which need not have run.
    forms : OtherForms
        What is looked for.
    """
    blanked = _Blanked(session, falling, quoting, needles, everywhere=everywhere)
    chosen = select(JournalRow).order_by(JournalRow.number)
    if forms.runs is not None:
        chosen = chosen.where(may_hold(_TEXTS, forms.runs))
    found: dict[str, set[str]] = {}
    if not forms.words:
        return found
    for row in session.scalars(chosen.execution_options(yield_per=_AT_ONCE)):
        before, after, why, _ = blanked.of(row)
        sides = [
            {name: side[name] for name in stub_columns(row.table_name) if name in side}
            for side in (before, after)
            if side is not None
        ]
        if held := forms.found_in([*sides, why]):
            found.setdefault(row.act, set()).update(held)
        session.expunge(row)
    return found


class _Blanked:
    """Tell what a withdrawal leaves of rows of the journal."""

    def __init__(
        self,
        session: Session,
        falling: Collection[Item],
        quoting: Collection[Item],
        needles: Needles,
        *,
        everywhere: bool,
    ) -> None:
        self.stubs = {
            item.id: stub_of(item.__tablename__, vars(item)) for item in falling
        }
        self.repeating = {item.id for item in quoting}
        self.acts = _acts(session, self.stubs)
        self.needles = needles
        self.everywhere = everywhere

    def of(self, row: JournalRow) -> tuple[Any, Any, str, str]:
        """Return what is left: both sides, the reason, and who."""
        needles = self.needles
        sides = [row.before, row.after]
        if row.item_id in self.stubs:
            sides = [_stub_of(side, self.stubs[row.item_id]) for side in sides]
        elif row.item_id in self.repeating or self.everywhere:
            sides = [_without(row.table_name, side, needles) for side in sides]
        why = row.why
        if row.action not in WITHDRAWING:
            if row.why and self.acts.get(row.act):
                why = STUB
            elif (
                self.everywhere
                or row.act in self.acts
                or (row.item_id in self.repeating)
            ):
                why = needles.taken_out_of(row.why)
        person = needles.taken_out_of(row.person) if self.everywhere else row.person
        return sides[0], sides[1], why, person


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
