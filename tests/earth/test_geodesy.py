"""Check geodesics against one another and against hand-derivable ones."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wherestood.earth import distance_and_bearing, place_at

ONE_MICROMETRE = 1e-6
EQUATOR_RADIUS_M = 6_378_137.0


def test_degree_along_the_equator_is_an_arc_of_its_circle() -> None:
    distance_m, bearing_deg = distance_and_bearing(10.0, 0.0, 11.0, 0.0)
    expected_m = np.radians(1.0) * EQUATOR_RADIUS_M
    assert float(distance_m) == pytest.approx(expected_m, abs=ONE_MICROMETRE)
    assert float(bearing_deg) == 90.0


def test_bearings_run_from_zero_to_360() -> None:
    _, bearing_deg = distance_and_bearing(10.0, 0.0, np.array([9.0, 10.0]), 0.5)
    assert 270.0 < bearing_deg[0] < 360.0
    assert bearing_deg[1] == 0.0


@given(
    st.floats(-180.0, 180.0),
    st.floats(-80.0, 80.0),
    st.floats(0.0, 359.9),
    st.floats(10.0, 60_000.0),
)
def test_place_at_and_distance_undo_one_another(
    lon_deg: float, lat_deg: float, bearing_deg: float, distance_m: float
) -> None:
    there = place_at(lon_deg, lat_deg, bearing_deg, distance_m)
    distance, bearing = distance_and_bearing(lon_deg, lat_deg, *there)
    assert float(distance) == pytest.approx(distance_m, abs=ONE_MICROMETRE)
    across_m = np.radians((float(bearing) - bearing_deg + 180.0) % 360.0 - 180.0)
    assert across_m * distance_m == pytest.approx(0.0, abs=ONE_MICROMETRE)
