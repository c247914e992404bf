"""Check dates against the specification's own examples.

SOURCE: Library of Congress, "Extended Date/Time Format (EDTF) Specification", 4
February 2019, levels 0 and 1, the examples of each heading; what they mean is said
there in words, and is written here as first and last days.
"""

from __future__ import annotations

import pytest

from wherestood.errors import EvidenceError
from wherestood.evidence.edtf import check_edtf, read_edtf
from wherestood.evidence.years import years_of

LEVEL_0 = {
    "1985-04-12": ((1985, 4, 12), (1985, 4, 12)),
    "1985-04": ((1985, 4, 1), (1985, 4, 30)),
    "1985": ((1985, 1, 1), (1985, 12, 31)),
    "1985-04-12T23:20:30": ((1985, 4, 12), (1985, 4, 12)),
    "1985-04-12T23:20:30Z": ((1985, 4, 12), (1985, 4, 12)),
    "1985-04-12T23:20:30-04": ((1985, 4, 12), (1985, 4, 12)),
    "1985-04-12T23:20:30+04:30": ((1985, 4, 12), (1985, 4, 12)),
    "1964/2008": ((1964, 1, 1), (2008, 12, 31)),
    "2004-06/2006-08": ((2004, 6, 1), (2006, 8, 31)),
    "2004-02-01/2005-02-08": ((2004, 2, 1), (2005, 2, 8)),
    "2004-02-01/2005-02": ((2004, 2, 1), (2005, 2, 28)),
    "2004-02-01/2005": ((2004, 2, 1), (2005, 12, 31)),
    "2005/2006-02": ((2005, 1, 1), (2006, 2, 28)),
}
LEVEL_1 = {
    "Y170000002": ((170000002, 1, 1), (170000002, 12, 31)),
    "Y-170000002": ((-170000002, 1, 1), (-170000002, 12, 31)),
    "2001-21": ((2001, 1, 1), (2001, 12, 31)),
    "1984?": ((1984, 1, 1), (1984, 12, 31)),
    "2004-06~": ((2004, 6, 1), (2004, 6, 30)),
    "2004-06-11%": ((2004, 6, 11), (2004, 6, 11)),
    "201X": ((2010, 1, 1), (2019, 12, 31)),
    "20XX": ((2000, 1, 1), (2099, 12, 31)),
    "2004-XX": ((2004, 1, 1), (2004, 12, 31)),
    "1985-04-XX": ((1985, 4, 1), (1985, 4, 30)),
    "1985-XX-XX": ((1985, 1, 1), (1985, 12, 31)),
    "1985-04-12/..": ((1985, 4, 12), None),
    "1985-04/..": ((1985, 4, 1), None),
    "1985/..": ((1985, 1, 1), None),
    "../1985-04-12": (None, (1985, 4, 12)),
    "../1985-04": (None, (1985, 4, 30)),
    "../1985": (None, (1985, 12, 31)),
    "1985-04-12/": ((1985, 4, 12), None),
    "1985-04/": ((1985, 4, 1), None),
    "1985/": ((1985, 1, 1), None),
    "/1985-04-12": (None, (1985, 4, 12)),
    "/1985-04": (None, (1985, 4, 30)),
    "/1985": (None, (1985, 12, 31)),
    "-1985": ((-1985, 1, 1), (-1985, 12, 31)),
}


@pytest.mark.parametrize(("text", "span"), (LEVEL_0 | LEVEL_1).items())
def test_the_specification_s_examples_are_read(text: str, span: object) -> None:
    read = read_edtf(text)
    assert read is not None
    begin = read.begin.first if read.begin else None
    end = read.end.last if read.end else None
    assert (begin, end) == span


def test_marks_of_doubt_are_told_apart() -> None:
    said = {
        text: (read.begin.uncertain, read.begin.approximate)
        for text in ("1984?", "1984~", "1984%", "1984")
        if (read := read_edtf(text)) and read.begin
    }
    assert said == {
        "1984?": (True, False),
        "1984~": (False, True),
        "1984%": (True, True),
        "1984": (False, False),
    }


def test_a_season_of_either_hemisphere_keeps_its_code() -> None:
    """Level 2: 25 to 28 are spring to winter of the north, 29 to 32 of the south."""
    seasons = []
    for code in (21, 24, 25, 30, 41):
        read = read_edtf(f"1871-{code}")
        assert read is not None
        assert read.begin is not None
        seasons.append(read.begin.season)
    assert seasons == [21, 24, 25, 30, 41]


@pytest.mark.parametrize(
    "text",
    [
        "", "c. 1875", "1870s", "1875-1880", "1985-13", "1985-04-31", "1900-02-29",
        "2001-20", "2001-42", "1880/1870", "../..", "/", "Y1985", "85", "1985-4",
        "1985-04-12T25:00:00", "1985-04T10:00:00", "1985?~", "1985/1990/2000",
        "198X-04", "1985-XX-12", "-0000", "1985 BC", "19850412", "1985?/..?",
    ],
)  # fmt: skip
def test_what_is_no_date_of_the_form_is_not_read(text: str) -> None:
    assert read_edtf(text) is None


def test_leap_days_are_those_of_the_calendar() -> None:
    assert read_edtf("2000-02-29") is not None
    assert read_edtf("1896-02-29") is not None
    assert read_edtf("0000-02-29") is not None  # 1 BC was a leap year


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("c. 1875", "1875~"), ("1870s", "187X"), ("1870-1880", "1870/1880"),
        ("before 1880", "../1880"), ("after 1880", "1880/.."),
        ("3.5.1871", "1871-05-03"), ("3 May 1871", "1871-05-03"),
        ("Sept. 1871", "1871-09"), ("March 12, 1871", "1871-03-12"),
    ],
)  # fmt: skip
def test_a_usual_spelling_is_answered_with_the_form(text: str, meant: str) -> None:
    with pytest.raises(EvidenceError, match="cannot be read") as raised:
        check_edtf(text, "the plate's date")
    assert f"Is {meant} meant?" in raised.value.remedy


def test_a_spelling_that_is_not_known_gets_the_forms_alone() -> None:
    for text in ("Ju 1871", "1871 spring", "mid-1870s", "3 May 4, 1871"):
        with pytest.raises(EvidenceError) as raised:
            check_edtf(text, "the plate's date")
        assert raised.value.remedy.startswith("Write a year")


def test_years_widen_by_what_about_means_and_stay_open_where_they_are() -> None:
    assert years_of("1875") == (1875.0, 1875.0)
    assert years_of("1875?") == (1875.0, 1875.0)
    assert years_of("1875~") == (1870.0, 1880.0)
    assert years_of("1870~/1880") == (1865.0, 1880.0)
    assert years_of("187X") == (1870.0, 1879.0)
    assert years_of("../1880-05") == (-float("inf"), 1880.0)
    assert years_of("someday") is None
    assert years_of(None) is None
