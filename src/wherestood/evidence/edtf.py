"""Read dates written as EDTF (ISO 8601-2:2019), level 1.

Of level 2 the seasons 25 to 41 are read too, since only those say which hemisphere is
meant, and a year of which one digit is known. A parser of our own: of those on the
package index the one still kept up (edtf 5.0.2, tried in December 2026) takes 29
February 1900 and spans that end before they begin, and gives an end that is not known
(``1985/``) a date ten years on.

The form is that of the Library of Congress, "Extended Date/Time Format (EDTF)
Specification", 4 February 2019, whose examples are the tests.
"""

from __future__ import annotations

import calendar
import re
from dataclasses import dataclass
from datetime import MAXYEAR, MINYEAR

from wherestood.errors import EvidenceError

__all__ = ["DateRead", "Day", "Edtf", "check_edtf", "has_number", "read_edtf"]

#: Year (0 is 1 BC), month, day.
Day = tuple[int, int, int]

_YEAR = r"(?P<year>-?\d{4}|-?\d{3}X|-?\d{2}XX|-?\dXXX)"
_DATE = re.compile(rf"{_YEAR}(?:-(?P<month>\d\d|XX)(?:-(?P<day>\d\d|XX))?)?")
_LONG_YEAR = re.compile(r"Y(?P<year>-?[1-9]\d{4,})")
_TIME = re.compile(
    r"(?:[01]\d|2[0-3]):[0-5]\d:[0-5]\d(?:Z|[+-](?:0\d|1[0-4])(?::[0-5]\d)?)?"
)
_DAYS = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
#: Spring to winter anywhere, then of the north, of the south; quarters, thirds, halves.
_SEASONS = range(21, 42)
_SPOKEN = (
    (r"(?:c|ca|circa|about|um|vers)\.?\s*(\d{4})", r"\1~"),
    (r"(\d{3})0'?s", r"\1X"),
    (r"(\d{4})\s*(?:-|–|to|bis)\s*(\d{4})", r"\1/\2"),
    (r"between\s+(\d{4})\s+and\s+(\d{4})", r"\1/\2"),
    (r"(?:before|by|vor|avant)\s+(\d{4})", r"../\1"),
    (r"(?:after|since|from|nach)\s+(\d{4})", r"\1/.."),
    (r"(\d{4})\s*\?", r"\1?"),
    (r"(\d{1,2})\.(\d{1,2})\.(\d{4})", r"\3-\2-\1"),
    (r"(\d{4})-(\d{1,2})(?:-(\d{1,2}))?", r"\1-\2-\3"),
    (r"spring\s+(?:of\s+)?(\d{4})", r"\1-21"),
    (r"summer\s+(?:of\s+)?(\d{4})", r"\1-22"),
    (r"(?:autumn|fall)\s+(?:of\s+)?(\d{4})", r"\1-23"),
    (r"winter\s+(?:of\s+)?(\d{4})", r"\1-24"),
)
_MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august",
    "september", "october", "november", "december",
)  # fmt: skip
_FORMS = (
    "Write a year (1875), about one (1875~), the 1870s (187X), a day (1871-05-03), "
    "between two (1870/1880), or an open span (1870/..)."
)


@dataclass(frozen=True)
class DateRead:
    """Be one date, as closely as it is known.

    Attributes
    ----------
    first, last : Day
        The first and the last day that it can be.
    season : int or None
        Its code, 21 to 41; first and last then are those of the whole year.
    uncertain, approximate : bool
        Whether it is doubted (``?``), and whether it is about right (``~``).
    """

    first: Day
    last: Day
    season: int | None = None
    uncertain: bool = False
    approximate: bool = False


@dataclass(frozen=True)
class Edtf:
    """Be a date or a span of time.

    Attributes
    ----------
    text : str
        As written.
    begin, end : DateRead or None
        Of a date both are it; None where a span is open or its end is not known.
    is_span : bool
        Whether it has two ends.
    """

    text: str
    begin: DateRead | None
    end: DateRead | None
    is_span: bool


def read_edtf(text: str) -> Edtf | None:
    """Read a date.

    Parameters
    ----------
    text : str
        Such as ``1875~``, ``187X``, ``1871-05``, ``1870/1880`` or ``../1871-05-03``.

    Returns
    -------
    Edtf or None
        None where it is no date of that form, or no day of the calendar.
    """
    text = text.strip()
    first, mark, last = text.partition("/")
    if not mark:
        date = _date(first)
        return None if date is None else Edtf(text, date, date, False)
    open_ends = ("", "..")
    begin = None if first in open_ends else _date(first)
    end = None if last in open_ends else _date(last)
    unread = (begin is None and first not in open_ends) or (
        end is None and last not in open_ends
    )
    if unread or (begin is None and end is None):
        return None
    if begin is not None and end is not None and begin.first > end.last:
        return None
    return Edtf(text, begin, end, True)


def has_number(day: Day) -> bool:
    """Return whether a day has a number, as `datetime.date` counts days."""
    return MINYEAR <= day[0] <= MAXYEAR


def check_edtf(text: str, what: str, behind: str = "") -> None:
    """Refuse a date that cannot be read, saying how it might be written.

    Parameters
    ----------
    text : str
        The date.
    what : str
        What it is the date of, for the message: ``the plate's date``.
    behind : str
        What stands behind it and goes with a spelling offered: ``O.S.``.

    Raises
    ------
    EvidenceError
        If it is no date of the form.
    """
    if read_edtf(text) is not None:
        return
    meant = _as_meant(text)
    offered = f"{meant} {behind}".strip()
    raise EvidenceError(
        f"{what[:1].upper()}{what[1:]} {text!r} cannot be read as a date (EDTF, ISO "
        "8601-2).",
        f"{f'Is {offered} meant? ' if meant else ''}{_FORMS}",
        field="date",
    )


def _as_meant(text: str) -> str:
    """Return how people's usual spelling is written; empty if that is not known."""
    spoken = text.strip().casefold()
    if in_months := _of_a_month(spoken):
        return in_months
    for pattern, written in _SPOKEN:
        found = re.fullmatch(pattern, spoken)
        if found is None:
            continue
        meant = found.expand(written)
        meant = "-".join(part.zfill(2) for part in meant.strip("-").split("-"))
        return meant if read_edtf(meant) is not None else ""
    return ""


def _of_a_month(spoken: str) -> str:
    """Return ``3 May 1871``, ``May 3, 1871`` or ``May 1871`` as it is written.

    A day that the month never had is returned too: it is kept so, and asked about.
    """
    found = re.fullmatch(
        r"(?:(\d{1,2})\.?\s+)?([a-z]{3,9})\.?\s+(?:(\d{1,2}),?\s+)?(\d{4})", spoken
    )
    if found is None or (found[1] and found[3]):
        return ""
    months = [number for number, name in enumerate(_MONTHS, 1)
              if name.startswith(found[2])]  # fmt: skip
    if len(months) != 1:
        return ""
    day = found[1] or found[3]
    return "-".join([found[4], f"{months[0]:02d}", *([day.zfill(2)] if day else [])])


def _date(text: str) -> DateRead | None:
    """Read one date with its mark of doubt; None where it is none."""
    found = re.fullmatch(r"(.+?)([?~%]?)", text)
    if found is None:
        return None
    bare, doubt = found.groups()
    date = _long_year(bare) or _of_day(bare) or _with_time(bare)
    if date is None:
        return None
    first, last, season = date
    return DateRead(first, last, season, doubt in ("?", "%"), doubt in ("~", "%"))


_Span = tuple[Day, Day, int | None]


def _long_year(text: str) -> _Span | None:
    found = _LONG_YEAR.fullmatch(text)
    if found is None:
        return None
    year = int(found["year"])
    return (year, 1, 1), (year, 12, 31), None


def _with_time(text: str) -> _Span | None:
    date, mark, time = text.partition("T")
    read = _of_day(date) if mark and _TIME.fullmatch(time) else None
    return read if read is not None and read[0] == read[1] else None


def _of_day(text: str) -> _Span | None:
    """Read a year, month or day, with X for digits that are not known."""
    found = _DATE.fullmatch(text)
    if found is None:
        return None
    year, month, day = found["year"], found["month"], found["day"]
    if "X" in year and month is not None:
        return None  # level 2: which of the years has that month is not known
    ends = sorted((int(year.replace("X", "0")), int(year.replace("X", "9"))))
    if year == "-0000":
        return None
    if month in (None, "XX"):
        if day not in (None, "XX"):
            return None
        return (ends[0], 1, 1), (ends[1], 12, 31), None
    number, which = int(month or 0), ends[0]
    if day is None and number in _SEASONS:
        return (which, 1, 1), (which, 12, 31), number
    if not 1 <= number <= 12:
        return None
    longest = _DAYS[number - 1]
    if number == 2 and not calendar.isleap(which):
        longest = 28
    if day in (None, "XX"):
        return (which, number, 1), (which, number, longest), None
    if not 1 <= int(day or 0) <= longest:
        return None
    exact = (which, number, int(day or 0))
    return exact, exact, None
