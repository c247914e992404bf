from __future__ import annotations

import math

import pyproj
import pytest
import shapely

from wherestood.errors import AreaError
from wherestood.fix.area import read_area
from wherestood.fix.terrain_needed import terrain_needed, uncovered

ROUNDING_M = 250.0  # 0.001 deg at either end


def test_far_rectangle_reaches_the_horizon_beyond_area_and_ring() -> None:
    # A circle of 3 km: its ring is half its area over its outline, 0.75 km, so the
    # rectangle is 2 x (3 + 0.75 + 30) km wide.
    needed = terrain_needed(read_area("8.5,46.1,3km"), 125.0)
    assert needed.far.width_m == pytest.approx(67_500.0, rel=0.01)
    geod = pyproj.Geod(ellps="WGS84")
    _, _, across_m = geod.inv(needed.far.west_deg, 46.1, needed.far.east_deg, 46.1)
    assert across_m == pytest.approx(67_500.0, abs=1000.0)
    assert needed.near.width_m == pytest.approx(2 * (3_000 + 750 + 3_000), rel=0.01)


def test_both_kinds_of_numbers_hold_the_same_ground() -> None:
    needed = terrain_needed(read_area("-70.6,-33.4,2km"), 50.0)
    far = needed.far
    assert far.grid == "EPSG:32719"
    to = pyproj.Transformer.from_crs("EPSG:4326", far.grid, always_xy=True)
    x, y = to.transform(
        [far.west_deg, far.east_deg, far.west_deg, far.east_deg],
        [far.south_deg, far.south_deg, far.north_deg, far.north_deg],
    )
    # The grid's box lies about the ground, whose edges bend by some hundred metres.
    assert far.west_m == pytest.approx(min(x), abs=1_500.0)
    assert far.east_m == pytest.approx(max(x), abs=1_500.0)
    assert far.north_m == pytest.approx(max(y), abs=1_500.0)


@pytest.mark.parametrize(
    ("near_enough_m", "cell_m"),
    [(500.0, 30.0), (125.0, 25.0), (50.0, 10.0), (10.0, 2.0), (2.0, 1.0)],
)
def test_cell_is_a_fifth_of_what_is_near_enough(
    near_enough_m: float, cell_m: float
) -> None:
    needed = terrain_needed(read_area("8.5,46.1,3km"), near_enough_m)
    assert needed.near_cell_m == cell_m
    nodes = needed.near.width_m * needed.near.height_m / cell_m**2
    assert needed.near_bytes == pytest.approx(4.0 * nodes)


def test_squares_of_a_degree_are_named_by_their_south_west_corners() -> None:
    needed = terrain_needed(read_area("8.0,46.0,500m"), 125.0)
    assert set(needed.degree_squares) == {"N45E007", "N45E008", "N46E007", "N46E008"}
    west = terrain_needed(read_area("-0.5,-0.5,500m"), 125.0)
    assert set(west.degree_squares) == {"S01W001"}
    far_east = terrain_needed(read_area("179.99,-20.5,500m"), 125.0)
    assert set(far_east.degree_squares) == {"S21E179", "S21W180"}


def test_what_is_there_already_is_taken_off() -> None:
    far = terrain_needed(read_area("8.5,46.1,3km"), 125.0).far
    middle = (far.west_deg + far.east_deg) / 2.0
    half = shapely.box(far.west_deg, far.south_deg, middle, far.north_deg)
    assert uncovered(far, [half]) == pytest.approx(0.5, abs=0.01)
    assert uncovered(far, [half, far.box()]) == pytest.approx(0.0, abs=1e-9)
    assert uncovered(far, []) == pytest.approx(1.0)


@pytest.mark.parametrize("wrong", [0.0, -1.0, math.nan, math.inf])
def test_a_distance_that_is_none_is_refused(wrong: float) -> None:
    with pytest.raises(AreaError):
        terrain_needed(read_area("8.5,46.1,3km"), wrong)


def test_a_pole_is_refused() -> None:
    with pytest.raises(AreaError, match="pole"):
        terrain_needed(read_area("8.5,89.5,3km"), 125.0)
