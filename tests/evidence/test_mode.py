"""Check the climb to a camera against known cameras and a dense likelihood."""

from dataclasses import dataclass

import numpy as np
import pytest
from scipy.special import logsumexp
from scipy.stats import binom, chi2

from wherestood.camera import sight
from wherestood.evidence.linearise import fill_residuals
from wherestood.evidence.mode import fit_mode
from wherestood.evidence.plate_rows import NOTHING_MARKED, Aims
from wherestood.evidence.unknowns import CAMERA, COUNT, UNKNOWNS
from wherestood.evidence.whiten import NO_FOREGROUND

CURVATURE_PER_M = 0.5 / 6_371_000.0
LIMITS = np.log([0.45, 2.2])
UNMARKED = NOTHING_MARKED.handed(Aims.none(1))
ROUNDS = 8
LEGS = 3
# A climb ends where steps are short or no longer help: this much of log density.
LEFT_BY_A_CLIMB = 0.1
LEVEL = np.array([4.0, 500.0, 1.5, 60.0, 0.4, 10.0, 1.0])
COVER = UNKNOWNS.index("cover")

TRUTH = np.zeros(COUNT)
TRUTH[:CAMERA] = [
    2.2,
    np.log(0.95),
    0.015,
    -0.01,
    0.05,
    0.01,
    0.006,
    0.002,
    1e-3,
    -1e-3,
]

# Priors of the unknowns; those of the bearing flat, of the rest as of a view camera.
SD = np.full(COUNT, 1e-6)
SD[0] = np.inf
SD[1:CAMERA] = [0.3, 0.026, 0.026, 0.06, 0.02, 0.01, 0.003, 0.002, 0.002]
SD[COVER] = 8.0

HUNDREDTH_OF_A_DEGREE = np.radians(0.01)
A_FIFTIETH_OF_A_DEGREE = np.radians(0.02)
A_TWENTIETH = 0.05
ROUNDING = 1e-8
POWER = 0.4


@dataclass(frozen=True)
class Mode:
    """Hold what a climb returns."""

    score: float
    theta: np.ndarray
    covariance: np.ndarray
    fitted: np.ndarray
    level_score: np.ndarray


def climb(
    start,
    samples,
    profile,
    mean,
    *,
    levels=LEVEL[None],
    log_odds=NO_FOREGROUND,
    sd=SD,
    temper=1.0,
    near=False,
):
    count = len(levels)
    weight = np.full(count, -np.log(count))
    precision = np.where(np.isfinite(sd), 1.0 / sd**2, 0.0)
    theta, covariance = np.zeros(COUNT), np.empty((COUNT, COUNT))
    fitted, level_score = np.empty(len(samples)), np.empty(count)
    score = fit_mode(
        start, samples, profile, CURVATURE_PER_M, mean, precision, LIMITS,
        levels, weight, 0, log_odds, ROUNDS, LEGS,
        UNMARKED, theta, covariance, fitted, level_score, temper, near,
    )  # fmt: skip
    return Mode(score, theta, covariance, fitted, level_score)


def dense(noise, level):
    """Return the covariance of the residuals at one noise level, written out."""
    along_m = np.concatenate([[0.0], np.cumsum(noise[1:, 1])])
    apart_m = np.abs(along_m[:, None] - along_m[None, :])
    scaled = np.sqrt(3.0) * apart_m / level[1]
    field = level[0] ** 2 * (1.0 + scaled) * np.exp(-scaled)
    field += level[2] ** 2 * np.exp(-apart_m / level[3])
    h = noise[:, 0] * np.hypot(1.0, level[5] / level[0] * noise[:, 3])
    alone = (level[6] * noise[:, 2]) ** 2 + (level[4] * h) ** 2
    return h[:, None] * field * h[None, :] + np.diag(alone)


def filled(theta, samples, profile):
    count = len(samples)
    residual, noise = np.empty(count), np.empty((count, 6))
    jacobian = np.empty((count, COUNT))
    fill_residuals(theta, samples, profile, CURVATURE_PER_M, residual, jacobian, noise)
    return residual, jacobian, noise


def away(truth):
    """Return a start some way off: 1 deg of bearing, 4% of lens, 1 deg of tilt."""
    start = truth.copy()
    start[:4] += [np.radians(1.0), 0.04, np.radians(-1.0), np.radians(0.7)]
    start[4:CAMERA] = 0.0
    return start


def test_known_camera_is_recovered(fine_hills) -> None:
    samples = fine_hills.samples(TRUTH, 60)
    found = climb(away(TRUTH), samples, fine_hills.profile(), TRUTH)
    np.testing.assert_allclose(found.theta[:4], TRUTH[:4], atol=HUNDREDTH_OF_A_DEGREE)
    got, expected = (sight(fine_hills.camera(x)) for x in (found.theta, TRUTH))
    np.testing.assert_allclose(got, expected, atol=HUNDREDTH_OF_A_DEGREE)


@pytest.mark.parametrize("bearing_deg", [10.0, 75.0, 300.0])
def test_known_camera_is_recovered_well_within_its_doubt_at_usual_spacing(
    hills, bearing_deg: float
) -> None:
    truth = TRUTH.copy()
    truth[0] = np.radians(bearing_deg)
    found = climb(away(truth), hills.samples(truth, 60), hills.profile(), truth)
    sd = np.sqrt(np.diag(found.covariance))
    assert np.all(np.abs(found.theta - truth)[:CAMERA] < A_TWENTIETH * sd[:CAMERA])
    got, expected = (sight(hills.camera(theta)) for theta in (found.theta, truth))
    np.testing.assert_allclose(got, expected, atol=A_FIFTIETH_OF_A_DEGREE)


def test_bearing_and_lens_are_learned_without_their_priors_help(hills) -> None:
    samples = hills.samples(TRUTH, 60)
    mean = TRUTH.copy()
    mean[0], mean[1] = 0.0, TRUTH[1] + 0.25
    found = climb(away(TRUTH), samples, hills.profile(), mean)
    sd = np.sqrt(np.diag(found.covariance))
    assert sd[1] < 0.1 * SD[1]
    assert abs(found.theta[1] - TRUTH[1]) < sd[1]
    # The cross and the bearing of the lens axis share what the frame shows.
    assert sd[0] < 1.2 * SD[UNKNOWNS.index("cross")]
    assert abs(found.theta[0] - TRUTH[0]) < sd[0]


def test_cover_is_found_where_the_horizon_tells_near_from_far(hills) -> None:
    bearing = TRUTH[0] + np.linspace(-1.0, 1.0, 60) * 0.95 * np.arctan(0.4 / 0.95)
    lift = 20.0 / (0.8 * hills.distance_m(bearing))
    samples = hills.samples(TRUTH, 60, lift)
    found = climb(away(TRUTH), samples, hills.profile(), TRUTH)
    sd_m = np.sqrt(found.covariance[COVER, COVER])
    assert sd_m < SD[COVER]
    # It is drawn towards the prior's zero by the share that was not learned.
    kept = 1.0 - (sd_m / SD[COVER]) ** 2
    assert found.theta[COVER] == pytest.approx(20.0 * kept, rel=0.05)


@pytest.fixture
def mixed(hills):
    """Return a climb mixed over three noise levels, and dense densities of each."""
    levels = np.stack([LEVEL, 2.0 * LEVEL, 5.0 * LEVEL])
    rng = np.random.default_rng(8)
    samples = hills.samples(TRUTH, 60, rng.normal(0.0, 1e-3, 60))
    profile, mean = hills.profile(), TRUTH.copy()
    mean[COVER] = 8.0
    found = climb(away(TRUTH), samples, profile, mean, levels=levels)
    there = found.theta.copy()
    there[CAMERA:] = 0.0
    residual, jacobian, noise = filled(there, samples, profile)
    # The data are heights on the plate; a density of tangents is turned into one
    # of heights by the derivative dT/dY of every sample.
    turned = np.sum(np.log(noise[:, 2] / samples[:, 2])) - np.log(3.0)
    parts = [
        dense_densities(residual, jacobian, dense(noise, level), there - mean)
        for level in levels
    ]
    marginal, standing = turned + np.transpose(parts)
    return found, marginal, standing


def dense_densities(residual, jacobian, alone, off):
    """Return log densities, all unknowns summed out by the shape of the likelihood.

    First as at the top of the shape, then with the camera's ten where they stand.
    """
    known = np.isfinite(SD)
    prior = (jacobian[:, known] * SD[known] ** 2) @ jacobian[:, known].T
    whole = alone + prior
    inverse = np.linalg.inv(whole)
    flat = jacobian[:, 0]
    # The bearing's flat prior adds the square and the log of what it explains.
    told = flat @ inverse @ flat
    expected = residual - jacobian @ off
    square = expected @ inverse @ expected - (flat @ inverse @ expected) ** 2 / told
    log_det = np.linalg.slogdet(whole)[1] + np.log(told)
    # Only what shifts a residual in proportion takes its best value.
    linear = jacobian[:, CAMERA:]
    with_linear = alone + (linear * SD[CAMERA:] ** 2) @ linear.T
    there = residual - linear @ off[CAMERA:]
    held = np.sum((off[1:CAMERA] / SD[1:CAMERA]) ** 2)
    stands = there @ np.linalg.solve(with_linear, there) + held
    return -0.5 * (square + log_det), -0.5 * (stands + log_det)


def test_level_scores_are_dense_marginals_with_the_camera_where_it_stands(
    mixed,
) -> None:
    found, _, standing = mixed
    np.testing.assert_allclose(found.level_score, standing, rtol=1e-6)
    assert found.score == pytest.approx(logsumexp(found.level_score), abs=ROUNDING)


def test_best_level_has_all_of_its_dense_marginal_and_no_level_more(mixed) -> None:
    found, marginal, _ = mixed
    assert np.all(found.level_score <= marginal + ROUNDING)
    best = np.argmax(found.level_score)
    assert found.level_score[best] == pytest.approx(marginal[best], abs=LEFT_BY_A_CLIMB)


def test_covariance_is_the_inverse_of_the_dense_hessian(hills) -> None:
    samples, profile = hills.samples(TRUTH, 60), hills.profile()
    found = climb(away(TRUTH), samples, profile, TRUTH)
    there = found.theta.copy()
    there[CAMERA:] = 0.0
    _, jacobian, noise = filled(there, samples, profile)
    hessian = jacobian.T @ np.linalg.inv(dense(noise, LEVEL)) @ jacobian
    hessian += np.diag(np.where(np.isfinite(SD), 1.0 / SD**2, 0.0))
    hessian[0, 0] += 3.0 / np.pi**2  # the whole circle is all a bearing can be
    expected = np.linalg.inv(hessian)
    sd = np.sqrt(np.diag(expected))
    np.testing.assert_allclose(
        found.covariance / np.outer(sd, sd), expected / np.outer(sd, sd), atol=1e-6
    )


def test_ellipses_hold_the_truth_as_often_as_they_say(fine_hills) -> None:
    # Cameras and errors drawn from the very model, small enough for the hills to be
    # straight across them: a check of the sums, not of the model.
    trials, unknown = 400, [*range(CAMERA), COVER]
    level = LEVEL * np.array([0.3, 1.0, 0.3, 1.0, 0.3, 0.3, 0.3])
    sd = SD.copy()
    sd[2:] *= 0.3
    rng = np.random.default_rng(12)
    mean = TRUTH.copy()
    mean[COVER] = 8.0
    profile, inside = fine_hills.profile(), 0
    for _ in range(trials):
        truth = drawn(mean, sd, rng)
        clean = fine_hills.samples(truth, 60)
        _, _, noise = filled(truth, clean, profile)
        error = np.linalg.cholesky(dense(noise, level)) @ rng.normal(size=60)
        error += truth[COVER] * noise[:, 0]
        samples = fine_hills.samples(truth, 60, error)
        found = climb(truth, samples, profile, mean, levels=level[None], sd=sd)
        off = (found.theta - truth)[unknown]
        square = off @ np.linalg.solve(found.covariance[np.ix_(unknown, unknown)], off)
        inside += square < chi2.ppf(0.9, len(unknown))
    low, high = binom.interval(0.99, trials, 0.9)
    assert low <= inside <= high


def drawn(mean, sd, rng):
    """Return unknowns drawn from their prior, the lens away from its limits."""
    truth = mean.copy()
    truth[0] = rng.uniform(0.0, 2.0 * np.pi)
    truth[1:CAMERA] += rng.normal(0.0, sd[1:CAMERA])
    truth[1] = np.clip(truth[1], LIMITS[0] + 0.2, LIMITS[1] - 0.2)
    truth[COVER] = rng.normal(mean[COVER], sd[COVER])
    return truth


def test_a_block_of_wrong_samples_bends_the_fit_less_as_foreground(hills) -> None:
    profile, expected = hills.profile(), sight(hills.camera(TRUTH))
    allowed, without = [], []
    # Not by the plate's ends, where a block that is too high passes for roll.
    for first in range(8, 48, 6):
        wrong = np.zeros(60)
        wrong[first : first + 6] = 0.04
        samples = hills.samples(TRUTH, 60, wrong)
        for log_odds, bend in ((-3.0, allowed), (NO_FOREGROUND, without)):
            found = climb(
                away(TRUTH), samples, profile, TRUTH, log_odds=log_odds, near=True
            )
            got = sight(hills.camera(found.theta))
            bend.append(np.hypot(*np.subtract(got, expected)))
    assert np.all(np.less(allowed, without))
    assert np.median(allowed) < 0.1 * np.median(without)


def test_lens_stays_within_its_limits(hills) -> None:
    truth = TRUTH.copy()
    truth[1] = np.log(2.5)
    found = climb(truth, hills.samples(truth, 60), hills.profile(), truth)
    assert found.theta[1] <= LIMITS[1]


def tempered(hills, levels=LEVEL[None]):
    """Return a climb of a tempered likelihood, and its dense sums written out."""
    rng = np.random.default_rng(8)
    samples = hills.samples(TRUTH, 60, rng.normal(0.0, 1e-3, 60))
    profile, mean = hills.profile(), TRUTH.copy()
    mean[COVER] = 8.0
    found = climb(away(TRUTH), samples, profile, mean, levels=levels, temper=POWER)
    there = found.theta.copy()
    there[CAMERA:] = 0.0
    residual, jacobian, noise = filled(there, samples, profile)
    units = np.sum(np.log(noise[:, 2] / samples[:, 2]))
    return found, there - mean, residual, jacobian, noise, units


def test_a_power_bends_the_likelihood_and_leaves_the_prior(hills) -> None:
    """The curvature is that of the likelihood times the power, and the prior's own."""
    found, _, _, jacobian, noise, _ = tempered(hills)
    hessian = POWER * jacobian.T @ np.linalg.inv(dense(noise, LEVEL)) @ jacobian
    hessian += np.diag(np.where(np.isfinite(SD), 1.0 / SD**2, 0.0))
    hessian[0, 0] += 3.0 / np.pi**2
    expected = np.linalg.inv(hessian)
    sd = np.sqrt(np.diag(expected))
    np.testing.assert_allclose(
        found.covariance / np.outer(sd, sd), expected / np.outer(sd, sd), atol=1e-6
    )
    # What the skyline says nothing of keeps the doubt it had, not more.
    learned = np.sqrt(np.diag(found.covariance)) / SD
    assert np.all(learned[1:] <= 1.0 + ROUNDING)


def test_a_power_sums_the_likelihoods_power_over_the_prior_itself(hills) -> None:
    found, off, residual, jacobian, noise, units = tempered(hills)
    alone = dense(noise, LEVEL)
    inverse = np.linalg.inv(alone)
    known = np.isfinite(SD)
    precision = np.where(known, 1.0 / SD**2, 0.0)
    hessian = POWER * jacobian.T @ inverse @ jacobian + np.diag(precision)
    hessian[0, 0] += 3.0 / np.pi**2
    # The unknowns that shift residuals take their best value, the camera stands.
    linear = slice(CAMERA, COUNT)
    right = POWER * jacobian.T @ inverse @ residual + precision * off
    gain = right[linear] @ np.linalg.solve(hessian[linear, linear], right[linear])
    square = POWER * residual @ inverse @ residual + np.sum(precision * off**2)
    log_det = POWER * (np.linalg.slogdet(alone)[1] - 2.0 * units)
    log_prior = np.sum(np.log(precision[known]))
    expected = -0.5 * (
        square - gain + log_det + np.linalg.slogdet(hessian)[1] - log_prior
    )
    assert found.score == pytest.approx(expected, rel=1e-6)
