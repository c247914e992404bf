"""Check that a published fix gives back the cameras and places it was made with."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from wherestood.errors import InputError, TerrainError
from wherestood.fix.camera_draws import CameraDraws
from wherestood.notebook import LocatedPlate
from wherestood.record.fix_json import fix_to_json
from wherestood.record.mapping_json import mapping_of_fix

COUNT = 90
ONE_CENTIMETRE = 0.02


@pytest.fixture
def several(scene, tmp_path):
    """Return a fix of three places, 30 cameras about each of two."""
    fix, inputs = scene.scene(tmp_path, "several places")
    none = np.zeros(COUNT)
    at = np.repeat([0.0, 1.0], [60, 30])
    draws = CameraDraws(
        -1400.0 * at, -900.0 * at, none + 131.0, none + 0.6, none, none, none + 1900.0,
        none + 120.0, none, none, none, none, none, none > 0.0,
    )  # fmt: skip
    return replace(fix, draws=draws), inputs


def test_cameras_of_a_place_are_those_that_stand_nearest_to_it(several) -> None:
    mapping = LocatedPlate(*several).on_ground()
    assert len(mapping.cameras) == COUNT
    assert not mapping.rough
    assert "over all places" in mapping.caution()
    second = mapping.at_place(2)
    assert len(second.cameras) == 30
    assert np.abs(second.cameras.draws.east_m + 1400.0).max() < ONE_CENTIMETRE
    assert "at place 2" in second.caution()
    with pytest.raises(InputError, match="at least 30"):
        replace(mapping, made_up=None).at_place(3)
    with pytest.raises(InputError, match="no place 9"):
        mapping.at_place(9)


def test_a_place_of_hardly_any_cameras_has_rough_ones_of_its_own_doubts(
    several,
) -> None:
    fix, _ = several
    mapping = LocatedPlate(*several).on_ground()
    third, place = mapping.at_place(3), mapping.places[2]
    station = fix.alternatives[1].station
    draws = third.cameras.draws
    assert third.scarce
    assert "at place 3" in third.caution()
    assert "hardly any cameras there" in third.caution()
    assert abs(draws.east_m.mean() - place.east_m) < 3.0 * station.sd_east_m
    assert np.std(draws.east_m) == pytest.approx(station.sd_east_m, rel=0.2)
    assert not mapping.at_place(2).scarce


def test_fix_without_cameras_gives_rough_ones_about_its_answer(scene, several) -> None:
    fix, inputs = several
    form = fix_to_json(replace(fix, draws=None), inputs, scene.MAKING)
    mapping = mapping_of_fix(form, inputs.terrain)
    assert mapping.rough
    draws = mapping.cameras.draws
    assert abs(draws.east_m.mean() - fix.station.east_m) < 3.0 * fix.station.sd_east_m
    assert np.std(draws.east_m) == pytest.approx(fix.station.sd_east_m, rel=0.2)


def test_terrain_that_does_not_reach_the_camera_is_refused(scene, several) -> None:
    fix, inputs = several
    form = fix_to_json(fix, inputs, scene.MAKING)
    away = replace(inputs.terrain, west_m=inputs.terrain.west_m + 40_000.0)
    with pytest.raises(TerrainError, match="does not reach the camera"):
        mapping_of_fix(form, away)
