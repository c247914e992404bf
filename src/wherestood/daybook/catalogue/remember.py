"""Remember what the columns of a catalogue meant, for the next file like it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.catalogue.columns import signature_of
from wherestood.daybook.tables import Setting

__all__ = ["remember_columns", "remembered_columns"]

KEY = "catalogue columns"


def remembered_columns(session: Session, columns: Iterable[str]) -> dict[str, str]:
    """Return meaning by column as it was for a file of the same columns before."""
    setting = session.scalars(select(Setting).where(Setting.key == KEY)).first()
    known = (setting.value if setting else None) or {}
    told = known.get(signature_of(columns)) or {}
    present = set(columns)
    return {column: meaning for column, meaning in told.items() if column in present}


def remember_columns(
    session: Session, columns: Iterable[str], told: Mapping[str, str]
) -> None:
    """Remember meaning by column; a change is an act like any other."""
    setting = session.scalars(select(Setting).where(Setting.key == KEY)).first()
    signature = signature_of(columns)
    before = dict((setting.value if setting else None) or {})
    if before.get(signature) == dict(told):
        return
    value = {**before, signature: dict(told)}
    if setting is None:
        session.add(Setting(key=KEY, value=value))
    else:
        setting.value = value
