"""Calls of a deed are read as they are written."""

from __future__ import annotations

import pytest

from wherestood.errors import PlanError
from wherestood.plans.deed import read_bearing_deg, read_call, read_deed

ONE_SECOND_DEG = 1.0 / 3600.0


@pytest.mark.parametrize(
    ("words", "deg"),
    [
        ("214 30'", 214.5),
        ("214° 30'", 214.5),
        ("214 30", 214.5),
        ("214.5", 214.5),
        ("214° 30' 36\"", 214.51),
        ("214 deg 30 min", 214.5),
        ("N 34° 30' E", 34.5),
        ("N34°30'W", 325.5),
        ("S 34 1/2 W", 214.5),
        ("S. 34° 30' E.", 145.5),
        ("South 34 30 West", 214.5),
        ("due West", 270.0),
        ("N.", 0.0),
        ("360", 0.0),
    ],
)
def test_bearing_is_read_as_written(words: str, deg: float) -> None:
    assert read_bearing_deg(words) == pytest.approx(deg, abs=ONE_SECOND_DEG / 10)


@pytest.mark.parametrize(
    "words", ["N 95 E", "214 75'", "361", "E 30 N", "north-east-ish", "", "1 1/0"]
)
def test_bearing_that_cannot_be_is_refused(words: str) -> None:
    with pytest.raises(PlanError):
        read_bearing_deg(words)


def test_call_of_bearing_and_distance_is_read() -> None:
    call = read_call("214 30', 12 chains 50 links")
    assert call.bearing_deg == pytest.approx(214.5, abs=ONE_SECOND_DEG / 10)
    assert call.length_m == pytest.approx(251.46, abs=1e-4)


def test_deed_is_read_call_by_call() -> None:
    calls = read_deed(
        "Thence S. 12° 15' W., 10 chains; thence N 34 30 E for 100 links\n"
        "and due east, 20 rods."
    )
    assert [round(call.bearing_deg, 6) for call in calls] == [192.25, 34.5, 90.0]
    assert [round(call.length_m, 4) for call in calls] == [201.168, 20.1168, 100.584]


def test_deed_names_the_call_that_cannot_be_read() -> None:
    with pytest.raises(PlanError, match="Call 2: The unit 'chians'"):
        read_deed("214 30', 12 chains; 12 00, 3 chians")
    with pytest.raises(PlanError, match="no calls"):
        read_deed(" ;\n ")
