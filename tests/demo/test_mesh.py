"""Check ray casts against shapes whose horizon can be written down."""

import numpy as np
import pytest

from wherestood.demo.camera_truth import CameraTruth
from wherestood.demo.mesh import RayMesh
from wherestood.demo.silhouette import elevation_profile, picture_skyline

RADIUS_M = 6371000.0
REFRACTION = 0.13
KAPPA_PER_M = (1.0 - REFRACTION) / (2.0 * RADIUS_M)
CELL_M = 25.0
# Single-precision vertices a millimetre or two out, some kilometres away.
ONE_THOUSANDTH_DEGREE = 1e-3
STATIONS = [(0.0, 0.0), (4100.0, -3300.0), (-6013.0, 5207.0)]


def mesh_of(height_m: np.ndarray, half_m: float) -> RayMesh:
    return RayMesh(
        height_m, -half_m, -half_m, CELL_M, radius_m=RADIUS_M, refraction=REFRACTION
    )


def plain(half_m: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    along_m = np.arange(-half_m, half_m + 1.0, CELL_M)
    east_m, north_m = np.meshgrid(along_m, along_m)
    return east_m, north_m, np.zeros_like(east_m)


def elevation_deg(tangent: np.ndarray) -> np.ndarray:
    return np.degrees(np.arctan(tangent))


@pytest.mark.parametrize("station", STATIONS)
def test_summit_of_a_cone_stands_at_its_elevation_from_anywhere(station) -> None:
    east_m, north_m, _ = plain(9000.0)
    summit_m = np.array([2000.0, 3000.0])
    away_m = np.hypot(east_m - summit_m[0], north_m - summit_m[1])
    mesh = mesh_of(np.maximum(0.0, 600.0 - 0.5 * away_m), 9000.0)
    eye_m = np.array([*station, 30.0])
    offset_m = summit_m - eye_m[:2]
    distance_m = float(np.hypot(*offset_m))
    bearing_deg = np.degrees(np.arctan2(offset_m[0], offset_m[1]))
    found = elevation_profile(mesh, eye_m, np.array([bearing_deg]), steps=22)
    expected = (600.0 - 30.0) / distance_m - KAPPA_PER_M * distance_m
    assert elevation_deg(found.where)[0] == pytest.approx(
        elevation_deg(expected), abs=ONE_THOUSANDTH_DEGREE
    )
    assert found.distance_m[0] == pytest.approx(distance_m, abs=CELL_M)


@pytest.mark.parametrize("station", STATIONS)
def test_straight_ridge_sinks_away_from_its_nearest_point(station) -> None:
    _, north_m, _ = plain(9000.0)
    mesh = mesh_of(np.maximum(0.0, 400.0 - 0.3 * np.abs(north_m - 8000.0)), 9000.0)
    eye_m = np.array([*station, 25.0])
    bearing_deg = np.linspace(-20.0, 20.0, 41)
    distance_m = (8000.0 - eye_m[1]) / np.cos(np.radians(bearing_deg))
    found = elevation_profile(mesh, eye_m, bearing_deg, steps=22)
    expected = (400.0 - 25.0) / distance_m - KAPPA_PER_M * distance_m
    np.testing.assert_allclose(
        elevation_deg(found.where), elevation_deg(expected), atol=ONE_THOUSANDTH_DEGREE
    )


def test_level_sea_dips_by_the_square_root_of_height() -> None:
    _, _, level_m = plain(11000.0)
    mesh = mesh_of(level_m, 11000.0)
    eye_m = np.array([1500.0, -900.0, 5.0])  # sea horizon at 8.6 km
    found = elevation_profile(mesh, eye_m, np.arange(0.0, 360.0, 7.0), steps=24)
    dip = -2.0 * np.sqrt(KAPPA_PER_M * 5.0)
    np.testing.assert_allclose(
        elevation_deg(found.where), elevation_deg(dip), atol=ONE_THOUSANDTH_DEGREE
    )


def test_picture_skyline_passes_through_the_projected_summit() -> None:
    east_m, north_m, _ = plain(9000.0)
    away_m = np.hypot(east_m - 1000.0, north_m - 7000.0)
    mesh = mesh_of(np.maximum(0.0, 700.0 - 0.6 * away_m), 9000.0)
    eye_m = np.array([-500.0, -2000.0, 40.0])
    camera = CameraTruth(11.0, 2.0, -3.0, 2000.0, 1180.0, 1010.0, -0.02, 2400, 1800)
    distance_m = np.hypot(1500.0, 9000.0)
    upward_m = 700.0 - 40.0 - KAPPA_PER_M * distance_m**2
    x_px, y_px = camera.project(np.array([[1500.0, 9000.0, upward_m]]))
    found = picture_skyline(mesh, eye_m, camera, x_px)
    # A thousandth of a degree is 0.035 px here; the search stops at 0.02 px.
    assert found.where[0] == pytest.approx(y_px[0], abs=0.06)


def test_surface_is_the_height_given() -> None:
    east_m, north_m, _ = plain(5000.0)
    height_m = 100.0 + 0.02 * east_m + 0.01 * north_m
    mesh = mesh_of(height_m, 5000.0)
    points_m = np.array([-4200.3, 17.1, 3900.8]), np.array([3100.2, -8.4, -4400.9])
    expected_m = 100.0 + 0.02 * points_m[0] + 0.01 * points_m[1]
    # Rays start 100 m above the top; single precision there.
    np.testing.assert_allclose(mesh.surface_m(*points_m), expected_m, atol=2e-3)


def test_land_beyond_the_mesh_is_sky() -> None:
    _, _, level_m = plain(2000.0)
    mesh = mesh_of(level_m, 2000.0)
    found = elevation_profile(mesh, np.array([0.0, 0.0, 10.0]), np.array([0.0]))
    edge = -10.0 / 2000.0 - KAPPA_PER_M * 2000.0
    assert elevation_deg(found.where)[0] == pytest.approx(
        elevation_deg(edge), abs=3.4 / 2**16 * 57.3
    )
