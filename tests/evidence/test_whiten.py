"""Check the whitening pass against a dense covariance."""

import numba
import numpy as np
import pytest
from scipy import stats

from wherestood.evidence.lanes import eliminate
from wherestood.evidence.unknowns import CAMERA, COUNT, UNKNOWN_SD
from wherestood.evidence.whiten import (
    FOREGROUND_BELOW,
    FOREGROUND_BEND,
    FOREGROUND_STAYS,
    NO_FOREGROUND,
    Work,
    fill_steps,
    invert,
    lengths_differ,
    log_product,
    solve,
    whiten,
    workspace,
)

# What a recursion and a dense factorisation of one matrix may differ by.
ROUNDING = 1e-9
# Long sd, length, short sd, length, white, lateral [m], tracing factor.
LEVELS = [
    np.array([6.0, 500.0, 2.0, 60.0, 0.6, 15.0, 2.0]),
    np.array([30.0, 1000.0, 10.0, 20.0, 2.0, 40.0, 1.0]),
    np.array([3.0, 150.0, 0.01, 60.0, 0.3, 0.0, 0.5]),
]


def invented_noise(count: int, seed: int) -> np.ndarray:
    """Return what `fill_residuals` does of a smooth skyline, with leaps in depth."""
    rng = np.random.default_rng(seed)
    distance_m = np.where(rng.random(count) < 0.2, 1500.0, 6000.0)
    step_m = rng.uniform(5.0, 120.0, count)
    step_m[1:] += np.abs(np.diff(distance_m))
    step_m[0] = 1e9
    tracing = rng.uniform(1e-4, 4e-4, count)
    turn = np.full(count, 0.015)
    tangent = 0.1 + 0.02 * np.sin(np.cumsum(turn))
    slope = rng.normal(0.0, 0.3, count)
    return np.column_stack([1.0 / distance_m, step_m, tracing, slope, tangent, turn])


def dense(noise: np.ndarray, level: np.ndarray) -> np.ndarray:
    """Return the covariance of the residuals, written out [tangent squared]."""
    long_sd, long_m, short_sd, short_m, white, lateral, factor_on_tracing = level
    along_m = np.concatenate([[0.0], np.cumsum(noise[1:, 1])])
    apart_m = np.abs(along_m[:, None] - along_m[None, :])
    scaled = np.sqrt(3.0) * apart_m / long_m
    field = long_sd**2 * (1.0 + scaled) * np.exp(-scaled)
    field += short_sd**2 * np.exp(-apart_m / short_m)
    h = noise[:, 0] * np.sqrt(1.0 + (lateral / long_sd * noise[:, 3]) ** 2)
    alone = (factor_on_tracing * noise[:, 2]) ** 2 + (white * h) ** 2
    alone[h == 0.0] += UNKNOWN_SD**2
    return h[:, None] * field * h[None, :] + np.diag(alone)


def filled(residual, jacobian, noise, fitted, level) -> Work:
    """Return room filled with what is known, the columns left over with zeros."""
    work = workspace(len(residual))
    work.residual[:], work.fitted[:], work.noise[:] = residual, fitted, noise
    work.jacobian[:] = 0.0
    work.jacobian[:, : jacobian.shape[1]] = jacobian
    fill_steps(work, level[1], level[3])
    return work


def whitened(residual, jacobian, noise, fitted, level, log_odds, power=1.0):
    work = filled(residual, jacobian, noise, fitted, level)
    square, log_det = whiten(work, level, log_odds, power)
    lower = np.tril(work.normal)
    count = jacobian.shape[1]
    normal = (lower + np.tril(lower, -1).T)[:count, :count]
    return square, log_det, normal, work.right[:count].copy()


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_sums_and_determinant_are_those_of_the_dense_covariance(
    level: np.ndarray, seed: int
) -> None:
    rng = np.random.default_rng(seed)
    noise = invented_noise(60, seed)
    covariance = dense(noise, level)
    residual = rng.normal(0.0, 1e-2, 60)
    jacobian = rng.normal(size=(60, 5))
    square, log_det, normal, right = whitened(
        residual, jacobian, noise, residual, level, NO_FOREGROUND
    )
    inverse = np.linalg.inv(covariance)
    assert square == pytest.approx(residual @ inverse @ residual, rel=ROUNDING)
    assert log_det == pytest.approx(np.linalg.slogdet(covariance)[1], rel=ROUNDING)
    scale = np.abs(normal).max()
    np.testing.assert_allclose(
        normal, jacobian.T @ inverse @ jacobian, atol=ROUNDING * scale
    )
    np.testing.assert_allclose(
        right, jacobian.T @ inverse @ residual, atol=ROUNDING * np.abs(right).max()
    )


@pytest.mark.parametrize("level", LEVELS)
def test_samples_of_no_known_horizon_stand_alone_and_weigh_little(level) -> None:
    rng = np.random.default_rng(14)
    noise = invented_noise(60, 14)
    unknown = np.zeros(60, dtype=bool)
    unknown[[0, 7, 8, 9, 30, 59]] = True
    noise[unknown, 0] = 0.0
    covariance = dense(noise, level)
    tracing = level[6] * noise[unknown, 2]
    np.testing.assert_allclose(
        covariance[unknown][:, unknown], np.diag(UNKNOWN_SD**2 + tracing**2)
    )
    assert not covariance[unknown][:, ~unknown].any()
    residual, jacobian = rng.normal(0.0, 1e-2, 60), rng.normal(size=(60, 3))
    square, log_det, normal, right = whitened(
        residual, jacobian, noise, residual, level, NO_FOREGROUND
    )
    inverse = np.linalg.inv(covariance)
    assert square == pytest.approx(residual @ inverse @ residual, rel=ROUNDING)
    assert log_det == pytest.approx(np.linalg.slogdet(covariance)[1], rel=ROUNDING)
    for got, expected in (
        (normal, jacobian.T @ inverse @ jacobian),
        (right, jacobian.T @ inverse @ residual),
    ):
        np.testing.assert_allclose(
            got, expected, atol=ROUNDING * np.abs(expected).max()
        )


def foretold(noise: np.ndarray, at: int) -> float:
    """Return minus twice the log density of foreground, as normal laws are counted."""
    turn = noise[at, 5]
    bend = np.diff(noise[at - 2 : at + 1, 4], 2)[0]
    sd = np.hypot(FOREGROUND_BEND * turn, np.sqrt(2.0) * noise[at, 2])
    return -2.0 * stats.t(2, scale=sd).logpdf(bend) - np.log(2.0 * np.pi)


@pytest.mark.parametrize("unknown", [False, True])
def test_foreground_is_foretold_by_the_skyline_and_tells_nothing_else(unknown) -> None:
    level, noise = LEVELS[0], invented_noise(40, 4)
    rng = np.random.default_rng(4)
    residual = np.linalg.cholesky(dense(noise, level)) @ rng.normal(size=40)
    jacobian = rng.normal(size=(40, 3))
    block = np.arange(15, 21)
    residual[block] += 0.3
    noise[block, 4] += rng.normal(0.0, 1e-3, block.size)
    if unknown:
        noise[block, 0] = 0.0
    square, log_det, normal, right = whitened(
        residual, jacobian, noise, residual, level, -3.0
    )
    kept = np.setdiff1d(np.arange(40), block)
    # All along the line, what is between two samples counts in their ground step.
    covariance = dense(noise, level)[np.ix_(kept, kept)]
    inverse = np.linalg.inv(covariance)
    assert square == pytest.approx(
        residual[kept] @ inverse @ residual[kept], rel=ROUNDING
    )
    for got, other in ((normal, jacobian[kept]), (right, residual[kept])):
        expected = jacobian[kept].T @ inverse @ other
        np.testing.assert_allclose(
            got, expected, atol=ROUNDING * np.abs(expected).max()
        )
    # It begins, goes on five times and ends.
    odds = -3.0 + 6.0 * FOREGROUND_STAYS
    expected = np.linalg.slogdet(covariance)[1] - 2.0 * odds
    expected += sum(foretold(noise, at) for at in block)
    assert log_det == pytest.approx(expected, rel=1e-4)


def test_each_plate_foretells_its_own_foreground_where_plates_are_mixed() -> None:
    level, rng = LEVELS[0], np.random.default_rng(12)
    parts, expected, apart = [], np.zeros(2), []
    for seed, block in ((4, slice(8, 13)), (5, slice(15, 17))):
        noise = invented_noise(30, seed)
        # One plate is tilted otherwise, and no ground is near any other.
        noise[:, 4] += 0.02 * seed
        noise[:, 1] = 1e9
        residual = np.linalg.cholesky(dense(noise, level)) @ rng.normal(size=30)
        residual[block] += 0.3
        noise[block, 4] += rng.normal(0.0, 1e-3, block.stop - block.start)
        jacobian = rng.normal(size=(30, 3))
        alone = whitened(residual, jacobian, noise, residual, level, -3.0)
        plain = whitened(residual, jacobian, noise, residual, level, NO_FOREGROUND)
        assert sum(alone[:2]) < sum(plain[:2])
        expected += alone[:2]
        parts.append((residual, jacobian, noise))
        own = np.zeros(30, dtype=np.bool_)
        work = filled(residual, jacobian, noise, residual, level)
        whiten(work, level, -3.0, 1.0, (np.arange(30) - 1, own))
        assert own[block].all()
        apart.append(own)
    residual, jacobian, noise = (
        np.stack(pair, axis=1).reshape(60, *pair[0].shape[1:])
        for pair in zip(*parts, strict=True)
    )
    before, inside = np.arange(60) - 2, np.zeros(60, dtype=np.bool_)
    before[:2] = -1
    work = filled(residual, jacobian, noise, residual, level)
    together = whiten(work, level, -3.0, 1.0, (before, inside))
    np.testing.assert_allclose(together, expected, rtol=ROUNDING)
    np.testing.assert_array_equal(inside, np.stack(apart, axis=1).ravel())
    assert not inside.all()


def test_ridges_far_apart_share_nothing() -> None:
    level = LEVELS[0]
    noise = invented_noise(40, 5)
    noise[20, 1] = 1e6
    rng = np.random.default_rng(6)
    residual, jacobian = rng.normal(0.0, 1e-2, 40), rng.normal(size=(40, 2))
    whole = whitened(residual, jacobian, noise, residual, level, NO_FOREGROUND)
    halves = [
        whitened(residual[h], jacobian[h], noise[h], residual[h], level, NO_FOREGROUND)
        for h in (slice(0, 20), slice(20, 40))
    ]
    for together, first, second in zip(whole, *halves, strict=True):
        np.testing.assert_allclose(together, first + second, rtol=ROUNDING)


def fitted_mean(residual: np.ndarray, noise: np.ndarray, log_odds: float) -> float:
    """Return a common offset of all residuals, climbed to as a mode is."""
    offset = np.ones((residual.size, 1))
    mean = 0.0
    for _ in range(6):
        _, _, normal, right = whitened(
            residual, offset, noise, residual - mean, LEVELS[0], log_odds
        )
        mean = float(right[0] / normal[0, 0])
    return mean


def test_a_block_of_wrong_samples_bends_the_fit_less_as_foreground() -> None:
    noise = invented_noise(60, 9)
    rng = np.random.default_rng(9)
    lower = np.linalg.cholesky(dense(noise, LEVELS[0]))
    allowed, without = [], []
    for _ in range(20):
        residual = lower @ rng.normal(size=60)
        clean = fitted_mean(residual, noise, NO_FOREGROUND)
        residual[25:40] += 0.1
        allowed.append(abs(fitted_mean(residual, noise, -3.0) - clean))
        without.append(abs(fitted_mean(residual, noise, NO_FOREGROUND) - clean))
    assert np.median(allowed) < 0.25 * np.median(without)


def test_foreground_is_taken_only_where_it_beats_its_odds() -> None:
    noise = invented_noise(30, 4)
    residual = np.zeros(30)
    jacobian = np.ones((30, 1))
    smooth = whitened(residual, jacobian, noise, residual, LEVELS[0], -3.0)
    plain = whitened(residual, jacobian, noise, residual, LEVELS[0], NO_FOREGROUND)
    assert smooth[:2] == plain[:2]
    residual[15:] = 0.1
    taken = whitened(residual, jacobian, noise, residual, LEVELS[0], -3.0)
    held = whitened(residual, jacobian, noise, residual, LEVELS[0], NO_FOREGROUND)
    # Both counted: the better explanation, and what it costs.
    assert taken[0] + taken[1] < held[0] + held[1]
    dearer = whitened(residual, jacobian, noise, residual, LEVELS[0], -6.0)
    assert (dearer[1] - taken[1]) / (2.0 * 3.0) == pytest.approx(1.0, abs=ROUNDING)


def test_foreground_costs_more_where_it_begins_below_the_horizon() -> None:
    noise = invented_noise(30, 4)
    jacobian = np.ones((30, 1))
    sums = []
    for sign in (1.0, -1.0):
        residual = np.zeros(30)
        residual[15:] = sign * 0.1
        taken = whitened(residual, jacobian, noise, residual, LEVELS[0], -3.0)
        held = whitened(residual, jacobian, noise, residual, LEVELS[0], NO_FOREGROUND)
        assert taken[0] + taken[1] < held[0] + held[1]
        sums.append(taken[0] + taken[1])
    assert sums[1] - sums[0] == pytest.approx(-2.0 * FOREGROUND_BELOW, abs=ROUNDING)


@pytest.mark.parametrize("log_odds", [NO_FOREGROUND, -3.0])
def test_a_power_multiplies_every_sum(log_odds: float) -> None:
    rng = np.random.default_rng(21)
    noise = invented_noise(30, 21)
    residual, jacobian = rng.normal(0.0, 1e-2, 30), rng.normal(size=(30, COUNT))
    residual[12:15] += 0.2
    plain, raised = (
        whitened(residual, jacobian, noise, residual, LEVELS[0], log_odds, power)
        for power in (1.0, 0.7)
    )
    for whole, part in zip(plain, raised, strict=True):
        np.testing.assert_allclose(part, 0.7 * whole, rtol=ROUNDING)


def test_levels_of_other_lengths_are_told_apart() -> None:
    levels = np.stack([LEVELS[0], 1.5 * LEVELS[0], LEVELS[0]])
    assert lengths_differ(levels, 0, 1)
    assert not lengths_differ(levels, 0, 2)


@pytest.fixture
def equations():
    """Return a matrix and right side, and the same with the unknowns eliminated."""
    rng = np.random.default_rng(2)
    root = rng.normal(size=(COUNT, COUNT + 4))
    matrix, right = root @ root.T, rng.normal(size=COUNT)
    normal, rest, pivot = matrix.copy(), right.copy(), np.empty(COUNT)
    eliminated(normal, rest, pivot)
    return matrix, right, normal, rest, pivot


def test_elimination_solves_and_inverts_as_linear_algebra_does(equations) -> None:
    matrix, right, normal, rest, pivot = equations
    log_det = log_product(pivot, 0, COUNT)
    assert log_det == pytest.approx(np.linalg.slogdet(matrix)[1], rel=ROUNDING)
    out, inverse = np.empty(COUNT), np.empty((COUNT, COUNT))
    solve(normal, rest, pivot, out)
    np.testing.assert_allclose(out, np.linalg.solve(matrix, right), rtol=1e-8)
    invert(normal, pivot, np.empty((COUNT, COUNT)), inverse)
    np.testing.assert_allclose(inverse @ matrix, np.eye(COUNT), atol=1e-8)


@pytest.mark.parametrize("first", [0, 5, CAMERA, COUNT - 1])
def test_last_unknowns_are_eliminated_among_themselves_first(equations, first) -> None:
    matrix, right, _, rest, pivot = equations
    last = slice(first, COUNT)
    block = matrix[last, last]
    log_det = log_product(pivot, first, COUNT)
    assert log_det == pytest.approx(np.linalg.slogdet(block)[1], rel=ROUNDING)
    gain = np.sum(rest[last] ** 2 / pivot[last])
    explained = right[last] @ np.linalg.solve(block, right[last])
    assert gain == pytest.approx(explained, rel=ROUNDING)


def test_log_of_a_product_does_not_leave_the_range_of_numbers() -> None:
    values = np.array([1e-200, 1e-300, 1e250, 3.0, 1e200, 1e200, 1e-100])
    expected = np.sum(np.log(values[1:]))
    assert log_product(values, 1, len(values)) == pytest.approx(expected, rel=ROUNDING)


@numba.njit
def eliminated(normal, right, pivot):
    eliminate(normal, right, pivot)
