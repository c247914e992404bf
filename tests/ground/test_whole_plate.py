"""Test that a plate followed in stripes is that followed point by point."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from wherestood.earth.frame import Frame
from wherestood.fix.camera_draws import CameraDraws
from wherestood.ground.cameras import PlateCameras
from wherestood.ground.mapping import KnownPlace, Mapping
from wherestood.ground.standing import central_standing
from wherestood.ground.viewshed import viewshed_from
from wherestood.ground.whole_plate import whole_plate
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.meet import GROUND, SolidGround, meet_ground
from wherestood.terrain.model import Terrain

#: float32 over some kilometres; of all pixels, where a crest is skimmed.
ONE_DECIMETRE, ALL_BUT = 0.1, 2e-4


@pytest.mark.parametrize("model_m", [5.0, -5.0])
def test_a_tripod_stands_on_its_own_ground_though_the_model_has_it_otherwise(
    model_m,
) -> None:
    """A plain at nought that a model has 5 m too high, or too low, all over.

    The camera's height is right, 1.5 m: under the model, or 6.5 m over it.
    """
    level = Terrain(
        np.full((401, 401), model_m, np.float32), -2000.0, -2000.0, 10.0,
        Frame.local(-27.5, 41.2), "ground", 10.0, refraction=1.0,
    )  # fmt: skip
    one = [0.0, 0.0, 1.5, 0.0, -0.05, 0.0, 400.0, *[0.0] * 6]
    draws = CameraDraws(*(np.array([v]) for v in one), np.array([False]))
    mapping = Mapping(
        SolidGround.of(HorizonModel.of(level)), PlateCameras(draws, 90, 60), (90, 60),
        (KnownPlace(0.0, 0.0, 1.0),), "located",
    )  # fmt: skip
    standing = central_standing(mapping)
    [stripe] = whole_plate(mapping)
    assert viewshed_from(standing.ground, (0.0, 0.0, 1.5)).any()
    distance = stripe.distance_m[:, 45].astype(float)
    met = np.isfinite(distance)
    assert met.sum() > 15
    assert distance[met].min() < 30.0
    # As much as it is off under the tripod the model is taken to be off about it.
    reach_m = mapping.doubts.correlated_m
    ground = model_m * (1.0 - np.exp(-distance / reach_m))
    ray = 1.5 + mapping.cameras.directions([45.5], np.arange(60) + 0.5)[1][0] * distance
    assert np.abs(ray - ground)[met].max() < ONE_DECIMETRE


def test_every_pixel_lies_where_its_own_ray_meets_the_ground(make_mapping):
    rng = np.random.default_rng(91)
    mapping = make_mapping(rng, count=40)
    small = replace(
        mapping,
        cameras=replace(
            mapping.cameras,
            draws=replace(
                mapping.cameras.draws,
                principal_distance_px=mapping.cameras.draws.principal_distance_px / 8,
                rise_px=mapping.cameras.draws.rise_px / 8,
                cross_px=mapping.cameras.draws.cross_px / 8,
                roll_rad=mapping.cameras.draws.roll_rad + 0.05,
            ),
            width_px=375,
            height_px=275,
        ),
        scan_px=(375, 275),
    )
    stripes = list(whole_plate(small, rows=64))
    assert [one.first_row for one in stripes] == [256, 192, 128, 64, 0]
    distance = np.vstack([one.distance_m for one in stripes[::-1]])
    east = np.vstack([one.east_m for one in stripes[::-1]])
    assert distance.shape == (275, 375)
    standing = central_standing(small)
    camera = standing.cameras
    x, y = np.meshgrid(np.arange(375) + 0.5, np.arange(275) + 0.5)
    bearing, tangent = camera.directions(x.ravel(), y.ravel())
    met = meet_ground(
        standing.ground, camera.draws.east_m, camera.draws.north_m, camera.draws.lens_m,
        bearing[0], tangent[0],
    )  # fmt: skip
    alone = np.where(met.what == GROUND, met.distance_m, np.nan).reshape(275, 375)
    assert 0.2 < np.isfinite(alone).mean() < 0.9
    both = np.isfinite(alone) & np.isfinite(distance)
    assert np.mean(np.isfinite(alone) != np.isfinite(distance)) < ALL_BUT
    off = np.abs(distance - alone)[both]
    assert np.mean(off > ONE_DECIMETRE) < ALL_BUT
    place = camera.draws.east_m[0] + alone * np.sin(bearing.reshape(275, 375))
    assert np.quantile(np.abs(east - place)[both], 0.999) < 10 * ONE_DECIMETRE
