"""Keep what the pages remember in the daybook."""

from __future__ import annotations

from pydantic import ValidationError
from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook import Daybook
from wherestood.daybook.tables import Setting
from wherestood.server.forms.state import SettingsTold

__all__ = ["keep_settings", "kept_settings"]

KEY = "pages"


def kept_settings(session: Session) -> SettingsTold:
    """Return what is remembered; what cannot be read is as usual."""
    row = _row(session)
    try:
        return SettingsTold.model_validate(
            (row.value if row and not row.removed else None) or {}
        )
    except ValidationError:
        return SettingsTold()


def keep_settings(book: Daybook, settings: SettingsTold, person: str) -> None:
    """Remember settings."""
    with book.writing(person, "settings of the pages") as session:
        row = _row(session)
        if row is None:
            session.add(Setting(key=KEY, value=settings.model_dump()))
        else:
            row.value, row.removed = settings.model_dump(), False


def _row(session: Session) -> Setting | None:
    return session.scalars(select(Setting).where(Setting.key == KEY)).first()
