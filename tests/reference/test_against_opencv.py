"""Check projection, its derivatives and the radial term against OpenCV.

SOURCE
OpenCV (opencv-python-headless), ``projectPoints`` and its Jacobian: camera frame x
right, y down, z forward; x_seen = x_ideal (1 + k1 r^2 + k2 r^4 + k3 r^6), r over
the principal distance.

Transformed: here the radial term goes from what is seen to what is ideal, with r
over the half-diagonal. The inverse of ``s (1 + k s^2)`` is the series ``p (1 - k p^2
+ 3 k^2 p^4 - 12 k^3 p^6 + 55 k^4 p^8 ...)`` (Lagrange), which gives OpenCV's terms.
"""

import cv2
import numpy as np
import pytest

from wherestood.camera import (
    Camera,
    axes,
    project_points,
    project_points_derivatives,
    rays,
)

ONE_PIXEL = 1.0
ONE_MICROPIXEL = 1e-6
# The series leaves 55 k^4 p^9 h: 3e-3 px at k1 = 0.01, half-diagonal 1500 px, in the
# corner with the lens axis off the centre (p to 1.15).
SERIES_PX = 3e-3
FLAT = np.inf

STATION_M = np.array([400.0, -250.0, 120.0])


def camera(k1: float) -> Camera:
    return Camera(
        bearing_rad=np.radians(211.0),
        tilt_rad=np.radians(3.0),
        roll_rad=np.radians(-2.0),
        principal_distance_px=2700.0,
        rise_px=140.0,
        cross_px=-35.0,
        k1=k1,
        width_px=2400,
        height_px=1800,
    )


def points(k1: float) -> np.ndarray:
    """Return points all over the frame, at 0.3 to 5 km."""
    rng = np.random.default_rng(7)
    x_px, y_px = rng.uniform(0, 2400, 80), rng.uniform(0, 1800, 80)
    distance_m = rng.uniform(300.0, 5000.0, (80, 1))
    return STATION_M + distance_m * rays(camera(k1), x_px, y_px)


def opencv_pixels(one: Camera, world: np.ndarray, terms: list[float]) -> tuple:
    c = one.principal_distance_px
    centre_x = one.width_px / 2.0 - one.cross_px
    centre_y = one.height_px / 2.0 + one.rise_px
    matrix = np.array([[c, 0.0, centre_x], [0.0, c, centre_y], [0.0, 0.0, 1.0]])
    turn = axes(one) * np.array([[1.0], [-1.0], [1.0]])
    rotation, _ = cv2.Rodrigues(turn)
    pixels, jacobian = cv2.projectPoints(
        world, rotation, -turn @ STATION_M, matrix, np.array(terms)
    )
    return pixels[:, 0, :], jacobian.reshape(-1, 2, jacobian.shape[1]), turn


def test_projection_is_that_of_opencv() -> None:
    one, world = camera(0.0), points(0.0)
    expected, _, _ = opencv_pixels(one, world, [0.0] * 5)
    got = np.stack(project_points(one, STATION_M, world, radius_m=FLAT), axis=-1)
    np.testing.assert_allclose(got, expected, atol=ONE_MICROPIXEL)


@pytest.mark.parametrize("k1", [-0.01, 0.004, 0.01])
def test_projection_with_the_radial_term_is_that_of_opencv(k1: float) -> None:
    one, world = camera(k1), points(k1)
    ratio = (one.principal_distance_px / one.half_diagonal_px) ** 2
    terms = [-k1 * ratio, 3.0 * k1**2 * ratio**2, 0.0, 0.0, -12.0 * (k1 * ratio) ** 3]
    expected, _, _ = opencv_pixels(one, world, terms)
    plain, _, _ = opencv_pixels(one, world, [0.0] * 5)
    got = np.stack(project_points(one, STATION_M, world, radius_m=FLAT), axis=-1)
    np.testing.assert_allclose(got, expected, atol=SERIES_PX)
    # The check would be empty if the term moved nothing.
    assert np.abs(plain - expected).max() > ONE_PIXEL


def test_first_order_conversion_of_the_conventions_is_off_by_the_second() -> None:
    one, world = camera(0.01), points(0.01)
    ratio = (one.principal_distance_px / one.half_diagonal_px) ** 2
    expected, _, _ = opencv_pixels(one, world, [-0.01 * ratio, 0.0, 0.0, 0.0])
    got = np.stack(project_points(one, STATION_M, world, radius_m=FLAT), axis=-1)
    axis_px = np.array([1200.0 + 35.0, 900.0 + 140.0])
    radius = np.linalg.norm(got - axis_px, axis=1) / one.half_diagonal_px
    second_px = 3.0 * 0.01**2 * radius**5 * one.half_diagonal_px
    off_px = np.linalg.norm(got - expected, axis=1)
    # Up to terms of third order, a tenth of the second here.
    np.testing.assert_allclose(off_px, second_px, rtol=0.1, atol=ONE_MICROPIXEL)


def test_derivatives_by_lens_and_station_are_those_of_opencv() -> None:
    one, world = camera(0.0), points(0.0)
    # Columns: rotation 3, translation 3, focal lengths 2, centre 2, radial terms.
    _, expected, turn = opencv_pixels(one, world, [0.0] * 5)
    got = project_points_derivatives(one, STATION_M, world, radius_m=FLAT)
    by_station = -expected[..., 3:6] @ turn
    np.testing.assert_allclose(got.by_direction, by_station, atol=ONE_MICROPIXEL)
    by_lens = expected[..., 6] + expected[..., 7]
    np.testing.assert_allclose(got.by_camera[..., 3], by_lens, atol=ONE_MICROPIXEL)
    np.testing.assert_allclose(got.by_camera[..., 4], expected[..., 9])
    np.testing.assert_allclose(got.by_camera[..., 5], -expected[..., 8])
    ratio = (one.principal_distance_px / one.half_diagonal_px) ** 2
    np.testing.assert_allclose(
        got.by_camera[..., 6], -ratio * expected[..., 10], atol=ONE_MICROPIXEL
    )
