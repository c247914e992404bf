"""Test where rays meet ground whose shape is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from wherestood.earth.frame import Frame
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.meet import (
    BEYOND,
    GROUND,
    HOLE,
    NEAR,
    SKY,
    SolidGround,
    meet_ground,
    nearest_told_m,
)
from wherestood.terrain.model import Terrain

ONE_MILLIMETRE = 1e-3
LENS_M = 120.0


def model_of(heights_m, cell_m=25.0, refraction=0.13) -> HorizonModel:
    rows, columns = heights_m.shape
    return HorizonModel.of(
        Terrain(
            heights_m.astype(np.float32),
            -cell_m * (columns // 2),
            -cell_m * (rows // 2),
            cell_m,
            Frame.local(-27.5, 41.2),
            "ground",
            cell_m,
            refraction,
        )
    )


@pytest.fixture(scope="module")
def plain() -> HorizonModel:
    return model_of(np.zeros((601, 601)))


def one(model, bearing_deg, tangent, **more):
    found = meet_ground(
        SolidGround.of(model),
        0.0,
        0.0,
        LENS_M,
        np.radians([bearing_deg]),
        np.array([tangent]),
        **more,
    )
    return found.what[0], found.distance_m[0], found.grazing_rad[0]


@pytest.mark.parametrize("bearing_deg", [0.0, 17.3, 90.0, 201.9, 270.0])
def test_ray_meets_a_level_plain_where_the_round_earth_has_it(plain, bearing_deg):
    """The nearer root of ``kappa t^2 + T t + h = 0``."""
    for tangent in (-0.4, -0.1, -0.03):
        what, distance_m, grazing = one(plain, bearing_deg, tangent)
        kappa = plain.curvature_per_m
        root = (-tangent - np.sqrt(tangent**2 - 4.0 * kappa * LENS_M)) / (2.0 * kappa)
        assert what == GROUND
        assert abs(distance_m - root) < ONE_MILLIMETRE
        assert grazing == pytest.approx(-np.arctan(tangent + 2 * kappa * root))


def test_ray_meets_the_nearer_of_two_walls_exactly():
    heights = np.zeros((601, 601))
    heights[400:, :] = 300.0
    heights[330:333, 290:311] = 130.0
    model = model_of(heights)
    # The near wall's face rises from node 329 to 330: 130 m within 25 m.
    tangent = -0.05
    what, distance_m, _ = one(model, 0.0, tangent)
    kappa = model.curvature_per_m
    face = np.roots(
        [-kappa, 130.0 / 25.0 - tangent, -29 * 25.0 * 130.0 / 25.0 - LENS_M]
    )
    assert what == GROUND
    assert np.min(np.abs(face - distance_m)) < ONE_MILLIMETRE
    # Over it, the far one.
    assert one(model, 0.0, 0.05)[1] == pytest.approx(2478.0, abs=25.0)


def test_rays_that_meet_nothing_are_told_apart(plain):
    assert one(plain, 40.0, 0.2)[0] == SKY
    # Downhill, but off the model before it meets anything.
    assert one(plain, 40.0, -0.01)[0] == BEYOND
    assert np.isnan(one(plain, 40.0, -0.01)[1])
    hilly = np.zeros((601, 601))
    hilly[10, 10] = 900.0
    # It rises, but hills as high as one that the model has may stand beyond.
    assert one(model_of(hilly), 40.0, 0.02)[0] == BEYOND
    assert one(plain, 40.0, np.nan)[0] == BEYOND


def test_ray_that_passes_unknown_ground_is_not_guessed():
    heights = np.zeros((601, 601))
    heights[340:350, 280:320] = np.nan
    model = model_of(heights)
    assert one(model, 0.0, -0.4)[0] == GROUND  # before it
    assert one(model, 0.0, -0.1)[0] == HOLE  # within it
    # 64 m above its middle, which lies 125 m from what is known ...
    assert one(model, 0.0, -0.05)[0] == HOLE
    # ... and over ground that could not rise to it.
    heights[343:, :] = 0.0
    assert one(model_of(heights), 0.0, -0.05)[0] == GROUND


def test_ray_under_the_ground_where_it_begins_is_too_near_to_tell():
    heights = np.zeros((601, 601))
    heights[290:312, 290:312] = LENS_M + 3.0
    model = model_of(heights)
    assert one(model, 0.0, -0.1)[0] == NEAR
    assert one(model, 0.0, -0.1, nearest_m=400.0)[0] == GROUND


def test_skipped_blocks_change_no_point():
    """A model turned so that blocks fall otherwise gives the same points."""
    rng = np.random.default_rng(5)
    heights = 40.0 * rng.normal(size=(257, 257))
    first = model_of(heights)
    second = model_of(heights[3:, 5:])
    land = replace(
        second.terrain,
        west_m=first.terrain.west_m + 5 * 25.0,
        south_m=first.terrain.south_m + 3 * 25.0,
    )
    second = HorizonModel(land, second.pyramid, second.radius_m)
    bearing = rng.uniform(0.0, 2.0 * np.pi, 500)
    tangent = rng.uniform(-0.5, 0.0, 500)
    found = [
        meet_ground(
            SolidGround.of(m), 0.0, 0.0, 200.0, bearing, tangent, farthest_m=2800.0
        )
        for m in (first, second)
    ]
    both = (found[0].what == GROUND) & (found[1].what == GROUND)
    assert both.sum() > 400
    assert np.abs(found[0].distance_m - found[1].distance_m)[both].max() < (
        ONE_MILLIMETRE
    )


def test_model_tells_nothing_nearer_than_its_cells():
    assert nearest_told_m(30.0) == 45.0
    assert nearest_told_m(0.5) == 2.0
