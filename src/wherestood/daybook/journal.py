"""Write a journal row for every change, in the transaction that makes it.

One mechanism does it, for every table: when SQLAlchemy has sent the changes of a
session to the database (``after_flush``), the rows that tell of them follow on the
same connection. What would go round it is refused: statements that change rows
outside a flush (`wherestood.daybook.connection`), and deleting.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from datetime import UTC
from typing import Any, cast

from sqlalchemy import event, insert, inspect
from sqlalchemy.orm import Session, UOWTransaction

from wherestood.daybook.act import WITHDRAWING, Act, Action, Clock, utc_now
from wherestood.daybook.check_items import check_item
from wherestood.daybook.connection import writing_by_flush
from wherestood.daybook.index_words import index_items
from wherestood.daybook.keys import give_keys
from wherestood.daybook.references_by_key import refuse_features_unknown
from wherestood.daybook.seal import sealed
from wherestood.daybook.tables import Item, JournalRow, Mark, Plan
from wherestood.errors import DaybookError

__all__ = ["DaybookSession", "columns_of", "plate_of"]

#: Columns by which a plan lies where it does.
_PINNED_BY = ("pins", "fit", "mirrored")


class DaybookSession(Session):
    """Be a session whose changes are journalled.

    Attributes
    ----------
    act : Act or None
        Who writes, and why; None where the session only reads.
    clock : callable
        Returns the time, UTC.
    """

    act: Act | None = None
    clock: Clock = staticmethod(utc_now)


@event.listens_for(DaybookSession, "before_flush")
def _check(session: DaybookSession, _context: UOWTransaction, _only: Any) -> None:
    """Refuse what may not be written, and give keys to what has none."""
    _move_what_was_traced(session)
    new = session.new  # made anew each time it is asked for
    changed = [*new, *(o for o in session.dirty if session.is_modified(o))]
    if (changed or session.deleted) and session.act is None:
        raise DaybookError("This session only reads, and was asked to write.")
    for thing in session.deleted:
        raise DaybookError(
            f"A {getattr(thing, 'singular', 'row')} was to be deleted; nothing is "
            "deleted from a daybook.",
            "Set it aside: its 'removed' is what tells.",
        )
    give_keys(session, [one for one in new if isinstance(one, Item)])
    for thing in changed:
        if not isinstance(thing, Item):
            raise DaybookError(
                f"A row of {thing.__tablename__!r} was to be written by hand."
            )
        action = session.act.action if session.act is not None else None
        check_item(
            thing,
            added=thing in new,
            withdrawing=action in WITHDRAWING,
            as_before=action in ("undo", "redo"),
        )
        if isinstance(thing, Mark) and action is None:
            refuse_features_unknown(session, thing)
    writing_by_flush(session.connection(), True)


def _move_what_was_traced(session: DaybookSession) -> None:
    """Move what was traced from plans whose pins are changed, whoever changes them."""
    # What is undone or taken out brings its own places along.
    if session.act is None or session.act.action is not None:
        return
    for thing in [*session.new, *session.dirty]:
        if isinstance(thing, Plan) and any(
            inspect(thing).attrs[name].history.has_changes() for name in _PINNED_BY
        ):
            # Loaded where it is needed alone: numerics take a while.
            from wherestood.daybook.plan_traced import follow_pins

            follow_pins(session, thing)


@event.listens_for(DaybookSession, "after_flush")
def _tell(session: DaybookSession, _context: UOWTransaction) -> None:
    """Write the journal rows, and the words by which items are found."""
    act = session.act
    rows: list[dict[str, Any]] = []
    touched: list[Item] = []
    if act is not None:
        time = session.clock().astimezone(UTC).isoformat(timespec="microseconds")
        shared = {
            "act": act.id, "time": time, "person": act.person, "why": act.why,
            "undoes": act.undoes,
        }  # fmt: skip
        for item in _in_order(session.new):
            whole = {k: v for k, v in columns_of(item).items() if v is not None}
            rows.append({**shared, **_row(item, act, None, whole)})
            touched.append(item)
        for item in _in_order(session.dirty):
            before, after = _difference(item)
            if after and act.action in WITHDRAWING:
                before = _without_content(item, before)
            if after:
                rows.append({**shared, **_row(item, act, before, after)})
                touched.append(item)
    if rows:
        connection = session.connection()
        sealed(connection, rows)
        connection.execute(insert(JournalRow), rows)
        index_items(connection, touched)
    writing_by_flush(session.connection(), False)


@event.listens_for(DaybookSession, "after_soft_rollback")
def _close(session: DaybookSession, _previous: Any) -> None:
    """Forget that a flush was going on when it failed."""
    if session.is_active and session.in_transaction():
        writing_by_flush(session.connection(), False)


def _in_order(things: Iterable[object]) -> list[Item]:
    """Return items as they were added, or by table and id."""
    items = [thing for thing in things if isinstance(thing, Item)]
    return sorted(items, key=lambda one: inspect(one).insert_order or 0)


def columns_of(item: Item) -> dict[str, Any]:
    """Return the value of every column of an item, by the column's name."""
    return {
        column.key: getattr(item, column.key)
        for column in inspect(item).mapper.column_attrs
    }


def plate_of(item: Item) -> str | None:
    """Return the id of the plate that an item concerns, if there is one."""
    if item.__tablename__ == "plates":
        return item.id
    return cast(str | None, getattr(item, "plate_id", None))


def _difference(item: Item) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return the columns that changed, before and after."""
    before: dict[str, Any] = {}
    after: dict[str, Any] = {}
    for attribute in inspect(item).attrs:
        history = attribute.history
        if not history.has_changes():
            continue
        old = history.deleted[0] if history.deleted else None
        new = history.added[0] if history.added else None
        if old != new:
            before[attribute.key], after[attribute.key] = old, new
    if after:
        before["revision"], after["revision"] = item.revision - 1, item.revision
    return before, after


def _without_content(item: Item, before: dict[str, Any]) -> dict[str, Any]:
    """Return what was before, less what is being taken out for good."""
    columns = inspect(item).mapper.columns
    return {k: v for k, v in before.items() if not columns[k].info.get("content")}


def _row(
    item: Item, act: Act, before: dict[str, Any] | None, after: dict[str, Any]
) -> dict[str, Any]:
    return {
        "uid": uuid.uuid4().hex,
        "action": act.action or _action(before, after),
        "table_name": item.__tablename__,
        "item_id": item.id,
        "plate_id": plate_of(item),
        "before": before,
        "after": after,
    }


def _action(before: dict[str, Any] | None, after: dict[str, Any]) -> Action:
    if before is None:
        return "add"
    if "removed" in after:
        return "remove" if after["removed"] else "restore"
    return "change"
