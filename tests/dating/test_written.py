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
        ("3 May 71", "1871?"), ("May 3, 71", "1871?"), ("3-5-71", "1871?"),
        ("c. 71", "1871?"), ("71", "1871?"),
    ],
)  # fmt: skip
def test_years_of_two_digits_are_kept_and_asked_about(words: str, asked: str) -> None:
    """Glass plates are of 1839 to 1955, common practice."""
    read = read_written(words)
    assert (read.words, read.edtf) == (words, "1839/1955")
    assert read.notes[0].endswith(asked)


@pytest.mark.parametrize("words", ["1871-05-03 O.S. (N.S.)", "in the autumn"])
def test_what_is_no_date_is_refused(words: str) -> None:
    with pytest.raises(EvidenceError):
        read_written(words)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("1871-02-30", "that month had 28"),
        ("1900-02-29", "In the Julian calendar it had one more"),
        ("1871-13", "a year has twelve"),
        ("1880/1870", "ends before it begins"),
        ("1871-05-03/1871-04", "ends before it begins"),
    ],
)
def test_what_no_calendar_has_is_kept_as_written_and_counts_nothing(
    words: str, told: str
) -> None:
    read = read_written(words)
    assert (read.words, read.edtf) == (words, "1839/1955")
    assert told in read.notes[0]
    assert "counts nothing until" in read.notes[0]


@pytest.mark.parametrize("words", ["1870/..", "../1871-05-03", "1871?/..", "1871/"])
def test_open_spans_and_ends_not_known_stay_as_they_are(words: str) -> None:
    """EDTF level 1: two dots are an open end, none an end that is not known."""
    assert read_written(words).edtf == words


def test_days_of_a_julian_span_are_carried_and_its_leap_day_is_one() -> None:
    assert read_written("1871-05-03/1871-05-09 O.S.").edtf == "1871-05-15/1871-05-21"
    assert read_written("1900-02-29 O.S.").edtf == "1900-03-13"
    half = read_written("1871-05-03/1872 O.S.")
    assert half.edtf == "1871-05-15/1872"
    assert "a month or year is taken as it stands" in half.notes[1]


@pytest.mark.parametrize(
    ("words", "offered"),
    [
        ("3 May 1871 (O.S.)", "Is 1871-05-03 O.S. meant?"),
        ("29 Feb 1875", "Is 1875-02-29 meant?"),
        ("summer 1875", "Is 1875-22 meant?"),
        ("between 1870 and 1875", "Is 1870/1875 meant?"),
        ("1871-5-3", "Is 1871-05-03 meant?"),
    ],
)
def test_what_people_write_is_offered_as_it_can_be_read(
    words: str, offered: str
) -> None:
    with pytest.raises(EvidenceError) as refused:
        read_written(words)
    assert offered in str(refused.value)


def test_a_leap_day_and_a_span_within_a_year_are_dates() -> None:
    assert read_written("1872-02-29").edtf == "1872-02-29"
    assert read_written("1871/1871-05").notes == ()
