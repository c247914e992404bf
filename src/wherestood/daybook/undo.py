"""Take back what was done, and do it again, as new rows of the journal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from sqlalchemy import func, inspect, null, select
from sqlalchemy.orm import Session

from wherestood.daybook.act import LASTING
from wherestood.daybook.book import Daybook
from wherestood.daybook.check_items import name_of
from wherestood.daybook.counted import an
from wherestood.daybook.loaded import load_items
from wherestood.daybook.plate_store import KEY as STORE
from wherestood.daybook.references_by_key import items_that_name
from wherestood.daybook.region import KEY as REGION
from wherestood.daybook.tables import ITEMS, About, Item, JournalRow, Plate, Setting
from wherestood.errors import InputError

__all__ = ["TakenBack", "next_to_take_back", "redo", "undo"]

_Taking = Literal["undo", "redo"]
#: What one act may be, to be taken back by each.
_OF = {"undo": ("add", "change", "remove", "restore"), "redo": ("undo",)}

#: Settings that hold work: boxes and shelves, and what holds for a region's dates.
_WORK = (STORE, REGION)

#: What marks and evidence name by key.
_NAMED_BY_KEY = frozenset({"evidence", "features", "marks", "statements"})


@dataclass(frozen=True)
class TakenBack:
    """Say what was taken back.

    Attributes
    ----------
    act : str
        The act that was taken back.
    person, time, why : str
        Who did it, when and why.
    changes : int
        How many rows it had.
    """

    act: str
    person: str
    time: str
    why: str
    changes: int


def undo(daybook: Daybook, person: str, why: str = "", act: str = "") -> TakenBack:
    """Take back the last act, or another one.

    What it added is set aside, what it changed is as before, and the journal tells
    both.

    Parameters
    ----------
    daybook : Daybook
        Where.
    person, why : str
        Who takes it back, and why.
    act : str
        Beginning of the act's id; the last that was not taken back where empty.

    Raises
    ------
    InputError
        If there is nothing to take back, or it was changed again since.
    """
    return _take_back(daybook, person, why, act, "undo")


def redo(daybook: Daybook, person: str, why: str = "", act: str = "") -> TakenBack:
    """Do again what was last taken back, or what another undo took back.

    Parameters and errors are those of `undo`.
    """
    return _take_back(daybook, person, why, act, "redo")


def next_to_take_back(session: Session, taking: _Taking) -> str | None:
    """Return the act that `undo` or `redo` would take; None if there is none."""
    try:
        return _wanted(session, "", taking)
    except InputError:
        return None


def _take_back(
    daybook: Daybook, person: str, why: str, act: str, taking: _Taking
) -> TakenBack:
    with daybook.writing(person, why, action=taking) as session:
        wanted = _wanted(session, act, taking)
        assert session.act is not None
        session.act = replace(session.act, undoes=wanted)
        chosen = select(JournalRow).where(JournalRow.act == wanted)
        rows = session.scalars(chosen.order_by(JournalRow.number.desc())).all()
        _kept = load_items(session, {(r.table_name, r.item_id) for r in rows})
        with session.no_autoflush:
            _refuse_used(session, wanted)
            _refuse_named(session, rows)
            for row in rows:
                _reverse(session, row)
        last = rows[0]
        return TakenBack(wanted, last.person, last.time, last.why, len(rows))


def _wanted(session: Session, act: str, taking: _Taking) -> str:
    """Return the act to be taken back, the newest of those that can be."""
    acts = session.execute(
        select(JournalRow.act, func.min(JournalRow.action), JournalRow.undoes)
        # How the pages look is no work on plates, and is set back where it was set.
        .where(
            (JournalRow.table_name != Setting.__tablename__)
            | (JournalRow.action == "merge")  # which is counted in a setting
            | JournalRow.item_id.in_(select(Setting.id).where(Setting.key.in_(_WORK)))
        )
        .group_by(JournalRow.act, JournalRow.undoes)
        .order_by(func.max(JournalRow.number).desc())
    ).all()
    last_of = {undoes: one for one, _, undoes in reversed(acts) if undoes}
    found = [
        one
        for one, action, _ in acts
        if action in _OF[taking] and one.startswith(act) and not _stands(one, last_of)
    ]
    lasting = next((one for one, action, _ in acts if action in LASTING), None)
    newer = [one for one, _, _ in acts]
    reaches = found and lasting and newer.index(found[0]) > newer.index(lasting)
    if taking == "undo" and not act and (reaches or (lasting and not found)):
        # Whoever takes the last act back means this one, and not another before it.
        action = next(action for one, action, _ in acts if one == lasting)
        raise InputError(
            "The last act merged another copy; a merge is not taken back as one."
            if action == "merge"
            else "The last act withdrew content; what is withdrawn does not come back.",
            "To take back an act before it, name it by its letters in the history.",
        )
    if act and any(one.startswith(act) and a == "merge" for one, a, _ in acts):
        raise InputError(
            "A merge is not taken back as one.",
            "Take back single acts that came with it, by their letters in the history.",
        )
    if act and len(found) > 1:
        raise InputError(
            f"Several acts begin with {act!r}.", "Give more of the act's letters."
        )
    if not found:
        what = "undo" if taking == "undo" else "do again"
        raise InputError(
            f"There is nothing{f' of {act!r}' if act else ''} to {what}.",
            "Look at the history for what was done; what was withdrawn stays so.",
        )
    return found[0]


def _stands(act: str, last_of: dict[str, str]) -> bool:
    """Tell whether an act stands taken back, by the last act that undoes each."""
    taken = False
    while act in last_of:
        act, taken = last_of[act], not taken
    return taken


def _reverse(session: Session, row: JournalRow) -> None:
    """Set an item back to what it was before a row."""
    item = session.get(ITEMS[row.table_name], row.item_id)
    if item is None or item.withdrawn:
        raise InputError(
            f"{an(ITEMS[row.table_name].singular).capitalize()} of it was withdrawn "
            "since; what is withdrawn does not come back.",
            "Nothing was changed.",
        )
    if row.before is None:
        _refuse_changed(session, item, row, ("removed",), {"removed": False})
        item.removed = True
        return
    fields = [name for name in row.before if name != "revision"]
    _refuse_changed(session, item, row, fields, row.after or {})
    for name in fields:
        setattr(item, name, row.before[name])


def _refuse_used(session: Session, act: str) -> None:
    """Refuse to take back additions that others built on since."""
    rows = JournalRow.act == act
    added = select(JournalRow.item_id).where(rows, JournalRow.before.is_(null()))
    tables = added.with_only_columns(JournalRow.table_name).distinct()
    among = set(session.scalars(tables))
    for kind in ITEMS.values():
        links: list[Any] = [
            column
            for column in inspect(kind).columns
            if column.info.get("table") in among
        ]
        if issubclass(kind, About):
            links.append(kind.about_id)
        for link in links:
            there = session.scalars(
                select(kind)
                .where(link.in_(added), kind.removed.is_(False))
                .where(kind.withdrawn.is_(None))
                .where(kind.id.not_in(select(JournalRow.item_id).where(rows)))
                .limit(1)
            ).first()
            if there is not None:
                raise _used(session, there, getattr(there, link.key))


def _refuse_named(session: Session, rows: Sequence[JournalRow]) -> None:
    """Refuse to take a key away by which others name an item since."""
    mine = {row.item_id for row in rows}
    for row in rows:
        renamed = "key" in (row.before or {})
        if row.table_name not in _NAMED_BY_KEY or not (row.before is None or renamed):
            continue
        item = session.get(ITEMS[row.table_name], row.item_id)
        if item is None or item.withdrawn:
            continue  # refused where it is reversed
        for there in items_that_name(session, item):
            if not (there.removed or there.withdrawn or there.id in mine):
                raise InputError(
                    f"The {name_of(there)} names {name_of(item)} since; nothing was "
                    "taken back.",
                    "Set that aside first, or let it name another.",
                )


def _used(session: Session, there: Item, item_id: str) -> InputError:
    """Return the refusal where one item was built on another since."""
    table = session.scalars(
        select(JournalRow.table_name).where(JournalRow.item_id == item_id)
    ).first()
    item = session.get_one(ITEMS[str(table)], item_id)
    if isinstance(item, Plate):
        return InputError(
            f"The {name_of(there)} was put on {name_of(item)} since; nothing was "
            "taken back.",
            "Set that aside first, or set the plate aside with all that is on it.",
        )
    return InputError(
        f"The {name_of(there)} refers to {name_of(item)} since; nothing was taken "
        "back.",
        "Set that aside first.",
    )


def _refuse_changed(
    session: Session,
    item: Item,
    row: JournalRow,
    fields: Sequence[str],
    after: dict[str, Any],
) -> None:
    """Refuse to take back what somebody changed again since."""
    for name in fields:
        if getattr(item, name) == after.get(name):
            continue
        later = session.scalars(
            select(JournalRow)
            .where(JournalRow.item_id == item.id, JournalRow.number > row.number)
            .order_by(JournalRow.number.desc())
        ).first()
        who = f" by {later.person} at {later.time[:16]}" if later else ""
        act = f" (act {later.act[:8]})" if later else ""
        raise InputError(
            f"The {name} of {name_of(item)} was changed again since{who}{act}; nothing "
            "was taken back.",
            "Take back the later change first.",
        )
