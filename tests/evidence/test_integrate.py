"""Check the sum over cameras about a mode against dense and random sums."""

from dataclasses import dataclass

import numpy as np
import pytest
from scipy.special import logsumexp
from scipy.stats import multivariate_t

from wherestood.evidence.batch import ASTRAY, POINTS
from wherestood.evidence.integrate import (
    MOVING,
    STILL,
    integrate_mode,
    spread_points,
)
from wherestood.evidence.linearise import fill_residuals
from wherestood.evidence.mode import fit_mode
from wherestood.evidence.plate_rows import NOTHING_MARKED, Aims
from wherestood.evidence.unknowns import CAMERA, COUNT, UNKNOWNS
from wherestood.evidence.whiten import NO_FOREGROUND

CURVATURE_PER_M = 0.5 / 6_371_000.0
LIMITS = np.log([0.45, 2.2])
UNMARKED = NOTHING_MARKED.handed(Aims.none(1))
SAMPLES = 30
LEVEL = np.array([4.0, 500.0, 1.5, 60.0, 0.4, 10.0, 1.0])
LENS = UNKNOWNS.index("log_distance")
MANY = 1024

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
SD[CAMERA] = 8.0

# A few points, spread evenly, sum a smooth density to this [log].
FEW_POINTS = 0.2
# Many to this: what is left is the bend of the problem itself.
MANY_POINTS = 0.05
# Sums over fewer draws' worth than this are not to be trusted as a check.
FEWEST_DRAWS = 50
ROUNDING = 1e-9


@dataclass(frozen=True)
class Case:
    """Hold one skyline, one horizon, and what is believed of the camera."""

    samples: np.ndarray
    profile: np.ndarray
    mean: np.ndarray
    levels: np.ndarray
    sd: np.ndarray

    @property
    def precision(self):
        return np.where(np.isfinite(self.sd), 1.0 / self.sd**2, 0.0)

    @property
    def log_weight(self):
        return np.full(len(self.levels), -np.log(len(self.levels)))


@dataclass(frozen=True)
class Mode:
    """Hold a mode as a climb leaves it."""

    score: float
    theta: np.ndarray
    covariance: np.ndarray
    level_score: np.ndarray


@dataclass(frozen=True)
class Summed:
    """Hold what a sum about a mode returns."""

    score: float
    level_score: np.ndarray
    likeliest: np.ndarray


def climb(case: Case, start, temper=1.0) -> Mode:
    theta, covariance = np.zeros(COUNT), np.empty((COUNT, COUNT))
    fitted, level_score = np.empty(SAMPLES), np.empty(len(case.levels))
    score = fit_mode(
        start, case.samples, case.profile, CURVATURE_PER_M, case.mean, case.precision,
        LIMITS, case.levels, case.log_weight, 0, NO_FOREGROUND, 8, 3,
        UNMARKED, theta, covariance, fitted, level_score, temper, False,
    )  # fmt: skip
    return Mode(score, theta, covariance, level_score)


def summed(
    case: Case, mode: Mode, count: int, *, limits=LIMITS, handed=None, temper=1.0
) -> Summed:
    level_score = (mode.level_score if handed is None else handed).copy()
    likeliest = np.empty(COUNT)
    score = integrate_mode(
        mode.theta, mode.covariance, spread_points(count), case.samples, case.profile,
        CURVATURE_PER_M, case.mean, case.precision, limits, case.levels,
        case.log_weight, NO_FOREGROUND, UNMARKED, level_score, likeliest, temper,
    )  # fmt: skip
    return Summed(score, level_score, likeliest)


def smooth_case(hills, seed: int, *, levels=LEVEL[None]) -> Case:
    """Return a skyline of smooth hills, all unknowns known well: near linear."""
    rng = np.random.default_rng(seed)
    truth = TRUTH.copy()
    truth[0] = rng.uniform(0.0, 2.0 * np.pi)
    samples = hills.samples(truth, SAMPLES, rng.normal(0.0, 3e-4, SAMPLES))
    sd = SD.copy()
    sd[1:] *= 0.3
    return Case(samples, hills.profile(), truth, levels, sd)


def rough_case(hills, seed: int, width_rad: float) -> tuple[Case, np.ndarray]:
    """Return a skyline of hills with bumps as high as its errors, and its camera."""
    rng = np.random.default_rng(seed)
    truth = TRUTH.copy()
    truth[0] = rng.uniform(0.0, 2.0 * np.pi)
    profile = hills.rough_profile(seed, 3e-3, width_rad)
    lift = rng.normal(0.0, 1e-3, SAMPLES)
    samples = hills.samples_of(profile, truth, SAMPLES, lift)
    return Case(samples, profile, truth, LEVEL[None], SD), truth


def astray(truth):
    """Return a start 2 deg off in bearing, 4% in lens, 1 deg in tilt."""
    start = truth.copy()
    start[:4] += [np.radians(2.0), 0.04, np.radians(-1.0), np.radians(0.7)]
    start[4:CAMERA] = 0.0
    return start


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


def dense_density(case: Case, theta) -> float:
    """Return the log density at bearing, lens and cross, all else summed out dense."""
    moving, still = list(MOVING), list(STILL)
    residual, noise = np.empty(SAMPLES), np.empty((SAMPLES, 6))
    jacobian = np.empty((SAMPLES, COUNT))
    fill_residuals(
        theta, case.samples, case.profile, CURVATURE_PER_M, residual, jacobian, noise
    )
    off = np.where(np.arange(COUNT) < CAMERA, theta, 0.0) - case.mean
    expected = residual - jacobian[:, still] @ off[still]
    others = jacobian[:, still] * case.sd[still]
    whole = dense(noise, case.levels[0]) + others @ others.T
    square = expected @ np.linalg.solve(whole, expected)
    held = [q for q in moving if np.isfinite(case.sd[q])]
    square += np.sum((off[held] / case.sd[held]) ** 2 + 2.0 * np.log(case.sd[held]))
    # A density of tangents turned into one of heights on the plate.
    turned = np.sum(np.log(noise[:, 2] / case.samples[:, 2]))
    return float(turned - 0.5 * (square + np.linalg.slogdet(whole)[1]))


def drawn_sum(case: Case, mode: Mode, count: int, seed: int) -> tuple[float, float]:
    """Return the log sum over random cameras, and how many draws' worth it is."""
    moving, still = list(MOVING), list(STILL)
    block = mode.covariance[np.ix_(moving, moving)]
    follow = mode.covariance[np.ix_(still, moving)] @ np.linalg.inv(block)
    law = multivariate_t(np.zeros(3), 1.6**2 * block, df=4)
    draws = law.rvs(count, random_state=np.random.default_rng(seed))
    log_terms = np.full(count, -np.inf)
    for index, draw in enumerate(draws):
        theta = mode.theta.copy()
        theta[moving] += draw
        theta[still] += follow @ draw
        if LIMITS[0] <= theta[LENS] <= LIMITS[1]:
            log_terms[index] = dense_density(case, theta)
    log_terms -= law.logpdf(draws)
    share = np.exp(log_terms - logsumexp(log_terms))
    # Laplace's (2 pi)^(3/2) is left out of all scores.
    total = logsumexp(log_terms) - np.log(count) - 1.5 * np.log(2.0 * np.pi)
    return float(total), float(1.0 / np.sum(share**2))


@pytest.mark.parametrize("seed", range(6))
def test_sum_over_a_smooth_density_is_its_closed_form(fine_hills, seed: int) -> None:
    case = smooth_case(fine_hills, seed)
    mode = climb(case, case.mean)
    # The climb's own score is dense Laplace's: see test_mode.
    assert summed(case, mode, POINTS).score == pytest.approx(mode.score, abs=FEW_POINTS)
    assert summed(case, mode, MANY).score == pytest.approx(mode.score, abs=MANY_POINTS)


def test_sum_agrees_with_a_random_one_where_the_shape_of_the_mode_does_not(
    hills,
) -> None:
    by_shape, few, many = [], [], []
    for seed in range(10):
        case, truth = rough_case(hills, seed, 0.005)
        mode = climb(case, truth)
        expected, worth = drawn_sum(case, mode, 1500, seed)
        assert worth > FEWEST_DRAWS
        by_shape.append(mode.score - expected)
        few.append(summed(case, mode, POINTS).score - expected)
        many.append(summed(case, mode, MANY).score - expected)
    rough, least, more = (np.sqrt(np.mean(np.square(x))) for x in (by_shape, few, many))
    assert least < 0.5 * rough
    # The random sum's own error: 1 over the root of its draws' worth.
    assert more < 2.0 / np.sqrt(FEWEST_DRAWS)
    assert more < 0.25 * rough


def test_points_beyond_the_limits_of_the_lens_are_left_out(fine_hills) -> None:
    case = smooth_case(fine_hills, 1)
    mode = climb(case, case.mean)
    whole = summed(case, mode, MANY).score
    lens = mode.theta[LENS]
    halves = [
        summed(case, mode, MANY, limits=np.array(limits))
        for limits in ((lens, LIMITS[1]), (LIMITS[0], lens))
    ]
    both = np.logaddexp(halves[0].score, halves[1].score)
    assert both == pytest.approx(whole, abs=ROUNDING)
    # A climb ends within a fifth of an sd of the middle: some half on either side.
    for half in halves:
        assert half.score == pytest.approx(whole - np.log(2.0), abs=FEW_POINTS)
    assert halves[0].likeliest[LENS] >= lens
    assert halves[1].likeliest[LENS] <= lens


def test_a_mode_of_no_point_within_the_limits_keeps_its_score(fine_hills) -> None:
    case = smooth_case(fine_hills, 1)
    mode = climb(case, case.mean)
    got = summed(case, mode, POINTS, limits=mode.theta[LENS] + np.array([1.0, 2.0]))
    assert got.score == pytest.approx(mode.score, abs=ROUNDING)
    np.testing.assert_array_equal(got.likeliest, mode.theta)


def test_levels_are_mixed_and_hopeless_ones_left_as_they_are(fine_hills) -> None:
    levels = np.stack([LEVEL, 1.3 * LEVEL, 20.0 * LEVEL])
    case = smooth_case(fine_hills, 2, levels=levels)
    mode = climb(case, case.mean)
    assert mode.level_score[2] < mode.level_score.max() - 8.0
    got = summed(case, mode, POINTS)
    assert got.level_score[2] == mode.level_score[2]
    for level in (0, 1):
        off = got.level_score[level] - mode.level_score[level]
        assert 0.0 < abs(off) < FEW_POINTS
    assert got.score == pytest.approx(logsumexp(got.level_score), abs=ROUNDING)
    # Not by what it is but by what the climb said of it.
    handed = mode.level_score.copy()
    handed[1] = mode.level_score[0] - 9.0
    assert summed(case, mode, POINTS, handed=handed).level_score[1] == handed[1]


def test_likeliest_point_is_a_better_start_where_a_climb_went_astray(hills) -> None:
    gains = []
    for seed in range(20):
        case, truth = rough_case(hills, seed, 0.01)
        mode = climb(case, astray(truth))
        found = summed(case, mode, POINTS)
        # As a close look asks for another climb.
        if found.score > mode.score + ASTRAY:
            gains.append(climb(case, found.likeliest).score - mode.score)
    assert len(gains) >= 5
    assert min(gains) > 0.0
    assert np.median(gains) > ASTRAY


def test_points_have_the_log_density_of_a_student_law() -> None:
    points = spread_points(64)
    law = multivariate_t(np.zeros(3), np.eye(3), df=5.0)
    np.testing.assert_allclose(points[:, 3], law.logpdf(points[:, :3]))
    # Written out: gamma(4) / (gamma(5/2) (5 pi)^(3/2)) (1 + r^2 / 5)^-4.
    top = 6.0 / (0.75 * np.sqrt(np.pi) * (5.0 * np.pi) ** 1.5)
    r2 = np.sum(points[:, :3] ** 2, axis=1)
    np.testing.assert_allclose(points[:, 3], np.log(top) - 4.0 * np.log1p(r2 / 5.0))


@pytest.mark.parametrize("count", [32, 256, 1024])
def test_points_are_spread_more_evenly_than_chance_would(count: int) -> None:
    points = spread_points(count)[:, :3]
    # The mean of as many random ones: a Student law's variance is 5 / 3.
    by_chance = np.sqrt(5.0 / 3.0 / count)
    assert np.all(np.abs(points.mean(axis=0)) < 0.5 * by_chance)
    octant = (points > 0.0) @ np.array([1, 2, 4])
    np.testing.assert_array_equal(np.bincount(octant, minlength=8), count // 8)


def test_points_are_the_same_every_time() -> None:
    first = spread_points(32).copy()
    spread_points.cache_clear()
    np.testing.assert_array_equal(spread_points(32), first)


@pytest.mark.parametrize("temper", [0.4, 0.7])
def test_sum_of_a_tempered_density_is_what_its_own_shape_promised(
    fine_hills, temper: float
) -> None:
    for seed in range(4):
        case = smooth_case(fine_hills, seed)
        mode = climb(case, case.mean, temper)
        many = summed(case, mode, MANY, temper=temper).score
        assert many == pytest.approx(mode.score, abs=MANY_POINTS)
