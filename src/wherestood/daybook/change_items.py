"""Add items, change them, set them aside and bring them back, each in an act.

These are the verbs that the command line and the server share. Each opens one
writing, so that all of it happens or none, with a journal row that says who and why.
What they return is the item's record (`wherestood.daybook.records.record_of`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy.orm import Session

from wherestood.daybook.book import Daybook
from wherestood.daybook.check_items import name_of
from wherestood.daybook.counted import an
from wherestood.daybook.decide import complete_decision
from wherestood.daybook.journal import DaybookSession, plate_of
from wherestood.daybook.keys import find
from wherestood.daybook.records import (
    column_named,
    find_about,
    kind_of,
    plate_and_key,
    record_of,
    set_fields,
)
from wherestood.daybook.rename import rename
from wherestood.daybook.tables import About, Decision, Item, OnPlate
from wherestood.errors import DaybookError, InputError

__all__ = ["add_item", "bring_back", "change_item", "set_aside"]

#: What a field holds where nobody says otherwise.
_AS_USUAL: dict[str, dict[str, Any]] = {
    "leads": {"state": "to do"},
    "requests": {"state": "open"},
}
#: Kinds that are added by taking a file in, or by the program.
_ADDED_OTHERWISE = {
    "fixes": "Ask for a fix of the plate.",
    "fix_inputs": "Ask for a fix of the plate.",
    "settings": "They are remembered by themselves.",
}


def add_item(
    daybook: Daybook,
    table: str,
    fields: Mapping[str, Any],
    person: str,
    why: str = "",
    *,
    address: str = "",
    about: tuple[str, str] | None = None,
) -> dict[str, Any]:
    """Add an item.

    Parameters
    ----------
    daybook : Daybook
        Where.
    table : str
        Its table, such as ``leads``.
    fields : mapping
        Values by the column's name, with or without ``_id`` and ``_edtf``; an item
        that is referred to, by its address. What is None is not said.
    person, why : str
        Who adds it, and why.
    address : str
        Its key, or ``PLATE/KEY`` for what is on a plate; a key left out is given.
    about : (str, str), optional
        Table and address of the item that a note, right or restriction is about.

    Returns
    -------
    dict
        The item's record.

    Raises
    ------
    InputError
        If there is no such table, field or item, or a value cannot be.
    """
    kind = kind_of(table)
    if table in _ADDED_OTHERWISE:
        raise InputError(
            f"{an(kind.singular).capitalize()} is not added by hand.",
            _ADDED_OTHERWISE[table],
        )
    said = {name: value for name, value in fields.items() if value is not None}
    with daybook.writing(person, why) as session:
        item = _new(session, kind, address, about)
        set_fields(session, item, {**_AS_USUAL.get(table, {}), **said})
        complete_decision(session, item, person)
        session.add(item)
        session.flush()
        return record_of(session, item)


def change_item(
    daybook: Daybook,
    table: str,
    address: str,
    fields: Mapping[str, Any],
    person: str,
    why: str = "",
    *,
    clear: Sequence[str] = (),
    key: str | None = None,
    revision: int | None = None,
) -> dict[str, Any]:
    """Change fields of an item; those not named stay as they are.

    Parameters
    ----------
    daybook, table, fields, person, why
        As of `add_item`.
    address : str
        The item.
    clear : sequence of str
        Fields to empty.
    key : str, optional
        Its new key; all that calls it by the old one follows.
    revision : int, optional
        The record's, as the person saw it: refused if it was changed since.

    Raises
    ------
    DaybookError
        If somebody changed it since that revision.
    InputError
        If there is no such item or field, or a value cannot be.
    """
    kind = kind_of(table)
    with daybook.writing(person, why) as session:
        item = _seen(session, kind, address, revision)
        set_fields(session, item, fields)
        for name in clear:
            setattr(item, column_named(kind, name).key, None)
        if key is not None:
            rename(session, item, key)
        session.flush()
        return record_of(session, item)


def set_aside(
    daybook: Daybook,
    table: str,
    address: str,
    person: str,
    why: str = "",
    *,
    revision: int | None = None,
) -> dict[str, Any]:
    """Set an item aside; nothing of it is lost. As `change_item`."""
    return _put(daybook, table, address, person, why, revision, aside=True)


def bring_back(
    daybook: Daybook,
    table: str,
    address: str,
    person: str,
    why: str = "",
    *,
    revision: int | None = None,
) -> dict[str, Any]:
    """Bring an item back that was set aside. As `change_item`."""
    return _put(daybook, table, address, person, why, revision, aside=False)


def _put(
    daybook: Daybook,
    table: str,
    address: str,
    person: str,
    why: str,
    revision: int | None,
    *,
    aside: bool,
) -> dict[str, Any]:
    with daybook.writing(person, why) as session:
        item = _seen(session, kind_of(table), address, revision)
        if aside and isinstance(item, Decision):
            raise InputError(
                f"The decision {item.key!r} is not set aside: what was decided stays "
                "to be read.",
                "Add a later one, which takes its place; what was written by mistake "
                "just now is taken back by undo.",
            )
        item.removed = aside
        session.flush()
        return record_of(session, item)


def _new(
    session: DaybookSession,
    kind: type[Item],
    address: str,
    about: tuple[str, str] | None,
) -> Item:
    if issubclass(kind, About):
        if about is None:
            raise InputError(
                f"{an(kind.singular).capitalize()} is about something, and nothing is "
                "named.",
                "Name the item it is about.",
            )
        thing = find_about(session, *about)
        return kind(
            key=address or None,
            about_table=thing.__tablename__,
            about_id=thing.id,
            plate_id=plate_of(thing),
        )
    if not issubclass(kind, OnPlate):
        return kind(key=address or None)
    plate, key = plate_and_key(session, address)
    return kind(key=key, plate_id=plate.id)


def _seen(
    session: Session, kind: type[Item], address: str, revision: int | None
) -> Item:
    """Return an item, unless it was changed since a person saw it."""
    item = find(session, kind, address)
    if revision is not None and item.revision != revision:
        raise DaybookError(
            f"Somebody changed the {name_of(item)} meanwhile; nothing was written.",
            "Look at it again, then make your change once more.",
        )
    return item
