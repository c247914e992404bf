"""Read dates as people wrote them, and say what cannot be told.

What is written is kept as written beside what it is taken to mean. A day of the Julian
calendar becomes the Gregorian day; one whose calendar is not said, in years in which
both were in use, a year of two digits, a day that never was and a span that ends before
it begins are told, never guessed: the first is asked about, the others are kept as
dates that say nothing until somebody tells what is meant.
"""

from __future__ import annotations

import calendar
import re
from dataclasses import dataclass
from typing import Literal

from wherestood.errors import EvidenceError
from wherestood.evidence.edtf import Day, check_edtf, read_edtf

__all__ = [
    "COUNTS_NOTHING", "FIRST_YEAR", "LAST_YEAR", "YEAR_UNTOLD", "Calendar", "Written",
    "calendar_doubt", "gregorian_of_julian", "read_written", "what_is_untold",
    "years_meant",
]  # fmt: skip

Calendar = Literal["gregorian", "julian", "not stated"]
#: Russia changed in 1918 and Greece in 1923: common practice. Dates of other countries
#: in the years of photography are Gregorian.
LAST_JULIAN_YEAR = 1923
#: What a date means of which that must still be told: any of the years of plates.
FIRST_YEAR, LAST_YEAR = 1839, 1955
YEAR_UNTOLD = f"{FIRST_YEAR}/{LAST_YEAR}"
#: Stands in the note of such a date.
COUNTS_NOTHING = "counts nothing until"
_OLD = re.compile(r"\b(o\.?\s?s\.?|old style|julian)(?=\W|$)", re.IGNORECASE)
_NEW = re.compile(r"\b(n\.?\s?s\.?|new style|gregorian)(?=\W|$)", re.IGNORECASE)
_DAY = re.compile(r"(-?\d{4})-(\d\d)(?:-(\d\d))?[?~%]?")
_TWO_DIGITS = re.compile(
    r"['’](?P<a>\d\d)\b|(?<![\d-])\d{1,2}([./-])\d{1,2}\2(?P<b>\d\d)\b(?!\d)"
    r"|^(?:\d{1,2}\.?\s+)?[A-Za-z]{1,9}\.?\s+(?:\d{1,2},\s*)?(?P<c>\d\d)$"
    r"|^(?P<d>\d\d)$"
)


@dataclass(frozen=True)
class Written:
    """Be a date as written, and what it is taken to mean.

    Attributes
    ----------
    words : str
        As written.
    edtf : str
        What it means, EDTF, Gregorian.
    notes : tuple of str
        What was done, and what is in doubt.
    """

    words: str
    edtf: str
    notes: tuple[str, ...]


def gregorian_of_julian(day: Day) -> Day:
    """Return the Gregorian day of a day of the Julian calendar.

    By the day's number, counted from 1 March of the year -4800 (Richards, "Mapping
    Time", 1998, in the form of the Explanatory Supplement to the Astronomical Almanac).

    Examples
    --------
    >>> gregorian_of_julian((1582, 10, 5))
    (1582, 10, 15)
    >>> gregorian_of_julian((1918, 2, 1))
    (1918, 2, 14)
    """
    year, month, in_month = day
    # Julian day number of a date of the Julian calendar.
    shift = (14 - month) // 12
    years, months = year + 4800 - shift, month + 12 * shift - 3
    number = in_month + (153 * months + 2) // 5 + 365 * years + years // 4 - 32083
    # And back, to the Gregorian calendar.
    f = number + 1401 + ((4 * number + 274277) // 146097) * 3 // 4 - 38
    e = 4 * f + 3
    h = 5 * ((e % 1461) // 4) + 2
    month = (h // 153 + 2) % 12 + 1
    return e // 1461 - 4716 + (14 - month) // 12, month, (h % 153) // 5 + 1


def _never_was(bare: str, *, julian: bool) -> str:
    """Say which month or day no year has, or that a span ends before it begins."""
    parts = bare.split("/")
    for part in parts:
        found = _DAY.fullmatch(part)
        if found is None:
            continue
        year, month = int(found[1]), int(found[2])
        if not (1 <= month <= 12 or 21 <= month <= 41):
            return f"It has a month {month}; a year has twelve."
        if found[3] is None or month > 12:
            continue
        day, days = int(found[3]), _days_in(year, month, julian=julian)
        if not 1 <= day <= days:
            told = f"It has a day {day}; that month had {days}."
            if _days_in(year, month, julian=True) == day:
                told += " In the Julian calendar it had one more: is it O.S.?"
            return told
    ends = [read_edtf(part) for part in parts if part not in ("", "..")]
    read = [end.begin for end in ends if end is not None and end.begin is not None]
    if len(parts) == 2 and len(read) == 2 and read[0].first > read[1].last:
        return "It ends before it begins."
    return ""


def _days_in(year: int, month: int, *, julian: bool) -> int:
    if julian and month == 2:
        return 29 if year % 4 == 0 else 28
    return calendar.monthrange(abs(year) or 4, month)[1]


def what_is_untold(words: str) -> str:
    """Say why a date as written counts nothing until somebody tells what it means.

    Parameters
    ----------
    words : str
        As written.

    Returns
    -------
    str
        A sentence or two; empty where nothing need be told.

    Examples
    --------
    >>> what_is_untold("1871-02-30")
    'It has a day 30; that month had 28.'
    """
    old, bare = _OLD.search(words), _bare(words)
    if years := years_meant(bare):
        asked = " or ".join(map(str, years))
        return f"Its year has two digits. Is it {asked}?"
    return _never_was(bare, julian=old is not None)


def _bare(words: str) -> str:
    """Return a date without the name of its calendar."""
    bare = _NEW.sub("", _OLD.sub("", words)).strip(" (),")
    # A full stop behind it goes; the two dots of an open span stay.
    return re.sub(r"(?<!\.)\.$", "", bare).strip()


def years_meant(words: str) -> tuple[int, ...]:
    """Return the years of plates that a year of two digits may be; none without one.

    Examples
    --------
    >>> years_meant("3.5.71"), years_meant("May '47"), years_meant("1871")
    ((1871,), (1847, 1947), ())
    """
    found = _TWO_DIGITS.search(words.strip())
    if found is None:
        return ()
    digits = int(next(filter(None, found.groupdict().values())))
    both = (1800 + digits, 1900 + digits)
    return tuple(year for year in both if FIRST_YEAR <= year <= LAST_YEAR)


def calendar_doubt(edtf: str, words: str) -> str:
    """Ask which calendar a day is of, where both were in use; else say nothing.

    Parameters
    ----------
    edtf : str
        The date as it is taken.
    words : str
        What it was read from; names the calendar where that was told.
    """
    if _OLD.search(words) or _NEW.search(words):
        return ""
    return " ".join(read_written(edtf, julian_country=True).notes)


def read_written(
    words: str, *, calendar: Calendar | None = None, julian_country: bool = False
) -> Written:
    """Read a date as somebody wrote it.

    Parameters
    ----------
    words : str
        EDTF, with ``O.S.`` or ``Julian`` behind it where it is of the Julian calendar.
    calendar : Calendar, optional
        The calendar, where the source says; else what the words say, else Gregorian.
    julian_country : bool
        Whether it is of a country that kept the Julian calendar until 1918 or later;
        then a day whose calendar is not said is told as doubtful.

    Returns
    -------
    Written
        With notes.

    Raises
    ------
    EvidenceError
        If it is no date, or names two calendars.

    Examples
    --------
    >>> read_written("1871-05-03 O.S.").edtf
    '1871-05-15'
    """
    old, new = _OLD.search(words), _NEW.search(words)
    if old and new:
        raise EvidenceError(
            f"The date {words!r} names two calendars.",
            "Keep the one that the day is counted in; put the other into a note.",
            field="date",
        )
    said = calendar or ("julian" if old else "gregorian" if new else "not stated")
    bare = _bare(words)
    if untold := what_is_untold(f"{bare} O.S." if said == "julian" else bare):
        years = " or ".join(map(str, years_meant(bare)))
        note = f"{untold} It {COUNTS_NOTHING} that is told."
        if years:
            note = f"Its year has two digits, and {COUNTS_NOTHING} it is told: {years}?"
        return Written(words, YEAR_UNTOLD, (note,))
    if said == "julian":
        return _of_julian(words, bare)
    check_edtf(bare, "the date")
    read = read_edtf(bare)
    assert read is not None
    of_a_day = not read.is_span and read.begin is not None
    of_a_day = (
        of_a_day and read.begin is not None and read.begin.first == read.begin.last
    )
    notes: tuple[str, ...] = ()
    old_enough = read.begin is not None and read.begin.first[0] <= LAST_JULIAN_YEAR
    if said == "not stated" and julian_country and of_a_day and old_enough:
        notes = (
            "Nothing says which calendar it is of; were it the Julian, it would be "
            "twelve or thirteen days later. It is taken as Gregorian: write O.S. or "
            "N.S. behind it.",
        )
    return Written(words, bare, notes)


def _of_julian(words: str, bare: str) -> Written:
    """Carry the days of a date to the Gregorian calendar; months and years stand."""
    parts, carried = [], 0
    for part in bare.split("/"):
        found = _DAY.fullmatch(part)
        if found is None or found[3] is None or int(found[2]) > 12:
            parts.append(part)
            continue
        day = gregorian_of_julian((int(found[1]), int(found[2]), int(found[3])))
        doubt = part[-1] if part[-1] in "?~%" else ""
        parts.append("{:04d}-{:02d}-{:02d}".format(*day) + doubt)
        carried += 1
    edtf = "/".join(parts)
    check_edtf(edtf, "the date", behind="O.S.")
    notes = []
    if carried:
        notes.append("Carried from the Julian calendar to the Gregorian.")
    if carried < sum(part not in ("", "..") for part in parts):
        notes.append(
            "It is of the Julian calendar, twelve or thirteen days behind; a month or "
            "year is taken as it stands."
        )
    return Written(words, edtf, tuple(notes))
