"""Give an item another key, in all that refers to it by key."""

from __future__ import annotations

from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.tables import (
    Evidence,
    Feature,
    Item,
    Mark,
    Statement,
    Weighed,
)

__all__ = ["REFERENCES", "rename"]

#: Keys of the evidence file that refer to features or marks.
REFERENCES = ("feature", "a", "b", "instead_of")


def rename(session: Session, item: Item, key: str) -> None:
    """Give an item another key.

    Items refer to one another by id, and need no change. Evidence alone is kept in
    the words of the evidence file, which calls features and marks by key.

    Parameters
    ----------
    session : Session
        Of `Daybook.writing`.
    item : Item
        The item.
    key : str
        Its new key.
    """
    old: str = item.key  # type: ignore[attr-defined]
    if key == old:
        return
    item.key = key  # type: ignore[attr-defined]
    if isinstance(item, Feature):
        _rename_feature(session, old, key)
    elif isinstance(item, Weighed):
        _rename_on_plate(session, item, old, key)


def _rename_feature(session: Session, old: str, key: str) -> None:
    for mark in session.scalars(select(Mark).where(Mark.features.is_not(None))):
        named = [_other(one, old, key, ("feature",)) for one in mark.features or ()]
        if named != mark.features:
            mark.features = named
    for item in session.scalars(select(Evidence)):
        marks = select(Mark.key).where(Mark.plate_id == item.plate_id)
        if old not in set(session.scalars(marks)):  # there it names the mark
            _rename_in(item, old, key)


def _rename_on_plate(session: Session, item: Weighed, old: str, key: str) -> None:
    plate = item.plate_id
    if isinstance(item, Mark):
        chosen = select(Evidence).where(Evidence.plate_id == plate)
        for other in session.scalars(chosen):
            _rename_in(other, old, key)
    kinds: tuple[Any, ...] = (Mark, Evidence, Statement)
    for kind in kinds:
        for one in session.scalars(select(kind).where(kind.plate_id == plate)):
            if old in (one.derived_from or ()):
                one.derived_from = [key if n == old else n for n in one.derived_from]


def _rename_in(item: Evidence, old: str, key: str) -> None:
    content = _other(item.content or {}, old, key, REFERENCES)
    if content != (item.content or {}):
        item.content = content


def _other(
    record: dict[str, Any], old: str, key: str, names: tuple[str, ...]
) -> dict[str, Any]:
    return {
        name: key if name in names and value == old else value
        for name, value in record.items()
    }
