"""Check that hills are those about what lies in the sun, on ground drawn by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wherestood.daybook.hills import hills_at
from wherestood.earth.frame import Frame
from wherestood.terrain.ground import standing_ground
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.model import Terrain

CELL_M, SIDE = 25.0, 401
LON, LAT = 8.5, 46.1
LENS_M, WALL_M, WALL_EAST_M = 50.0, 200.0, 3000.0
#: What the earth's curve and an eye of 1.5 m leave of 11 deg.
A_FIFTH_DEG = 0.2


def horizon_deg(*seen: tuple[float, float]) -> float:
    """Return how high a wall 3 km east of the camera stands in the east."""
    heights = np.zeros((SIDE, SIDE), dtype=np.float32)
    middle = SIDE // 2
    east = middle + round(WALL_EAST_M / CELL_M)
    heights[:, east : east + 4] = WALL_M
    model = HorizonModel.of(
        Terrain(
            heights, -CELL_M * middle, -CELL_M * middle, CELL_M, Frame.local(LON, LAT),
            "ground", CELL_M, 0.13,
        )
    )  # fmt: skip
    standing = standing_ground(model.terrain)
    horizon = hills_at(model, standing, LON, LAT, LENS_M, seen)
    return math.degrees(horizon(np.array([math.pi / 2.0]))[0])


def test_hills_stand_as_they_do_about_the_shadow_s_own_place() -> None:
    """By hand: 150 m at 3 km from the camera, 200 m at 1 km from a post 2 km off."""
    post = (math.pi / 2.0, -LENS_M / 2000.0)
    of_camera, of_post = (
        math.degrees(math.atan(rise / far))
        for rise, far in ((150.0, 3000.0), (200.0, 1000.0))
    )
    assert horizon_deg() == pytest.approx(of_camera, abs=A_FIFTH_DEG)
    assert horizon_deg(post) == pytest.approx(of_post, abs=A_FIFTH_DEG)
    # Of two the sun must clear the higher; what is not on the ground says nothing.
    sky, behind = (math.pi / 2.0, 0.1), (1.5 * math.pi, -LENS_M / 1000.0)
    assert horizon_deg(post, behind) == pytest.approx(of_post, abs=A_FIFTH_DEG)
    assert horizon_deg(sky) == pytest.approx(of_camera, abs=A_FIFTH_DEG)
