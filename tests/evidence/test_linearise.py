"""Check residuals of a skyline against the camera, derivatives against differences."""

import numpy as np
import pytest

from wherestood.camera import bearing_elevation
from wherestood.evidence.linearise import fill_residuals
from wherestood.evidence.unknowns import (
    CAMERA,
    COUNT,
    UNKNOWN_M,
    UNKNOWN_TANGENT,
    UNKNOWNS,
)

CURVATURE_PER_M = 0.5 / 6_371_000.0
# Bearings lie 1e-4 rad apart and the horizon's slope turns by up to 10 a radian.
SLOPE_STEP = 1e-3
# One part in ten million of the tangent: interpolation between bearings.
INTERPOLATION = 1e-7
STEP = 1e-3
# The lens's own change with place, 8 k1 x^2 over the diagonal squared, is left out
# of the derivatives: 2% at the edge for k1 = 0.015.
RADIAL_SHARE = 0.02
# What belongs to the nearest bearing and not to the place between two: 1 m of the
# distance, a millionth of the tangent that it carries.
NEAREST_M = 1.0
NEAREST_TANGENT = 1e-6
THETA = np.zeros(COUNT)
THETA[:CAMERA] = [1.3, np.log(0.9), 0.03, -0.02, 0.04, -0.02, 0.015, 0.01, 2e-3, -1e-3]


def filled(theta, samples, profile):
    count = len(samples)
    residual, noise = np.empty(count), np.empty((count, 6))
    jacobian = np.empty((count, COUNT))
    fill_residuals(theta, samples, profile, CURVATURE_PER_M, residual, jacobian, noise)
    return residual, jacobian, noise


def test_residual_is_zero_where_the_camera_stands_as_the_skyline_was_made(
    fine_hills,
) -> None:
    samples = fine_hills.samples(THETA, 60)
    residual, _, _ = filled(THETA, samples, fine_hills.profile())
    np.testing.assert_allclose(residual, 0.0, atol=INTERPOLATION)


def test_rays_are_those_of_the_camera_model(fine_hills) -> None:
    rng = np.random.default_rng(3)
    theta = THETA.copy()
    theta[7:CAMERA] = 0.0
    theta[6] = -0.02
    x, y = rng.uniform(-0.4, 0.4, 50), rng.uniform(-0.3, 0.3, 50)
    samples = np.column_stack([x, y, np.full(50, 1e-4), np.zeros(50), np.zeros(50)])
    residual, _, _ = filled(theta, samples, fine_hills.profile())
    bearing_rad, elevation_rad = bearing_elevation(
        fine_hills.camera(theta), 2000.0 + 5000.0 * x, 1500.0 - 5000.0 * y
    )
    expected = np.tan(elevation_rad) - fine_hills.tangent(bearing_rad)
    np.testing.assert_allclose(residual, expected, atol=INTERPOLATION)


@pytest.mark.parametrize("name", UNKNOWNS[:CAMERA])
def test_derivative_by_each_unknown_of_the_camera(fine_hills, name: str) -> None:
    theta = THETA.copy()
    theta[UNKNOWNS.index("radial")] = 0.0
    got, expected = derivatives(theta, fine_hills, name)
    np.testing.assert_allclose(got, expected, atol=SLOPE_STEP)
    assert np.abs(got).max() > 10.0 * SLOPE_STEP


@pytest.mark.parametrize("name", UNKNOWNS[:CAMERA])
def test_derivative_with_a_radial_term_is_near_enough_to_climb_by(
    fine_hills, name: str
) -> None:
    got, expected = derivatives(THETA, fine_hills, name)
    atol = SLOPE_STEP + RADIAL_SHARE * np.abs(expected).max()
    np.testing.assert_allclose(got, expected, atol=atol)


def derivatives(theta, hills, name: str):
    """Return the derivative by one unknown as filled in, and by differences."""
    samples, profile = hills.samples(theta, 60), hills.profile()
    _, jacobian, _ = filled(theta, samples, profile)
    step = np.zeros(COUNT)
    step[UNKNOWNS.index(name)] = STEP
    ahead, _, _ = filled(theta + step, samples, profile)
    behind, _, _ = filled(theta - step, samples, profile)
    return jacobian[:, UNKNOWNS.index(name)], (ahead - behind) / (2.0 * STEP)


def test_cover_and_refraction_lift_the_horizon_they_stand_on(fine_hills) -> None:
    samples, profile = fine_hills.samples(THETA, 60), fine_hills.profile()
    residual, jacobian, _ = filled(THETA, samples, profile)
    cover_m, refraction = 12.0, 0.05
    lifted = profile.copy()
    lifted[:, 0] += cover_m / profile[:, 2]
    lifted[:, 0] += refraction * profile[:, 1] * CURVATURE_PER_M
    less, _, _ = filled(THETA, samples, lifted)
    change = (
        cover_m * jacobian[:, UNKNOWNS.index("cover")]
        + refraction * jacobian[:, UNKNOWNS.index("refraction")]
    )
    np.testing.assert_allclose(less - residual, change, atol=NEAREST_TANGENT)
    assert np.abs(change).max() > 1000.0 * NEAREST_TANGENT


def test_moving_the_cell_moves_the_horizon_by_its_gradient(fine_hills) -> None:
    samples, profile = fine_hills.samples(THETA, 60), fine_hills.profile()
    residual, jacobian, _ = filled(THETA, samples, profile)
    moved = profile.copy()
    moved[:, 0] += 20.0 * profile[:, 3] - 30.0 * profile[:, 4]
    less, _, _ = filled(THETA, samples, moved)
    east, north = UNKNOWNS.index("cell_east"), UNKNOWNS.index("cell_north")
    change = 20.0 * jacobian[:, east] - 30.0 * jacobian[:, north]
    np.testing.assert_allclose(less - residual, change, atol=NEAREST_TANGENT)
    assert np.abs(change).max() > 100.0 * NEAREST_TANGENT


def test_noise_terms_are_those_of_the_ground_under_the_skyline(fine_hills) -> None:
    samples, profile = fine_hills.samples(THETA, 60), fine_hills.profile()
    _, _, noise = filled(THETA, samples, profile)
    half_rad = 0.95 * np.arctan(0.4 / 0.9)
    bearing_rad = THETA[0] + np.linspace(-half_rad, half_rad, 60)
    distance_m = fine_hills.distance_m(bearing_rad)
    np.testing.assert_allclose(1.0 / noise[:, 0], 0.8 * distance_m, rtol=1e-4)
    places_m = distance_m[:, None] * np.column_stack(
        [np.sin(bearing_rad), np.cos(bearing_rad)]
    )
    steps_m = np.linalg.norm(np.diff(places_m, axis=0), axis=1)
    np.testing.assert_allclose(noise[1:, 1], steps_m, atol=NEAREST_M)
    slope = np.gradient(fine_hills.tangent(bearing_rad), bearing_rad)
    np.testing.assert_allclose(noise[1:-1, 3], slope[1:-1], atol=0.02)


def test_tracing_error_is_carried_from_plate_to_tangent(fine_hills) -> None:
    # At fixed x, on an unrolled and untilted camera, it is over the slant distance.
    theta = np.zeros(COUNT)
    theta[1] = np.log(0.9)
    x = np.array([-0.3, 0.0, 0.2])
    samples = np.column_stack([x, x * 0.0 + 0.05, x * 0.0 + 1e-3, x * 0.0, x * 0.0])
    _, _, noise = filled(theta, samples, fine_hills.profile())
    np.testing.assert_allclose(noise[:, 2], 1e-3 / np.hypot(x, 0.9), rtol=1e-12)


def test_a_skyline_across_north_is_not_broken(fine_hills) -> None:
    theta = THETA.copy()
    theta[0] = 0.0
    samples = fine_hills.samples(theta, 60)
    for turn in (0.0, 2.0 * np.pi, -2.0 * np.pi):
        theta[0] = turn
        residual, _, _ = filled(theta, samples, fine_hills.profile())
        np.testing.assert_allclose(residual, 0.0, atol=INTERPOLATION)


def test_a_sample_a_rounding_west_of_north_is_read_at_north(fine_hills) -> None:
    theta = np.zeros(COUNT)
    theta[1] = np.log(0.9)
    sample = np.array([[-1e-18, 0.05, 1e-4, 0.0, 0.0]])
    residual, _, _ = filled(theta, sample, fine_hills.profile())
    expected = 0.05 / 0.9 - fine_hills.tangent(np.array(0.0))
    np.testing.assert_allclose(residual, expected, atol=INTERPOLATION)


def test_unknown_horizon_is_a_middling_one_that_nothing_shifts(fine_hills) -> None:
    samples, profile = fine_hills.samples(THETA, 60), fine_hills.profile()
    known, _, _ = filled(THETA, samples, profile)
    tangents = known + fine_hills.tangent(
        THETA[0] + np.linspace(-1.0, 1.0, 60) * 0.95 * np.arctan(0.4 / 0.9)
    )
    profile[:, 2] = UNKNOWN_M
    residual, jacobian, noise = filled(THETA, samples, profile)
    np.testing.assert_allclose(residual, tangents - UNKNOWN_TANGENT, atol=INTERPOLATION)
    # No horizon is there to slope, nor ground to lift it.
    assert not jacobian[:, 0].any()
    assert not jacobian[:, CAMERA:].any()
    assert not noise[:, 0].any()
    assert not noise[:, 3].any()
