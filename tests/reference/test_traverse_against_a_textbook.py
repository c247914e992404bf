"""A traverse of a textbook misses as the textbook says.

SOURCE: C. D. Ghilani, P. R. Wolf, "Elementary Surveying: An Introduction to Geomatics",
chapter on traverse computations, the five-sided traverse ABCDE: lengths, preliminary
azimuths, departures, latitudes and misclosure, in feet. From memory; every departure
and latitude was worked out again from length and azimuth, and agrees but for one in the
last digit.
"""

from __future__ import annotations

import pytest

from wherestood.plans.deed import read_deed
from wherestood.plans.traverse import draw_traverse

FOOT_M = 0.3048
#: The book rounds each departure and latitude to a thousandth of a foot: five of them.
FIVE_ROUNDINGS_FT = 5 * 0.0005
#: The book's last latitude is 255.919 where length and azimuth give 255.9201.
A_ROUNDING_AND_A_HALF_FT = 0.0015
DEED = """126° 55' 17", 647.25 feet
178° 18' 58", 203.03 feet
15° 31' 54", 720.35 feet
284° 35' 20", 610.24 feet
206° 09' 41", 285.13 feet"""
DEPARTURES_FT = [517.451, 5.966, 192.889, -590.565, -125.715]
LATITUDES_FT = [-388.815, -202.942, 694.045, 153.708, -255.919]


def test_misclosure_is_the_published_one() -> None:
    calls = read_deed(DEED)
    drawn = draw_traverse(calls, closes=True)
    assert drawn.misclosure_m is not None
    east_ft, north_ft = drawn.misclosure_m / FOOT_M
    assert east_ft == pytest.approx(0.026, abs=FIVE_ROUNDINGS_FT)
    assert north_ft == pytest.approx(0.077, abs=FIVE_ROUNDINGS_FT)
    assert drawn.linear_misclosure_m is not None
    assert drawn.linear_misclosure_m / FOOT_M == pytest.approx(0.08, abs=0.005)
    assert drawn.length_m / FOOT_M == pytest.approx(2466.00, abs=0.001)
    # The book rounds 2466.00 over 0.08 to 1 in 30 000.
    assert round(drawn.one_in or 0.0, -4) == 30_000


def test_departures_and_latitudes_are_the_published_ones() -> None:
    corners = draw_traverse(read_deed(DEED)).corners_m / FOOT_M
    steps = corners[1:] - corners[:-1]
    assert steps[:, 0] == pytest.approx(DEPARTURES_FT, abs=A_ROUNDING_AND_A_HALF_FT)
    assert steps[:, 1] == pytest.approx(LATITUDES_FT, abs=A_ROUNDING_AND_A_HALF_FT)
