"""Check the camera against geometry done by hand."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wherestood.camera import (
    Camera,
    axes,
    bearing_elevation,
    project,
    rays,
    sight,
)
from wherestood.demo.camera_truth import CameraTruth
from wherestood.errors import InputError, LensError

ONE_MICROPIXEL = 1e-6
ONE_MILLIARCSECOND = np.radians(1e-3 / 3600.0)
ROUNDING = 1e-12


def camera(**changes: float) -> Camera:
    plain = {
        "bearing_rad": 0.0,
        "tilt_rad": 0.0,
        "roll_rad": 0.0,
        "principal_distance_px": 1000.0,
        "rise_px": 0.0,
        "cross_px": 0.0,
        "k1": 0.0,
        "width_px": 1600,
        "height_px": 1200,
    }
    return Camera(**{**plain, **changes})


def test_east_lies_right_and_up_lies_up_when_looking_north() -> None:
    x_px, y_px = project(camera(), [0.1, 1.0, 0.2])
    assert x_px == pytest.approx(900.0, abs=ONE_MICROPIXEL)
    assert y_px == pytest.approx(400.0, abs=ONE_MICROPIXEL)


def test_axes_are_those_of_the_conventions() -> None:
    b, tau, rho = np.radians([30.0, 5.0, 2.0])
    forward = np.array([np.sin(b) * np.cos(tau), np.cos(b) * np.cos(tau), np.sin(tau)])
    level = np.array([np.cos(b), -np.sin(b), 0.0])
    square = np.cross(level, forward)
    right = level * np.cos(rho) - square * np.sin(rho)
    up = square * np.cos(rho) + level * np.sin(rho)
    got = axes(camera(bearing_rad=b, tilt_rad=tau, roll_rad=rho))
    np.testing.assert_allclose(got, [right, up, forward], atol=ROUNDING)


def test_rise_shows_more_sky_and_cross_more_of_the_right() -> None:
    _, level = sight(camera())
    bearing, raised = sight(camera(rise_px=100.0, cross_px=50.0))
    assert level == 0.0
    assert bearing == pytest.approx(np.arctan2(50.0, 1000.0), abs=ROUNDING)
    expected = np.arctan2(100.0, np.hypot(1000.0, 50.0))
    assert raised == pytest.approx(expected, abs=ROUNDING)


def test_positive_roll_makes_a_level_horizon_run_uphill_to_the_right() -> None:
    left_y, right_y = project(
        camera(roll_rad=0.05), [[-0.5, 1.0, 0.0], [0.5, 1.0, 0.0]]
    )[1]
    assert right_y < left_y


def test_positive_k1_draws_corners_inward_by_the_written_rule() -> None:
    # The half-diagonal is 1000 px; a perfect lens would put the point at 1.0 of it.
    x_px, y_px = project(camera(k1=0.03), [0.6, 1.0, 0.8])
    seen = np.hypot(x_px - 800.0, y_px - 600.0) / 1000.0
    assert seen < 1.0
    assert seen * (1.0 + 0.03 * seen**2) == pytest.approx(1.0, abs=ROUNDING)


def test_radial_term_is_about_the_lens_axis_not_the_centre() -> None:
    shifted = camera(k1=0.03, rise_px=120.0, cross_px=-80.0)
    axis_x = 800.0 + 80.0
    axis_y = 600.0 + 120.0
    np.testing.assert_allclose(
        rays(shifted, axis_x, axis_y), [0.0, 1.0, 0.0], atol=ROUNDING
    )
    x_px, _ = project(shifted, [0.5, 1.0, 0.0])
    seen = (x_px - axis_x) / 1000.0
    assert seen * (1.0 + 0.03 * seen**2) == pytest.approx(0.5, abs=ROUNDING)


def test_reversed_scan_is_the_mirror_of_the_upright_one() -> None:
    upright = camera(bearing_rad=0.3, cross_px=40.0, k1=0.01)
    mirrored = camera(bearing_rad=0.3, cross_px=40.0, k1=0.01, reversed=True)
    x_px, y_px = np.array([10.0, 700.0]), np.array([50.0, 900.0])
    np.testing.assert_allclose(
        rays(mirrored, 1600.0 - x_px, y_px), rays(upright, x_px, y_px), atol=ROUNDING
    )


@given(
    bearing=st.floats(0.0, 6.28),
    tilt=st.floats(-1.5, 1.5),
    roll=st.floats(-0.5, 0.5),
    c=st.floats(700.0, 4500.0),
    k1=st.floats(-0.05, 0.05),
    rise=st.floats(-300.0, 300.0),
    mirrored=st.booleans(),
)
@settings(max_examples=60, deadline=None, derandomize=True)
def test_projection_undoes_rays(
    bearing: float,
    tilt: float,
    roll: float,
    c: float,
    k1: float,
    rise: float,
    mirrored: bool,
) -> None:
    one = camera(
        bearing_rad=bearing,
        tilt_rad=tilt,
        roll_rad=roll,
        principal_distance_px=c,
        k1=k1,
        rise_px=rise,
        reversed=mirrored,
    )
    x_px, y_px = np.meshgrid(np.linspace(0, 1600, 9), np.linspace(0, 1200, 7))
    back_x, back_y = project(one, 7.0 * rays(one, x_px, y_px))
    np.testing.assert_allclose(back_x, x_px, atol=ONE_MICROPIXEL)
    np.testing.assert_allclose(back_y, y_px, atol=ONE_MICROPIXEL)


def test_agrees_with_the_demo_camera_written_apart() -> None:
    one = camera(
        bearing_rad=np.radians(211.0),
        tilt_rad=np.radians(-4.0),
        roll_rad=np.radians(3.0),
        rise_px=90.0,
        cross_px=-25.0,
        k1=-0.03,
        reversed=True,
    )
    other = CameraTruth(
        bearing_deg=211.0,
        tilt_deg=-4.0,
        roll_deg=3.0,
        c_px=1000.0,
        x0_px=825.0,
        y0_px=690.0,
        k1=-0.03,
        width_px=1600,
        height_px=1200,
        reversed=True,
    )
    x_px, y_px = np.array([0.5, 800.0, 1599.5]), np.array([1199.5, 20.0, 0.5])
    np.testing.assert_allclose(
        rays(one, x_px, y_px), other.rays(x_px, y_px), atol=ONE_MILLIARCSECOND
    )


def test_bearings_run_clockwise_from_north_up_to_a_full_turn() -> None:
    west, _ = bearing_elevation(camera(bearing_rad=np.radians(270.0)), 800.0, 600.0)
    assert np.degrees(west) == pytest.approx(270.0)


def test_nothing_behind_the_camera_is_projected() -> None:
    x_px, y_px = project(camera(), [[0.1, -1.0, 0.2], [1.0, 0.0, 0.0]])
    assert np.all(np.isnan(x_px))
    assert np.all(np.isnan(y_px))


def test_nothing_beyond_the_fold_of_a_pincushion_lens_is_projected() -> None:
    # s - 0.05 s^3 is at most 1.72, where s = 1 / sqrt(0.15).
    x_px, _ = project(camera(k1=-0.05), [[1.71, 1.0, 0.0], [1.73, 1.0, 0.0]])
    assert np.isfinite(x_px[0])
    assert np.isnan(x_px[1])


@pytest.mark.parametrize(
    ("change", "error", "said"),
    [
        ({"principal_distance_px": 0.0}, LensError, "above 0 px"),
        ({"tilt_rad": np.nan}, InputError, "tilt_rad"),
        ({"width_px": 0}, InputError, "0 x 1200 px"),
    ],
)
def test_what_cannot_be_a_camera_is_refused(
    change: dict[str, float], error: type[Exception], said: str
) -> None:
    with pytest.raises(error, match=said):
        camera(**change)
