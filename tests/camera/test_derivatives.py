"""Check derivatives of the projection against finite differences."""

from dataclasses import replace

import numpy as np
import pytest

from wherestood.camera import (
    CAMERA_PARAMETERS,
    Camera,
    project,
    project_points,
    project_points_derivatives,
    projection_derivatives,
    rays,
)
from wherestood.earth.curvature import drop_m

# Central differences of step 1e-6 of each unknown's size lose about this much.
DIFFERENCING = 1e-7
STEPS = {"principal_distance_px": 1e-3, "rise_px": 1e-3, "cross_px": 1e-3}
ONE_MICROPIXEL = 1e-6

CAMERAS = [
    Camera(0.7, 0.05, 0.03, 1800.0, 120.0, -40.0, 0.02, 2400, 1800),
    Camera(4.1, -0.08, -0.05, 2600.0, -90.0, 10.0, -0.03, 1800, 2400, True),
    Camera(2.0, -1.3, 0.4, 1500.0, 0.0, 0.0, 0.0, 2000, 2000),
]


def some_directions(camera: Camera) -> np.ndarray:
    rng = np.random.default_rng(4)
    x_px = rng.uniform(0.0, camera.width_px, 40)
    y_px = rng.uniform(0.0, camera.height_px, 40)
    return rays(camera, x_px, y_px) * rng.uniform(0.5, 3.0, (40, 1))


def pixels(camera: Camera, directions: np.ndarray) -> np.ndarray:
    return np.stack(project(camera, directions), axis=-1)


@pytest.mark.parametrize("camera", CAMERAS)
@pytest.mark.parametrize("name", CAMERA_PARAMETERS)
def test_derivative_by_each_camera_parameter(camera: Camera, name: str) -> None:
    directions = some_directions(camera)
    step = STEPS.get(name, 1e-6)
    value = getattr(camera, name)
    expected = (
        pixels(replace(camera, **{name: value + step}), directions)
        - pixels(replace(camera, **{name: value - step}), directions)
    ) / (2.0 * step)
    found = projection_derivatives(camera, directions)
    got = found.by_camera[..., CAMERA_PARAMETERS.index(name)]
    scale = np.abs(expected).max()
    np.testing.assert_allclose(got, expected, atol=DIFFERENCING * scale)
    np.testing.assert_array_equal(found.pixels, pixels(camera, directions))


@pytest.mark.parametrize("camera", CAMERAS)
def test_derivative_by_direction(camera: Camera) -> None:
    directions = some_directions(camera)
    got = projection_derivatives(camera, directions).by_direction
    for axis in range(3):
        step = 1e-6 * np.eye(3)[axis]
        expected = pixels(camera, directions + step) - pixels(camera, directions - step)
        scale = np.abs(got).max()
        np.testing.assert_allclose(
            got[..., axis], expected / 2e-6, atol=DIFFERENCING * scale
        )


def test_derivative_by_station_holds_the_round_earth() -> None:
    camera = CAMERAS[0]
    station_m = np.array([300.0, -200.0, 150.0])
    far = np.array([30_000.0, 60_000.0, 20_000.0])
    points_m = station_m + some_directions(camera) * far.mean()
    got = project_points_derivatives(camera, station_m, points_m)
    for axis in range(3):
        step = 0.1 * np.eye(3)[axis]
        ahead = np.stack(project_points(camera, station_m + step, points_m), axis=-1)
        behind = np.stack(project_points(camera, station_m - step, points_m), axis=-1)
        expected = (ahead - behind) / 0.2
        scale = np.abs(expected).max()
        np.testing.assert_allclose(
            got.by_direction[..., axis], expected, atol=DIFFERENCING * scale
        )


def test_points_are_lowered_by_the_drop() -> None:
    camera = Camera(0.0, 0.0, 0.0, 1000.0, 0.0, 0.0, 0.0, 1600, 1200)
    distance_m = 20_000.0
    _, y_px = project_points(camera, [0.0, 0.0, 100.0], [0.0, distance_m, 100.0])
    expected = 600.0 + 1000.0 * float(drop_m(distance_m)) / distance_m
    assert y_px == pytest.approx(expected, abs=ONE_MICROPIXEL)


def test_derivatives_are_not_numbers_where_nothing_is_seen() -> None:
    found = projection_derivatives(CAMERAS[0], [[-1.0, -1.0, 0.0], [0.6, 0.8, 0.05]])
    assert np.all(np.isnan(found.by_camera[0]))
    assert np.all(np.isnan(found.by_direction[0]))
    assert np.all(np.isfinite(found.by_camera[1]))
