"""Give keys to items, and find items by them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, TypeVar, cast

from sqlalchemy import select

from wherestood.daybook.tables import Item, JournalRow, OnPlate, Plate
from wherestood.errors import InputError

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

__all__ = ["address_of", "find", "give_keys", "next_letter"]

_I = TypeVar("_I", bound=Item)
_NUMBERED = re.compile(r"-(\d+)$")


def give_keys(session: Session, items: Sequence[Item]) -> None:
    """Give a key to each new item that has none: ``lead-3``, or a letter."""
    last: dict[Any, int] = {}
    for item in items:
        if getattr(item, "key", None) is not None or not hasattr(item, "key"):
            continue
        if isinstance(item, OnPlate):
            _give_on_plate(session, item, items)
            continue
        stem = item.singular.split()[0]
        if stem not in last:
            last[stem] = _last_number(session, type(item), stem, items)
        last[stem] += 1
        item.key = f"{stem}-{last[stem]}"


def _last_number(
    session: Session, kind: type[Item], stem: str, items: Sequence[Item]
) -> int:
    column = kind.key  # type: ignore[attr-defined]
    with session.no_autoflush:
        taken = list(session.scalars(select(column).where(column.like(f"{stem}-%"))))
    taken += [one.key for one in items if type(one) is kind and one.key]  # type: ignore[attr-defined]
    numbers = [int(found[1]) for key in taken if (found := _NUMBERED.search(key))]
    return max(numbers, default=0)


def _give_on_plate(session: Session, item: OnPlate, items: Sequence[Item]) -> None:
    kind = type(item)
    with session.no_autoflush:
        wanted = select(kind.key).where(kind.plate_id == item.plate_id)
        taken = set(session.scalars(wanted))
    taken |= {
        one.key for one in items
        if isinstance(one, kind) and one.plate_id == item.plate_id and one.key
    }  # fmt: skip
    if item.__tablename__ == "details":
        item.key = next_letter(taken)
        return
    stem = "" if item.__tablename__ == "scans" else f"{_stem(item)} "
    number = 1
    while f"{stem}{number}" in taken:
        number += 1
    item.key = f"{stem}{number}"


def _stem(item: OnPlate) -> str:
    return str(getattr(item, "kind", None) or item.singular).replace("_", " ")


def next_letter(taken: set[str]) -> str:
    """Return the first of A, B ... Z, AA, AB ... that is not taken."""
    number = 0
    while True:
        number += 1
        letters, rest = "", number
        while rest:
            rest, last = divmod(rest - 1, 26)
            letters = chr(ord("A") + last) + letters
        if letters not in taken:
            return letters


def find(session: Session, kind: type[_I], address: str) -> _I:
    """Return the item of a key: ``lead-3``, or ``1987.12/A`` for what is on a plate.

    Parameters
    ----------
    session : Session
        Where to look.
    kind : type
        Class of the item.
    address : str
        Its key, after its plate's key and a slash where it is on a plate; or its id.

    Raises
    ------
    InputError
        If there is none.
    """
    found = session.get(kind, address)
    if found is None and issubclass(kind, OnPlate):
        plate, _, key = address.rpartition("/")
        wanted = (
            select(kind).join(Plate, Plate.id == kind.plate_id)
            .where(Plate.key == plate, kind.key == key)
        )  # fmt: skip
        found = cast("_I | None", session.scalars(wanted).first())
    elif found is None:
        column = kind.key  # type: ignore[attr-defined]
        found = session.scalars(select(kind).where(column == address)).first()
    if found is None:
        example = "PLATE/KEY" if issubclass(kind, OnPlate) else "key"
        several = kind.__tablename__.replace("_", " ")
        now = _called_now(session, kind, address)
        if now is not None:
            raise InputError(
                f"The {kind.singular} {address!r} is called {now!r} now.",
                f"Name it {now}.",
            )
        raise InputError(
            f"There is no {kind.singular} {address!r} in this daybook.",
            f"Give its {example} as the list of {several} shows it.",
        )
    return found


def _called_now(session: Session, kind: type[Item], address: str) -> str | None:
    """Return the address of what was once called by a key; None if nothing was."""
    key = address.rpartition("/")[2] if issubclass(kind, OnPlate) else address
    wanted = (
        select(JournalRow.item_id)
        .where(
            JournalRow.table_name == kind.__tablename__,
            JournalRow.before["key"].as_string() == key,
        )
        .order_by(JournalRow.number.desc())
    )
    for item_id in session.scalars(wanted):
        item = session.get(kind, item_id)
        plate = address.rpartition("/")[0]
        if item is not None and address_of(session, item).startswith(plate):
            return address_of(session, item)
    return None


def address_of(session: Session, item: Item) -> str:
    """Return what a person calls an item by."""
    key = str(getattr(item, "key", None) or item.id)
    if isinstance(item, OnPlate):
        plate = session.get(Plate, item.plate_id)
        return f"{plate.key if plate else item.plate_id}/{key}"
    return key
