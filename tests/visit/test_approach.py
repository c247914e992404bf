"""Test that the side to come from is the gentle and dry one."""

from __future__ import annotations

import numpy as np
import pytest

from wherestood.earth.frame import Frame
from wherestood.terrain.model import Terrain
from wherestood.visit.approach import approach_facts, gentlest_approach

CELL_M, NODES = 10.0, 81
MIDDLE_M = CELL_M * (NODES - 1) / 2.0
#: Sides are looked at in steps of a sixteenth of a turn.
ONE_SIDE_DEG = 22.5


def land(water=None):
    """Return a bank of one in two towards south, and level ground towards north."""
    north_m = np.arange(NODES) * CELL_M - MIDDLE_M
    heights = np.repeat(0.5 * np.minimum(north_m, 0.0)[:, None], NODES, axis=1)
    return Terrain(
        heights.astype(np.float32), -MIDDLE_M, -MIDDLE_M, CELL_M,
        Frame.local(7.0, 46.0), "ground", CELL_M, water=water,
    )  # fmt: skip


def test_level_side_is_told_and_not_the_bank() -> None:
    found = gentlest_approach(land(), (0.0, 0.0))
    assert found is not None
    assert np.cos(np.radians(found.bearing_deg)) >= 0.0
    assert found.steepest_deg == pytest.approx(0.0, abs=0.1)
    (name, words), *_ = approach_facts(found, 0.0)
    assert name == "Approach side"
    assert "nowhere steeper than 0°" in words


def test_water_is_not_crossed() -> None:
    """Water lies over all of the level side: the bank is left, as steep as it is."""
    water = np.zeros((NODES, NODES), dtype=np.bool_)
    water[NODES // 2 + 3 :] = True
    water[NODES // 2 - 1 : NODES // 2 + 3, : NODES // 2 - 4] = True
    water[NODES // 2 - 1 : NODES // 2 + 3, NODES // 2 + 5 :] = True
    found = gentlest_approach(land(water), (0.0, 0.0))
    assert found is not None
    assert 180.0 - 4 * ONE_SIDE_DEG < found.bearing_deg < 180.0 + 4 * ONE_SIDE_DEG
    assert found.steepest_deg > 5.0
    water[:] = True
    nowhere = gentlest_approach(land(water), (0.0, 0.0))
    assert nowhere is None
    assert "none" in approach_facts(nowhere, 0.0)[0][1]
