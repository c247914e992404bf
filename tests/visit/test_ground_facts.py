"""Test that edges and water about a spot are told; the ground is invented."""

from __future__ import annotations

import numpy as np
import pytest

from wherestood.earth.frame import Frame
from wherestood.fix.camera_draws import CameraDraws
from wherestood.ground.cameras import PlateCameras
from wherestood.ground.mapping import Mapping
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.meet import SolidGround
from wherestood.terrain.model import Terrain
from wherestood.visit.ground_facts import ground_facts

HALF_M = 100.0


def told(height, cell_m=1.0, wet=None):
    """Return facts and notes at 0, 0 of ground whose height is a function."""
    count = round(2.0 * HALF_M / cell_m) + 1
    at = np.linspace(-HALF_M, HALF_M, count)
    east, north = np.meshgrid(at, at)
    heights = np.broadcast_to(height(east, north), east.shape).astype(np.float32)
    water = None if wet is None else wet(east, north)
    land = Terrain(
        heights, -HALF_M, -HALF_M, cell_m, Frame.local(7.0, 46.0), "ground", cell_m,
        water=water,
    )  # fmt: skip
    draws = CameraDraws(*[np.zeros(1)] * 13, np.zeros(1, dtype=np.bool_))
    ground = SolidGround.of(HorizonModel.of(land))
    mapping = Mapping(ground, PlateCameras(draws, 40, 30), (40, 30), (), "located")
    notes: list[str] = []
    return dict(ground_facts(mapping, (0.0, 0.0), notes)), notes


def test_a_bank_between_level_and_level_is_told() -> None:
    """8 m within 3 m, 10 m to the east: over 25 m a slope of 18 degrees."""
    facts, notes = told(lambda east, _: -8.0 * np.clip((east - 10.0) / 3.0, 0, 1))
    assert "falls by 18\u00b0 towards" in facts["Ground there"]
    [note] = notes
    assert "drops by 8 m towards east, from 10 m off" in note


def test_even_slopes_that_one_can_walk_are_no_drop() -> None:
    _, notes = told(lambda east, _: -0.5 * east)
    assert notes == []
    _, notes = told(lambda _, north: 40.0 * np.clip(north / 10.0, 0, 1))
    assert notes == []  # a wall above, and no edge


def test_a_steep_fall_is_told_by_a_coarse_model_too() -> None:
    _, notes = told(lambda _, north: -1.0 * north, cell_m=25.0)
    assert "towards north, from 0 m off" in notes[0]
    assert "cells of 25 m" in notes[0]


@pytest.mark.parametrize(("away_m", "said"), [(12.0, True), (80.0, False)])
def test_a_pond_near_by_is_told_wherever_it_lies(away_m, said) -> None:
    def wet(east, north):
        return np.hypot(east - 0.8 * away_m, north + 0.6 * away_m) < 1.2

    _, notes = told(lambda *_: 0.0, wet=wet)
    assert bool(notes) is said
    if said:
        assert "Water lies 11 m" in notes[0]
        assert "south-east" in notes[0]
