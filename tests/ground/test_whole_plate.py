"""Test that a plate followed in stripes is that followed point by point."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wherestood.ground.central import central_camera
from wherestood.ground.whole_plate import whole_plate
from wherestood.terrain.meet import GROUND, meet_ground

#: float32 over some kilometres; of all pixels, where a crest is skimmed.
ONE_DECIMETRE, ALL_BUT = 0.1, 2e-4


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
    which = np.array([central_camera(small)])
    camera = small.cameras.take(which)
    x, y = np.meshgrid(np.arange(375) + 0.5, np.arange(275) + 0.5)
    bearing, tangent = camera.directions(x.ravel(), y.ravel())
    met = meet_ground(
        small.ground, camera.draws.east_m, camera.draws.north_m, camera.draws.lens_m,
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
