"""Check that computed ridges are drawn where a camera would show them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial import cKDTree

from wherestood.camera import Camera, project
from wherestood.evidence.unknowns import CAMERA, COUNT
from wherestood.fix.answers import Chosen
from wherestood.fix.picture import computed_ridges, computed_skyline
from wherestood.terrain.ridges import ridge_lines

WIDTH_PX, HEIGHT_PX, DIAGONAL_PX = 1200, 900, 1500.0
STATION_M = (np.array([940.0]), np.array([1240.0]))
COVER_M = 3.0
A_PIXEL = 1.0
ROUNDING_PX = 1e-6
HELD = Camera(
    bearing_rad=0.6,
    tilt_rad=0.04,
    roll_rad=-0.02,
    principal_distance_px=1400.0,
    rise_px=40.0,
    cross_px=-25.0,
    k1=-0.02,
    width_px=WIDTH_PX,
    height_px=HEIGHT_PX,
)


def lens_m(problem):
    return problem.maker.heights(*STATION_M)[0] + problem.maker.lens_height_m


def chosen(problem, hand=0):
    theta = np.zeros(COUNT)
    theta[:7] = [
        HELD.bearing_rad,
        np.log(HELD.principal_distance_px / DIAGONAL_PX),
        HELD.tilt_rad,
        HELD.roll_rad,
        HELD.rise_px / DIAGONAL_PX,
        HELD.cross_px / DIAGONAL_PX,
        HELD.k1,
    ]
    theta[CAMERA] = COVER_M
    place = np.concatenate((*STATION_M, lens_m(problem)))
    return Chosen(None, None, theta, hand, place)


@pytest.fixture(scope="module")
def stretches_px(problem):
    found = computed_ridges(problem, chosen(problem))
    assert len(found) > 100
    return found


def test_computed_ridges_lie_where_the_camera_model_puts_them(problem, stretches_px):
    bearing = HELD.bearing_rad + np.linspace(-0.6, 0.6, 8001)
    found = ridge_lines(
        problem.maker.model, *STATION_M, lens_m(problem), bearing, most=5
    )
    tangent = found.tangent[0] + COVER_M / found.distance_m[0]
    rays = np.stack(
        [
            np.broadcast_to(part[:, None], tangent.shape)
            for part in (np.sin(bearing), np.cos(bearing))
        ]
        + [tangent],
        axis=-1,
    ).reshape(-1, 3)
    seen = np.column_stack(project(HELD, rays[np.isfinite(rays[:, 2])]))
    apart_px, _ = cKDTree(seen).query(stretches_px.reshape(-1, 2))
    assert apart_px.max() < A_PIXEL


def test_computed_ridges_lie_inside_the_scan_below_the_horizon(problem, stretches_px):
    x_px, y_px = stretches_px.reshape(-1, 2).T
    assert ((x_px >= 0.0) & (x_px <= WIDTH_PX)).all()
    assert ((y_px >= 0.0) & (y_px <= HEIGHT_PX)).all()
    line, _ = computed_skyline(problem, chosen(problem))
    shown = np.isfinite(line[:, 0])
    top = np.interp(x_px, *line[shown].T, left=np.nan, right=np.nan)
    inside = np.isfinite(top)
    assert (y_px[inside] > top[inside] - A_PIXEL).all()


def test_stretches_are_no_longer_than_from_one_bearing_to_the_next(stretches_px):
    wide_px = np.abs(np.diff(stretches_px[:, :, 0], axis=1))
    assert wide_px.max() < 2.0 * 1.15 * WIDTH_PX / 400


def test_a_scan_left_for_right_shows_them_mirrored(problem, stretches_px):
    assert problem.hands[1].reversed
    mirrored = computed_ridges(problem, chosen(problem, hand=1))
    mirrored[:, :, 0] = WIDTH_PX - mirrored[:, :, 0]
    np.testing.assert_allclose(mirrored, stretches_px, atol=ROUNDING_PX)
