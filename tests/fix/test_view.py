"""Check what is said of missing ground in a view, on ground cut by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from wherestood.evidence.unknowns import COUNT
from wherestood.fix.answers import Chosen
from wherestood.fix.problem import set_up
from wherestood.fix.settings import LocateSettings
from wherestood.fix.view import ground_in_view

STATION_M = np.array((10.0, 10.0))  # between nodes
A_FEW_DIRECTIONS = 0.03
# A horizon within two cells of unknown ground is not known: 100 m of 1650 m.
TWO_CELLS = 2.0 * 50.0 / 1650.0
LOOKING_NORTH = np.zeros(COUNT)  # and c as long as the diagonal: 45 deg wide


@pytest.fixture
def view(plate, land, wavy_skyline, area_of):
    """Return the function that looks north over heights given at nodes."""
    at_m = np.arange(-80, 81) * 50.0
    east, north = np.meshgrid(at_m, at_m)
    area = area_of(land, shapely.box(-500.0, -500.0, 500.0, 500.0))

    def looked(heights_of, radius_m=3000.0):
        heights_m = heights_of(east, north).astype(np.float32)
        problem = set_up(
            plate,
            replace(land, elevation_m=heights_m),
            wavy_skyline,
            area,
            LocateSettings(surface="ground", horizon_radius_m=radius_m),
        )
        cell_m = np.array((*STATION_M, 101.5))
        return ground_in_view(problem, Chosen(None, None, LOOKING_NORTH, 0, cell_m))

    return looked


def ridge(_, north):
    """Return a plain with a ridge across, 2 km to the north."""
    return np.where((north >= 1950) & (north <= 2050), 500.0, 100.0)


def test_whole_ground_lacks_nothing(view) -> None:
    seen = view(ridge)
    assert (seen.horizon_unknown, seen.hole_before) == (0.0, 0.0)
    assert seen.ends_m == math.inf


def test_a_hole_before_the_ridge_counts_where_it_stands(view) -> None:
    def heights(east, north):
        hole = (east > 0) & (north > 1000) & (north < 1400)
        return np.where(hole, np.nan, ridge(east, north))

    seen = view(heights)
    assert seen.hole_before == pytest.approx(0.5, abs=A_FEW_DIRECTIONS)
    assert seen.horizon_unknown == 0.0


def test_a_hole_behind_the_ridge_hides_nothing_nearer(view) -> None:
    def heights(east, north):
        return np.where((north > 2400) & (north < 2800), np.nan, ridge(east, north))

    seen = view(heights)
    assert (seen.horizon_unknown, seen.hole_before) == (0.0, 0.0)


def test_a_horizon_at_the_edge_is_not_known(view) -> None:
    def heights(east, north):
        return np.where((east > 0) & (north > 2050), np.nan, ridge(east, north))

    seen = view(heights)
    assert seen.horizon_unknown == pytest.approx(0.5 + TWO_CELLS, abs=A_FEW_DIRECTIONS)
    assert seen.ends_m == pytest.approx(2050.0 - STATION_M[1], abs=60.0)


def test_the_model_ends_where_its_file_does(view) -> None:
    seen = view(ridge, radius_m=30_000.0)
    assert seen.ends_m == pytest.approx(4000.0 - STATION_M[1], abs=60.0)
