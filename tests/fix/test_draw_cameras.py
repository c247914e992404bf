"""Test that drawn cameras are as probable as they are said to be."""

from __future__ import annotations

import numpy as np
import pytest

from wherestood.earth.frame import Frame
from wherestood.evidence.unknowns import COUNT, UNKNOWNS
from wherestood.fix.draw_cameras import draw_cameras
from wherestood.fix.likely_cameras import LikelyCameras
from wherestood.record.draws_json import draws_form, read_draws

MANY = 4000
#: Of a standard error of so many draws, no unit.
FIVE_PERCENT = 0.05
ONE_CENTIMETRE, A_THOUSANDTH_DEGREE = 0.011, np.radians(1e-3)


@pytest.fixture(scope="module")
def cameras() -> LikelyCameras:
    """Return two cameras, a fifth and four fifths likely; lens and rise go together."""
    theta = np.zeros((2, COUNT))
    theta[:, 0] = (1.0, 2.0)
    covariance = np.tile(np.diag(np.full(COUNT, 1e-6)), (2, 1, 1))
    tilt, rise = UNKNOWNS.index("tilt"), UNKNOWNS.index("rise")
    covariance[:, tilt, tilt] = 4e-4
    covariance[:, rise, rise] = 4e-4
    covariance[:, tilt, rise] = covariance[:, rise, tilt] = -3.99e-4
    covariance[:, -2, -2] = covariance[:, -1, -1] = 10.0**2 / 12.0
    return LikelyCameras(
        np.array([0.2, 0.8]),
        np.array([0, 1]),
        np.array([0, 0]),
        theta,
        covariance,
        np.array([100.0, 400.0]),
        np.array([-50.0, 60.0]),
        np.array([301.5, 322.0]),
        np.array([10.0, 10.0]),
        1.8,
    )


def test_draws_come_as_often_as_their_cameras_are_probable(problem, cameras):
    draws = draw_cameras(problem, cameras, np.random.default_rng(3), MANY)
    assert len(draws) == MANY
    assert np.mean(draws.bearing_rad > 1.5) == pytest.approx(0.8, abs=1.0 / MANY)
    of_first = draws.take(draws.bearing_rad < 1.5)
    assert np.abs(of_first.east_m - 100.0).max() <= 5.0
    assert np.std(draws.lens_m[draws.bearing_rad > 1.5]) == pytest.approx(
        1.8, rel=FIVE_PERCENT
    )


def test_draws_keep_what_is_known_only_together(problem, cameras):
    draws = draw_cameras(problem, cameras, np.random.default_rng(4), MANY)
    diagonal = problem.hands[0].samples.diagonal_px
    rise = draws.rise_px / diagonal
    assert np.std(draws.tilt_rad) == pytest.approx(0.02, rel=FIVE_PERCENT)
    assert np.std(rise + draws.tilt_rad) == pytest.approx(
        np.sqrt(2 * 4e-4 - 2 * 3.99e-4), rel=FIVE_PERCENT
    )


def test_published_draws_are_read_back_on_another_grid(problem, cameras):
    draws = draw_cameras(problem, cameras, np.random.default_rng(5), 50)
    frame = problem.terrain.frame
    other = Frame.local(-27.4, 41.3)
    again = read_draws(draws_form(draws, frame), other)
    there = np.array(other.to_lonlat(again.east_m, again.north_m))
    here = np.array(frame.to_lonlat(draws.east_m, draws.north_m))
    assert np.abs(there - here).max() * 111_320.0 < ONE_CENTIMETRE
    turn = np.radians(
        frame.convergence_deg(*here[:, 0]) - other.convergence_deg(*here[:, 0])
    )
    assert abs(turn) > A_THOUSANDTH_DEGREE
    off = again.bearing_rad[0] - draws.bearing_rad[0] - turn
    assert abs(off) < A_THOUSANDTH_DEGREE
    assert np.array_equal(again.reversed, draws.reversed)
    assert np.abs(again.rise_px - draws.rise_px).max() < 0.0051
