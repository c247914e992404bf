"""Check places on local grids against published ones, and squares by their letters."""

from __future__ import annotations

import re

import numpy as np
import pytest

from wherestood.earth.grid_letters import grid_square
from wherestood.earth.grid_reference import read_grid_reference
from wherestood.record.local_grid import local_grid

#: Datums are known to one another to some metres.
TEN_METRES = 10.0


def test_a_british_place_has_its_published_square_and_metres() -> None:
    """Ordnance Survey, A Guide to Coordinate Systems in Great Britain: Caister water
    tower, TG 51409 13177, at 52 39 27.2531 N, 1 43 4.5177 E on its own datum; on
    WGS 84 by the shift that PROJ has, which is good to some metres.
    """
    assert grid_square(651_409.9, 313_177.3, None, 27700) == "TG"
    told = local_grid(1.716073, 52.658007, 4.0, "EPSG:27700")
    assert told.startswith("square TG: 65141")
    assert "31317" in told or "31318" in told
    assert "British National Grid" in told


@pytest.mark.parametrize("crs", ["", "EPSG:4326", "EPSG:3857", "EPSG:2053", "nonsense"])
def test_terrain_in_degrees_or_of_the_whole_world_is_told_in_utm(crs) -> None:
    """Degrees, a world map, a grid that counts west and south, and none at all."""
    told = local_grid(8.5, 46.5, 12.0, crs)
    assert told.startswith("square MS: ")
    assert told.endswith("(UTM 32T, WGS 84)")
    assert "give or take 12 m" in told


def test_a_grid_in_feet_is_told_in_feet() -> None:
    told = local_grid(-73.9857, 40.7484, 3.0, "EPSG:2263")
    # 3 m, and the 4 m to which the two datums are known to one another (EPSG).
    assert "give or take 16 ft" in told
    assert "New York Long Island" in told
    # The Empire State Building stands at some 988 200 E, 211 900 N: from memory.
    assert told.startswith("9882")


@pytest.mark.parametrize(
    ("lon_deg", "lat_deg", "crs"),
    [
        (-2.1, 53.4, "EPSG:27700"), (-7.9, 53.1, "EPSG:29902"), (151.2, -33.8, ""),
        (-157.9, 21.3, ""), (16.1, 78.2, ""),
    ],
)  # fmt: skip
def test_letters_and_metres_are_read_back(lon_deg, lat_deg, crs) -> None:
    told = local_grid(lon_deg, lat_deg, 5.0, crs)
    square, east, north = re.match(r"square (\w+): (\d+) E, (\d+) N", told).groups()
    zone = re.search(r"UTM (\w+)", told)
    digits = f"{east[-5:]} {north[-5:]}"
    read = read_grid_reference(f"{zone[1] if zone else ''} {square} {digits}")
    metres = 111_320.0 * np.hypot(
        (read.lon_deg - lon_deg) * np.cos(np.radians(lat_deg)), read.lat_deg - lat_deg
    )
    assert metres < TEN_METRES


def test_no_grid_is_told_near_a_pole() -> None:
    assert local_grid(10.0, 88.0, 5.0) == ""
