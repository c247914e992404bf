"""Check dates as people wrote them."""

from __future__ import annotations

import pytest

from wherestood.dating.written import gregorian_of_julian, read_written
from wherestood.errors import EvidenceError


@pytest.mark.parametrize(
    ("julian", "gregorian"),
    [
        # The two calendars' first day apart, by decree of 1582.
        ((1582, 10, 5), (1582, 10, 15)),
        # Britain's change: 2 September 1752 was followed by the 14th.
        ((1752, 9, 3), (1752, 9, 14)),
        # Russia's: 31 January 1918 was followed by 14 February.
        ((1918, 2, 1), (1918, 2, 14)),
        # The Julian leap day that the Gregorian calendar does not have.
        ((1900, 2, 29), (1900, 3, 13)),
        ((1871, 12, 25), (1872, 1, 6)),
    ],
)
def test_julian_days_are_carried_over(
    julian: tuple[int, int, int], gregorian: tuple[int, int, int]
) -> None:
    """SOURCE: the decrees, common practice."""
    assert gregorian_of_julian(julian) == gregorian


def test_the_words_stay_and_what_was_done_is_told() -> None:
    read = read_written("1871-05-03? O.S.")
    assert read.words == "1871-05-03? O.S."
    assert read.edtf == "1871-05-15?"
    assert "Julian" in read.notes[0]


def test_a_calendar_not_stated_is_told_where_both_were_used() -> None:
    assert read_written("1871-05-03").notes == ()
    (note,) = read_written("1871-05-03", julian_country=True).notes
    assert "Nothing says which calendar" in note
    assert read_written("1871-05-03 N.S.", julian_country=True).notes == ()


@pytest.mark.parametrize(
    ("words", "asked"),
    [
        ("3.5.71", "1871?"), ("May '71", "1871?"), ("'12", "1912?"),
        ("May 47", "1847 or 1947?"), ("may ’55", "1855 or 1955?"),
    ],
)  # fmt: skip
def test_years_of_two_digits_are_kept_and_asked_about(words: str, asked: str) -> None:
    """Glass plates are of 1839 to 1955, common practice."""
    read = read_written(words)
    assert (read.words, read.edtf) == (words, "1839/1955")
    assert read.notes[0].endswith(asked)


@pytest.mark.parametrize(
    "words", ["1871-02-30", "1871-13", "1880/1870", "1871-05-03 O.S. (N.S.)"]
)
def test_impossible_dates_are_refused(words: str) -> None:
    with pytest.raises(EvidenceError):
        read_written(words)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("1871-02-30", "that month had 28"),
        ("1900-02-29", "In the Julian calendar 1900 had"),
        ("1871-13", "a year has twelve"),
        ("1880/1870", "ends before it begins"),
        ("1871-05-03/1871-04", "ends before it begins"),
    ],
)
def test_what_no_calendar_has_is_refused_by_name(words: str, told: str) -> None:
    with pytest.raises(EvidenceError) as refused:
        read_written(words)
    assert told in str(refused.value)


def test_a_leap_day_and_a_span_within_a_year_are_dates() -> None:
    assert read_written("1872-02-29").edtf == "1872-02-29"
    assert read_written("1871/1871-05").notes == ()
