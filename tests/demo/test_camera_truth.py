"""Check the invented camera against geometry done by hand."""

import numpy as np
import pytest

from wherestood.demo.camera_truth import CameraTruth

ONE_MILLIPIXEL = 1e-3


def camera(**changes: float) -> CameraTruth:
    settings = {
        "bearing_deg": 0.0,
        "tilt_deg": 0.0,
        "roll_deg": 0.0,
        "c_px": 1000.0,
        "x0_px": 800.0,
        "y0_px": 600.0,
        "k1": 0.0,
        "width_px": 1600,
        "height_px": 1200,
    }
    return CameraTruth(**{**settings, **changes})


def test_east_lies_right_of_north() -> None:
    x_px, y_px = camera().project(np.array([[0.1, 1.0, 0.2]]))
    assert x_px[0] == pytest.approx(900.0)
    assert y_px[0] == pytest.approx(400.0)


def test_bearing_of_the_axis_is_clockwise_from_north() -> None:
    axis = camera(bearing_deg=90.0, tilt_deg=30.0).axes()[2]
    np.testing.assert_allclose(axis, [np.cos(np.pi / 6), 0.0, 0.5], atol=1e-12)


def test_clockwise_roll_of_the_camera_turns_the_picture_the_other_way() -> None:
    # Rolled clockwise, the camera's right side drops: a level point at the
    # right appears above the middle of the picture.
    _, y_px = camera(roll_deg=5.0).project(np.array([[0.5, 1.0, 0.0]]))
    assert y_px[0] < 600.0


def test_positive_k1_draws_corners_inward() -> None:
    x_px, _ = camera(k1=0.03).project(np.array([[1.0, 1.0, 0.0]]))
    # The half-diagonal is 1000 px; a perfect lens would put the point at 1.0 of it.
    seen = (x_px[0] - 800.0) / 1000.0
    assert seen < 1.0
    assert seen * (1.0 + 0.03 * seen**2) == pytest.approx(1.0)


@pytest.mark.parametrize("mirrored", [False, True])
def test_rays_undo_projection(mirrored: bool) -> None:
    truth = camera(
        bearing_deg=211.0, tilt_deg=-4.0, roll_deg=3.0, k1=-0.03, reversed=mirrored
    )
    x_px, y_px = np.meshgrid(np.linspace(0, 1600, 9), np.linspace(0, 1200, 7))
    back_x_px, back_y_px = truth.project(truth.rays(x_px.ravel(), y_px.ravel()))
    np.testing.assert_allclose(back_x_px, x_px.ravel(), atol=ONE_MILLIPIXEL)
    np.testing.assert_allclose(back_y_px, y_px.ravel(), atol=ONE_MILLIPIXEL)


def test_mirrored_scan_swaps_left_and_right() -> None:
    x_px, _ = camera(reversed=True).project(np.array([[0.1, 1.0, 0.0]]))
    assert x_px[0] == pytest.approx(700.0)
