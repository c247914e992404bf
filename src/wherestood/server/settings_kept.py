"""Keep what the pages remember in the daybook."""

from __future__ import annotations

from pydantic import ValidationError
from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook import Daybook
from wherestood.daybook.tables import Setting
from wherestood.server.forms.state import SettingsChange, SettingsTold

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


def keep_settings(book: Daybook, change: SettingsChange, person: str) -> None:
    """Remember what is given; the rest stays, as another window may have set it."""
    with book.writing(person, "settings of the pages") as session:
        given = change.model_dump(exclude_unset=True)
        # A base map and a zone are taken away by None; the others always say something.
        emptied = ("base_map", "zone_hours")
        told = {k: v for k, v in given.items() if v is not None or k in emptied}
        settings = SettingsTold(**kept_settings(session).model_dump() | told)
        row = _row(session)
        if row is None:
            session.add(Setting(key=KEY, value=settings.model_dump()))
        else:
            row.value, row.removed = settings.model_dump(), False


def _row(session: Session) -> Setting | None:
    return session.scalars(select(Setting).where(Setting.key == KEY)).first()
