"""Check how well the direction of the frame's centre is said to be known."""

from dataclasses import replace

import numpy as np
import pytest

from wherestood.camera import Camera, sight
from wherestood.evidence.linearise import fill_residuals
from wherestood.evidence.spread import camera_covariances
from wherestood.evidence.unknowns import COUNT
from wherestood.fix.answers import answer_for
from wherestood.fix.posterior import Place, posterior_of
from wherestood.fix.sight import INDEX, sight_gradient, sight_of, sight_variances

DIAGONAL_PX = 1500.0
DRAWS = 40_000
# Five standard errors of a standard deviation from so many draws.
DRAWN = 5.0 / (2.0 * DRAWS) ** 0.5
THETA = np.zeros(COUNT)
THETA[:7] = [0.7, np.log(0.95), 0.03, 0.02, 0.06, 0.02, 0.003]


def camera(theta) -> Camera:
    return Camera(
        bearing_rad=theta[0],
        tilt_rad=theta[2],
        roll_rad=theta[3],
        principal_distance_px=np.exp(theta[1]) * DIAGONAL_PX,
        rise_px=theta[4] * DIAGONAL_PX,
        cross_px=theta[5] * DIAGONAL_PX,
        k1=0.0,
        width_px=1200,
        height_px=900,
    )


def test_sight_is_that_of_the_camera_model() -> None:
    np.testing.assert_allclose(sight_of(THETA), sight(camera(THETA)), atol=1e-12)


def test_gradient_is_that_of_the_camera_model() -> None:
    step = 1e-6
    gradient = sight_gradient(THETA)
    for unknown in range(6):
        moved = np.zeros(COUNT)
        moved[unknown] = step
        above, below = sight(camera(THETA + moved)), sight(camera(THETA - moved))
        expected = np.subtract(above, below) / (2.0 * step)
        np.testing.assert_allclose(gradient[:, unknown], expected, atol=1e-6)
    assert np.all(gradient[:, 6:] == 0.0)


@pytest.fixture
def seen(problem):
    """Return the search of the skyline that the camera sees from the middle."""
    middle = np.zeros(1)
    profile = problem.maker.make(middle, middle).table[0]
    samples = problem.hands[0].samples
    table = samples.table.copy()
    residual, noise = np.empty(len(table)), np.empty((len(table), 6))
    jacobian = np.empty((len(table), COUNT))
    # Newton's steps up the plate: the rays' tangents are smooth in Y.
    for _ in range(20):
        fill_residuals(THETA, table, profile, 0.0, residual, jacobian, noise)
        table[:, 1] -= residual / jacobian[:, INDEX["rise"]]
    hand = replace(problem.hands[0], samples=replace(samples, table=table))
    return replace(problem, hands=(hand,))


@pytest.fixture
def cells(make_cells):
    made = make_cells(np.array([0.0]), np.array([0.0]), 20.0, np.zeros(1))
    made.theta[0, 0, 0] = THETA
    return made


def test_variances_are_those_of_drawn_cameras(seen, cells) -> None:
    hand = seen.hands[0]
    variances = sight_variances(seen, hand, cells, THETA[None])
    prior_sd = seen.prior_sd.copy()
    prior_sd[-2:] = 20.0 / np.sqrt(12.0)
    covariance = camera_covariances(
        THETA[None],
        hand.samples,
        seen.maker.make(cells.east_m, cells.north_m),
        seen.curvature_per_m,
        seen.prior_mean,
        prior_sd,
        seen.lens.limits,
        seen.noise,
    )[0]
    rng = np.random.default_rng(5)
    # A tenth of the way out the sight is straight in all unknowns.
    drawn = rng.multivariate_normal(THETA, covariance / 100.0, DRAWS)
    for found, values in zip(variances, sight_of(drawn), strict=True):
        assert np.sqrt(found[0]) == pytest.approx(10.0 * values.std(), rel=DRAWN)
    # Tilt and rise undo each other: the sight is better known than the two would be
    # if each were off by itself.
    rows = sight_gradient(THETA)[1] ** 2
    apart = rows @ np.diag(covariance)
    assert variances[1][0] < 0.9 * apart


def test_doubt_of_the_sight_has_no_floor_but_the_fits_own(seen, cells) -> None:
    posterior = posterior_of(cells)
    place = Place(0.0, 0.0, 1.0, np.array([0]))
    said = answer_for(seen, posterior, place).camera.sd
    variances = sight_variances(seen, seen.hands[0], cells, THETA[None])
    for name, variance in zip(("bearing", "elevation"), variances, strict=True):
        expected = np.degrees(np.sqrt(variance[0]))
        assert said[f"sight_{name}_deg"] == pytest.approx(expected)
