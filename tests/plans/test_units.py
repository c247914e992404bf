"""Old lengths are read as they are written."""

from __future__ import annotations

import pytest

from wherestood.errors import PlanError
from wherestood.plans.units import old_units, read_length_m

#: A hair's breadth, far below what any chain told.
TENTH_MILLIMETRE = 1e-4


@pytest.mark.parametrize(
    ("words", "feet"),
    [
        # 66 feet and 100 links to the chain, 16 1/2 feet to the rod: derived by hand.
        ("12 chains 50 links", 825.0),
        ("12 chains and 50 links", 825.0),
        ("12c 50l", 825.0),
        ("12 ch. 50 lks.", 825.0),
        ("12.50 chains", 825.0),
        ("1250 links", 825.0),
        ("66' 6\"", 66.5),
        ("66 feet, 6 inches", 66.5),
        ("40 perches", 660.0),
        ("1/4 chain", 16.5),
        ("3 ½ rods", 57.75),
        ("½ mile", 2640.0),
    ],
)
def test_length_is_read_as_written(words: str, feet: float) -> None:
    assert read_length_m(words) == pytest.approx(0.3048 * feet, abs=TENTH_MILLIMETRE)


def test_vara_is_asked_for_its_country() -> None:
    with pytest.raises(PlanError, match="not the same everywhere") as refused:
        read_length_m("100 varas")
    assert "vara (Texas)" in refused.value.remedy
    # 36 varas of Texas are 100 feet.
    expected = pytest.approx(30.48, abs=TENTH_MILLIMETRE)
    assert read_length_m("36 varas", of="Texas") == expected
    assert read_length_m("36 Texas varas") == expected


@pytest.mark.parametrize(
    ("words", "problem"),
    [
        ("12 furlogs", "not known"),
        ("twelve chains", "cannot be read"),
        ("12", "cannot be read"),
        ("", "nothing"),
        ("0 chains", "nothing"),
        ("1/0 chain", "divides by nothing"),
    ],
)
def test_length_that_cannot_be_is_refused(words: str, problem: str) -> None:
    with pytest.raises(PlanError, match=problem):
        read_length_m(words)


def test_misspelt_unit_is_answered_with_near_ones() -> None:
    with pytest.raises(PlanError) as refused:
        read_length_m("12 furlogs")
    assert "furlong" in refused.value.remedy


def test_every_unit_names_its_source_and_no_word_means_two() -> None:
    units = old_units()
    words = [word.casefold() for one in units for word in (one.name, *one.also)]
    assert len(set(words)) == len(words)
    assert all(one.source for one in units)
    assert {one.mark for one in units} == {"seen", "from memory"}
    assert all(0.02 < one.length_m < 2000.0 for one in units)
