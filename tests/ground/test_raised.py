"""Test how rays are followed to ground that may lie higher than its model."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from wherestood.ground.raised import meet_as_modelled, meet_raised
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.meet import GROUND, NEAR, SolidGround

LENS_M, RAISED_M = 1.5, 10.0
PLAIN_M, SLOPE = 2000.0, 0.2
#: The earth's curve over 2 km is 0.3 m, which the slope makes 1.5 m of the way.
FIVE_METRES = 5.0


@pytest.fixture(scope="module")
def mapping(make_mapping, land):
    """Return cameras on a plain that rises beyond 2 km towards north."""
    made = make_mapping(np.random.default_rng(1), count=4)
    rows, columns = land.elevation_m.shape
    row_m = land.south_m + np.arange(rows) * land.cell_m
    begin_m = land.south_m + 0.2 * rows * land.cell_m
    heights = SLOPE * np.maximum(row_m - begin_m - PLAIN_M, 0.0)
    ground = np.repeat(heights[:, None], columns, axis=1).astype(np.float32)
    solid = SolidGround.of(HorizonModel.of(replace(land, elevation_m=ground)))
    draws = made.cameras.draws
    east_m = np.full(4, land.west_m + 0.5 * columns * land.cell_m)
    draws = replace(
        draws, east_m=east_m, north_m=np.full(4, begin_m), lens_m=np.full(4, LENS_M)
    )
    return replace(made, ground=solid, cameras=replace(made.cameras, draws=draws))


def ends(mapping, tangent):
    bearing, rising = np.zeros((4, 1)), np.full((4, 1), tangent)
    first = meet_as_modelled(mapping, bearing, rising)
    return first, meet_raised(mapping, bearing, rising, first, np.array([[RAISED_M]]))


def test_far_ground_may_be_raised_without_swallowing_the_tripod(mapping):
    """Solves 1.5 + 0.02 d = 0.2 (d - 2000) + 10 by hand."""
    first, met = ends(mapping, 0.02)
    assert (first.what == GROUND).all()
    assert (met.what == GROUND).all()
    expected = (LENS_M + SLOPE * PLAIN_M - RAISED_M) / (SLOPE - 0.02)
    np.testing.assert_allclose(met.distance_m, expected, atol=FIVE_METRES)


def test_ground_about_the_tripod_that_is_raised_stays_flagged(mapping):
    """At a hundredth downwards the plain itself is met, 150 m off."""
    first, met = ends(mapping, -0.01)
    assert (first.what == GROUND).all()
    assert (met.what == NEAR).all()
