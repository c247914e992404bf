"""Test the cameras of a fix against the one camera of the camera package."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from wherestood.camera.model import Camera, bearing_elevation, project
from wherestood.ground.cameras import PlateCameras
from wherestood.plate.straight import straight_by_corners

A_MILLIONTH_DEGREE = np.radians(1e-6)
A_THOUSANDTH_PX = 1e-3
WIDTH_PX, HEIGHT_PX = 3000, 2200
#: A plate of 3000 px and a lens of 3300, give or take its doubt and cross: 25 degrees.
HALF_THE_WIDEST_RAD = np.radians(27.0)


@pytest.fixture
def cameras(make_draws, middle_camera):
    rng = np.random.default_rng(8)
    draws = make_draws(middle_camera, rng.standard_normal((12, 13)))
    turned = rng.uniform(size=12) < 0.5
    return PlateCameras(replace(draws, reversed=turned), WIDTH_PX, HEIGHT_PX)


def test_directions_are_those_of_the_camera_package(cameras):
    none = np.zeros(12)
    plain = replace(
        cameras,
        draws=replace(
            cameras.draws, vertical_scale=none, warp_two_px=none, warp_three_px=none
        ),
    )
    x, y = np.array([10.0, 1500.0, 2900.0]), np.array([50.0, 1800.0, 1100.0])
    bearing, tangent = plain.directions(x, y)
    back_x, back_y = plain.pixels(bearing, tangent)
    d = plain.draws
    for row in range(12):
        one = Camera(
            d.bearing_rad[row], d.tilt_rad[row], d.roll_rad[row],
            d.principal_distance_px[row], d.rise_px[row], d.cross_px[row], d.k1[row],
            WIDTH_PX, HEIGHT_PX, bool(d.reversed[row]),
        )  # fmt: skip
        b, e = bearing_elevation(one, x, y)
        turn = (bearing[row] - b + np.pi) % (2 * np.pi) - np.pi
        assert np.abs(turn).max() < A_MILLIONTH_DEGREE
        assert np.abs(np.arctan(tangent[row]) - e).max() < A_MILLIONTH_DEGREE
        way = np.stack((np.sin(b), np.cos(b), np.tan(e)), axis=-1)
        shown = project(one, way)
        assert np.abs(back_x[row] - shown[0]).max() < A_THOUSANDTH_PX
        assert np.abs(back_y[row] - shown[1]).max() < A_THOUSANDTH_PX


def test_pixels_undo_directions_on_a_bent_plate_with_corners(cameras):
    corners = ((100.0, 80.0), (2950.0, 130.0), (2920.0, 2150.0), (70.0, 2090.0))
    straight = straight_by_corners(corners, (216.0, 165.0))
    laid = replace(
        cameras,
        width_px=straight.width_px,
        height_px=straight.height_px,
        straight=straight,
    )
    rng = np.random.default_rng(9)
    x, y = rng.uniform(120, 2880, 40), rng.uniform(140, 2070, 40)
    back_x, back_y = laid.pixels(*laid.directions(x, y))
    assert np.abs(back_x - x).max() < A_THOUSANDTH_PX
    assert np.abs(back_y - y).max() < A_THOUSANDTH_PX


def test_what_lies_behind_a_camera_has_no_pixel(cameras):
    behind = cameras.draws.bearing_rad[:, None] + np.pi
    x, y = cameras.pixels(behind, np.zeros((12, 1)))
    assert np.isnan(x).all()
    assert np.isnan(y).all()


@pytest.mark.parametrize("k1", [0.012, 0.0, -0.012])
def test_what_lies_far_off_the_axis_does_not_come_back_into_the_frame(
    cameras, k1
) -> None:
    """All ways round, level: what the camera package has off the plate is off it."""
    bent = replace(
        cameras,
        draws=replace(cameras.draws, k1=np.full(12, k1), reversed=np.zeros(12) > 0),
    )
    bearing = np.broadcast_to(np.radians(np.arange(0.0, 360.0, 0.25)), (12, 1440))
    level = np.full(bearing.shape, -0.02)
    x, y = bent.pixels(bearing, level)
    with np.errstate(invalid="ignore"):
        shown = (x >= 0) & (x <= WIDTH_PX) & (y >= 0) & (y <= HEIGHT_PX)
    assert shown.any(axis=1).all()
    off = bearing - bent.draws.bearing_rad[:, None]
    assert np.abs(np.angle(np.exp(1j * off)))[shown].max() < HALF_THE_WIDEST_RAD
