"""Take content out of a daybook for good, and leave a stub that says so.

The item stays as a stub: its key, what it belongs to, and when it was withdrawn. Its
words and numbers go from its row, from every journal row that told of it, from the
fixes that quote it, from the index and from the files taken in; what was free in the
database is overwritten (`wherestood.daybook.scrub`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC
from typing import Any

from sqlalchemy import inspect, select, update
from sqlalchemy.orm import Session

from wherestood.daybook.book import Daybook
from wherestood.daybook.connection import writing_by_flush
from wherestood.daybook.keys import address_of
from wherestood.daybook.redact import STUB, Needles, strings_in
from wherestood.daybook.scrub import Pending, finish, note_pending
from wherestood.daybook.tables import (
    ITEMS,
    About,
    Fix,
    FixInput,
    Item,
    JournalRow,
)
from wherestood.errors import InputError

__all__ = ["Withdrawn", "withdraw"]

_FILES = {"scans": "file", "plans": "file"}
#: What falls with an item, by the column that refers to it.
_FALLS_WITH = ("plate_id", "informant_id", "fix_id")
_ONLY_WITH = {"feature_id": ("feature_names",)}


@dataclass(frozen=True)
class Withdrawn:
    """Say what went, and what did not.

    Attributes
    ----------
    stubs : tuple of str
        Items that are stubs now.
    files : tuple of str
        Files of the daybook that were deleted.
    left_in_place : tuple of str
        Files outside the daybook, which a person must delete.
    redacted : tuple of str
        Items from which the same words were taken out.
    still_in : tuple of str
        Items in which the same words still stand.
    finished : bool
        False where another process still reads; the next opening finishes it.
    """

    stubs: tuple[str, ...]
    files: tuple[str, ...]
    left_in_place: tuple[str, ...]
    redacted: tuple[str, ...]
    still_in: tuple[str, ...]
    finished: bool


def withdraw(
    daybook: Daybook,
    kind: type[Item],
    item_id: str,
    *,
    person: str,
    why: str = "",
    everywhere: bool = False,
) -> Withdrawn:
    """Take the content of an item, and of all that falls with it, out for good.

    With a plate falls all that is on it or about it; with an informant what they
    said. Everything in ``out`` is deleted too, since it can be made again.

    Parameters
    ----------
    daybook : Daybook
        Where.
    kind, item_id
        The item.
    person, why : str
        Who withdraws it, and why: this stays to be read.
    everywhere : bool
        Whether the same words are taken out of every other item too.

    Raises
    ------
    InputError
        If there is no such item, or it was withdrawn before.
    """
    with daybook.writing(person, why, action="withdraw") as session:
        item = session.get(kind, item_id)
        if item is None or item.withdrawn:
            if item is None:
                raise InputError(f"There is no {kind.singular} {item_id!r} here.")
            raise InputError(
                f"The {_called(session, item)} was withdrawn before: nothing is left "
                "of it.",
                "Words elsewhere that repeated it go with what they stand in.",
            )
        falling = _falling_with(session, item)
        needles = Needles(_words_of(session, falling))
        taken, outside = _files(daybook, session, falling)
        others = _others(session, falling)
        quoting = _quoting(session, falling)
        if everywhere:
            quoting, others = [*quoting, *(o for o in others if o not in quoting)], []
        redacted = [one for one in quoting if _redact_item(one, needles)]
        still = [o for o in others if o not in redacted and _holds(o, needles)]
        assert session.act is not None
        time = session.clock().astimezone(UTC).isoformat(timespec="seconds")
        for one in falling:
            _blank(one, time)
        session.flush()
        _blank_journal(session, falling, [*redacted], needles, everywhere=everywhere)
        told = [
            tuple(_called(session, one) for one in some)
            for some in (falling, redacted, still)
        ]
        pending = Pending(act=session.act.id, files=tuple(taken))
        note_pending(daybook.folder, pending)
    finished = finish(daybook.folder, daybook.engine)
    return Withdrawn(told[0], tuple(taken), outside, told[1], told[2], finished)


def _called(session: Session, item: Item) -> str:
    return f"{item.singular} {address_of(session, item)!r}"


def _falling_with(session: Session, item: Item) -> list[Item]:
    """Return an item and all that cannot stay without it."""
    found: dict[str, Item] = {item.id: item}
    waiting = [item]
    while waiting:
        one = waiting.pop()
        for other in _referring(session, one):
            if other.id not in found and not other.withdrawn:
                found[other.id] = other
                waiting.append(other)
    return list(found.values())


def _referring(session: Session, item: Item) -> Iterable[Item]:
    table = item.__tablename__
    for name, kind in ITEMS.items():
        for column in inspect(kind).columns:
            falls = column.key in _FALLS_WITH or name in _ONLY_WITH.get(column.key, ())
            if falls and column.info.get("table") == table:
                yield from session.scalars(select(kind).where(column == item.id))
        if issubclass(kind, About):
            yield from session.scalars(select(kind).where(kind.about_id == item.id))


def _words_of(session: Session, items: list[Item]) -> set[str]:
    """Return every text that items hold or ever held."""
    found: set[str] = set()
    for item in items:
        for name in _content(item):
            found.update(strings_in(getattr(item, name)))
    ids = {item.id: _content(item) for item in items}
    rows = session.scalars(select(JournalRow).where(JournalRow.item_id.in_(ids)))
    for row in rows:
        for side in (row.before or {}, row.after or {}):
            for name, value in side.items():
                if name in ids[row.item_id]:
                    found.update(strings_in(value))
    return found - {STUB}


def _content(item: Item) -> dict[str, Any]:
    """Return the columns of an item that hold content, and what a stub has there."""
    return {
        column.key: None if column.nullable else STUB
        for column in inspect(item).mapper.columns
        if column.info.get("content")
    }


def _blank(item: Item, time: str) -> None:
    for name, stub in _content(item).items():
        setattr(item, name, stub)
    item.withdrawn = time


def _others(session: Session, falling: list[Item]) -> list[Item]:
    ids = {item.id for item in falling}
    return [
        one
        for kind in ITEMS.values()
        for one in session.scalars(select(kind))
        if one.id not in ids
    ]


def _quoting(session: Session, falling: list[Item]) -> list[Item]:
    """Return the fixes that rest on what falls, which quote it."""
    ids = [item.id for item in falling]
    resting = select(FixInput.fix_id).where(FixInput.item_id.in_(ids))
    chosen = select(Fix).where(Fix.id.in_(resting))
    return [fix for fix in session.scalars(chosen) if fix.id not in ids]


def _redact_item(item: Item, needles: Needles) -> bool:
    changed = False
    for name in _content(item):
        value = getattr(item, name)
        cleaned = needles.taken_out_of(value)
        if cleaned != value:
            setattr(item, name, cleaned)
            changed = True
    return changed


def _holds(item: Item, needles: Needles) -> bool:
    return any(needles.stand_in(getattr(item, name)) for name in _content(item))


def _blank_journal(
    session: Session,
    falling: list[Item],
    redacted: list[Item],
    needles: Needles,
    *,
    everywhere: bool,
) -> None:
    """Empty the journal rows that told of what falls."""
    stubs = {item.id: _content(item) for item in falling}
    quoting = {item.id for item in redacted}
    acts = _acts(session, stubs)
    chosen = select(JournalRow)
    if not everywhere:
        wanted = JournalRow.item_id.in_([*stubs, *quoting])
        chosen = chosen.where(wanted | JournalRow.act.in_(acts))
    changes = []
    for row in session.scalars(chosen.order_by(JournalRow.number)).all():
        if row.item_id in stubs:
            sides = [_stub_of(s, stubs[row.item_id]) for s in (row.before, row.after)]
        elif row.item_id in quoting or everywhere:
            sides = [needles.taken_out_of(side) for side in (row.before, row.after)]
        else:
            sides = [row.before, row.after]
        why = STUB if row.why and acts.get(row.act) else needles.taken_out_of(row.why)
        if row.action == "withdraw":
            why = row.why
        if (sides[0], sides[1], why) != (row.before, row.after, row.why):
            changes.append((row.number, sides[0], sides[1], why))
        session.expunge(row)
    connection = session.connection()
    writing_by_flush(connection, True)
    for number, before, after, why in changes:
        values = {"before": before, "after": after, "why": why}
        where = JournalRow.number == number
        connection.execute(update(JournalRow).where(where).values(**values))
    writing_by_flush(connection, False)


def _acts(session: Session, stubs: dict[str, Any]) -> dict[str, bool]:
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
    side: dict[str, Any] | None, stub: dict[str, Any]
) -> dict[str, Any] | None:
    if side is None:
        return None
    return {name: stub.get(name, value) for name, value in side.items()}


def _files(
    daybook: Daybook, session: Session, falling: list[Item]
) -> tuple[list[str], tuple[str, ...]]:
    """Return the files to delete within the daybook, and those outside it."""
    named: list[str] = []
    for item in falling:
        if item.__tablename__ in _FILES:
            named.append(getattr(item, _FILES[item.__tablename__]) or "")
        elif item.__tablename__ == "terrain_layers":
            named += [str(one.get("file", "")) for one in item.files or ()]  # type: ignore[attr-defined]
    ids = [item.id for item in falling]
    shared: set[str] = set()
    for table, column in _FILES.items():
        kind: Any = ITEMS[table]
        chosen = select(getattr(kind, column)).where(kind.id.not_in(ids))
        shared.update(session.scalars(chosen))
    inside: list[str] = []
    outside: list[str] = []
    root = daybook.folder.resolve()
    for name in dict.fromkeys(named):
        if not name or name == STUB or name in shared:
            continue
        within = (root / name).resolve().is_relative_to(root)
        (inside if within else outside).append(name)
    return inside, tuple(outside)
