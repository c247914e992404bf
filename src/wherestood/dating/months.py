"""Count months, and read dates as written into spans of them.

A month is a whole number, twelve to the year: January 1871 is ``12 * 1871``. Dates are
in the Gregorian calendar.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.errors import EvidenceError
from wherestood.evidence.edtf import DateRead, Day, check_edtf, read_edtf

__all__ = [
    "ABOUT_MONTHS",
    "Span",
    "month_of",
    "month_words",
    "months_between",
    "span_of",
    "year_month",
]

MONTHS_A_YEAR = 12
#: How far off "about" may be of a year, and of a month or day: common practice.
ABOUT_MONTHS = (60, 6)
_NAMES = (
    "January", "February", "March", "April", "May", "June", "July", "August",
    "September", "October", "November", "December",
)  # fmt: skip


def month_of(year: int, month: int = 1) -> int:
    """Return the number of a month.

    Examples
    --------
    >>> month_of(1871, 3) - month_of(1871)
    2
    """
    return MONTHS_A_YEAR * year + month - 1


def year_month(number: int) -> tuple[int, int]:
    """Return year and month, 1 to 12, of a month's number."""
    year, month = divmod(int(number), MONTHS_A_YEAR)
    return year, month + 1


def month_words(number: int) -> str:
    """Return a month in words.

    Examples
    --------
    >>> month_words(month_of(1871, 5))
    'May 1871'
    """
    year, month = year_month(number)
    return f"{_NAMES[month - 1]} {year}"


def months_between(first: int, last: int) -> NDArray[np.int64]:
    """Return every month from first to last: (months,) int64 array."""
    return np.arange(first, last + 1, dtype=np.int64)


@dataclass(frozen=True)
class Span:
    """Be a span of months with soft or hard ends.

    Within full_from to full_to it agrees in full; towards rise_from and fall_to the
    agreement falls evenly, to nothing beyond.

    Attributes
    ----------
    rise_from, full_from, full_to, fall_to : int or None
        Months, in order. None where that end is open.
    """

    rise_from: int | None
    full_from: int | None
    full_to: int | None
    fall_to: int | None

    def agrees(self, months: NDArray[np.int64]) -> NDArray[np.float64]:
        """Return how far each month lies within: (months,) array, 0 to 1, no unit."""
        risen = np.ones(len(months))
        fallen = np.ones(len(months))
        if self.rise_from is not None and self.full_from is not None:
            steps = self.full_from - self.rise_from + 1
            risen = np.clip((months - self.rise_from + 1) / steps, 0.0, 1.0)
        if self.full_to is not None and self.fall_to is not None:
            steps = self.fall_to - self.full_to + 1
            fallen = np.clip((self.fall_to - months + 1) / steps, 0.0, 1.0)
        return np.minimum(risen, fallen)


def span_of(edtf: str, what: str = "the date") -> Span:
    """Read a date as the span of months that it can mean.

    Parameters
    ----------
    edtf : str
        A date, EDTF. One marked as about right (``~``) has ends that fall off over
        `ABOUT_MONTHS`: the first where it is of a year, the second of a month or day.
    what : str
        What it is the date of, for the message.

    Returns
    -------
    Span
        Open where the date is open.

    Raises
    ------
    EvidenceError
        If it is no date of that form.
    """
    check_edtf(edtf, what)
    read = read_edtf(edtf)
    assert read is not None
    if read.begin is not None and read.begin.first[0] < 1:
        raise EvidenceError(
            f"{what[:1].upper()}{what[1:]} {edtf!r} lies before the year 1.",
            "Photographs are younger; check the year.",
            field="date",
        )
    rise_from, full_from = _ends(read.begin, -1)
    fall_to, full_to = _ends(read.end, 1)
    return Span(rise_from, full_from, full_to, fall_to)


def _ends(date: DateRead | None, side: int) -> tuple[int | None, int | None]:
    """Return the outer and the inner month of one end."""
    if date is None:
        return None, None
    day = date.first if side < 0 else date.last
    inner = month_of(day[0], day[1])
    about = ABOUT_MONTHS[0 if _of_years(date.first, date.last) else 1]
    return inner + side * (about if date.approximate else 0), inner


def _of_years(first: Day, last: Day) -> bool:
    return (first[1], last[1]) == (1, 12)
