"""Keep what holds for dates in a daybook's country: its calendar, periods and signs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.dating.periods import Period, known_periods, read_periods
from wherestood.dating.signs import Sign, known_signs, read_signs
from wherestood.dating.weigh import months_considered
from wherestood.dating.written import calendar_doubt
from wherestood.daybook.book import Daybook
from wherestood.daybook.tables import Dating, Plate, Setting
from wherestood.errors import EvidenceError

__all__ = [
    "OwnTable", "Region", "calendar_questions", "keep_region", "region_of",
    "region_with",
]  # fmt: skip

KEY = "region"


@dataclass(frozen=True)
class OwnTable:
    """Be a table of the person's own: the name of its file, and its text (TOML)."""

    name: str
    text: str


@dataclass(frozen=True)
class Region:
    """Be what holds for dates there.

    Attributes
    ----------
    julian : bool
        Whether the Julian calendar was kept there until 1918 or later.
    periods, signs : OwnTable or None
        Rows of the region's own beside those that come with the program.
    between : str or None
        Months that are seriously possible there, an EDTF span; all years of plates
        unless told.
    """

    julian: bool = False
    periods: OwnTable | None = None
    signs: OwnTable | None = None
    between: str | None = None

    def known_periods(self) -> Mapping[str, Period]:
        """Return processes, mounts and formats by name, the region's own first."""
        own = self.periods
        return dict(known_periods()) | (
            {} if own is None else read_periods(own.text, own.name)
        )

    def known_signs(self) -> Mapping[str, Sign]:
        """Return signs of the season by name, the region's own first."""
        own = self.signs
        return dict(known_signs()) | (
            {} if own is None else read_signs(own.text, own.name)
        )


def region_of(session: Session) -> Region:
    """Return what a daybook keeps of its region."""
    row = _row(session)
    value: dict[str, Any] = {} if row is None or row.removed else row.value or {}
    tables = {
        name: OwnTable(**value[name]) if value.get(name) else None
        for name in ("periods", "signs")
    }
    return Region(
        bool(value.get("julian", False)), **tables, between=value.get("between")
    )


def region_with(
    session: Session,
    periods: tuple[str, str] | None = None,
    signs: tuple[str, str] | None = None,
) -> Region:
    """Return a daybook's region; tables that are given stand for its own.

    Parameters
    ----------
    session : Session
    periods, signs : (str, str), optional
        Text and name of a file.
    """
    region = region_of(session)
    if periods is not None:
        region = replace(region, periods=OwnTable(periods[1], periods[0]))
    if signs is not None:
        region = replace(region, signs=OwnTable(signs[1], signs[0]))
    return region


def keep_region(
    book: Daybook, change: Callable[[Region], Region], person: str, why: str = ""
) -> Region:
    """Change what a daybook keeps of its region.

    Parameters
    ----------
    book : Daybook
    change : callable
        Makes of what is kept what is to be kept.
    person, why : str
        Who changes it, and why.

    Returns
    -------
    Region
        As it is kept now.

    Raises
    ------
    EvidenceError
        If a table cannot be read or holds no row, or the months are no span of time;
        then nothing is changed.
    """
    with book.writing(person, why) as session:
        region = change(region_of(session))
        for own, read, what in (
            (region.periods, read_periods, "[[period]]"),
            (region.signs, read_signs, "[[sign]]"),
        ):
            if own is not None and not read(own.text, own.name):
                raise EvidenceError(f"{own.name} holds no row.", f"Write {what} rows.")
        if region.between is not None:
            months_considered(region.between)
        value = {
            "julian": region.julian,
            "periods": None if region.periods is None else vars(region.periods),
            "signs": None if region.signs is None else vars(region.signs),
            "between": region.between,
        }
        row = _row(session)
        if row is None:
            session.add(Setting(key=KEY, value=value))
        else:
            row.value, row.removed = value, False
    return region


def calendar_questions(session: Session, plate: Plate) -> list[str]:
    """Ask of which calendar a plate's days are, where nothing says it."""
    wanted = select(Dating).where(
        Dating.plate_id == plate.id, Dating.removed.is_(False)
    )
    asked = []
    for one in session.scalars(wanted.order_by(Dating.key)):
        words = f"{one.words or ''} {one.note or ''}"
        if doubt := calendar_doubt(one.edtf, words):
            asked.append(f"{one.key} may be of another calendar: {doubt}")
    return asked


def _row(session: Session) -> Setting | None:
    return session.scalars(select(Setting).where(Setting.key == KEY)).first()
