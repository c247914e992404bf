"""Check the screen of every bearing and lens against plain formulas."""

import numpy as np
import pytest

from wherestood.evidence import screen
from wherestood.evidence.screen import screen_stations
from wherestood.evidence.unknowns import UNKNOWN_M, UNKNOWN_SD, UNKNOWN_TANGENT

BEARINGS = 900
LENSES = np.linspace(np.log(0.45), np.log(2.2), 21)
RISE_SD, ROLL_SD = 0.06, 0.03
COVER_SD_M, GROUND_SD_M = 8.0, 3.5
TRACING_SD = 0.002
# Seven sums of some 1e4 in float32, 24 bits each.
FLOAT32_OF_A_SCORE = 0.05
ONE_BEARING_RAD = 2.0 * np.pi / BEARINGS
APART = 7


#: X of marks, bearing and variance of their features, logs of their odds.
NO_MARKS = (np.zeros(0), np.zeros((1, 0, 1, 2)), np.zeros((0, 1)), np.zeros(0))


def screened(profile, x, y, modes=4, prior=None, marks=NO_MARKS):
    """Return what the screen finds at one station."""
    found = np.empty((1, modes, 3))
    screen_stations(
        profile[None],
        np.array([GROUND_SD_M]),
        x,
        y,
        np.full(x.size, TRACING_SD),
        LENSES,
        np.zeros(LENSES.size) if prior is None else prior,
        COVER_SD_M,
        RISE_SD,
        ROLL_SD,
        APART,
        *marks,
        found,
    )
    return found[0]


def dense_score(profile, x, y, bearing, ln_c):
    """Return the log density of the plate's heights from a dense covariance.

    Against that of weights in units of 1 over sigma^2 + s^2 1e-4: constants that
    the program leaves out too.
    """
    c = np.exp(ln_c)
    reach = np.hypot(c, x)
    step = 2.0 * np.pi / len(profile)
    at = (round(bearing / step) + np.round(np.arctan2(x, c) / step).astype(int)) % len(
        profile
    )
    height_var = COVER_SD_M**2 + GROUND_SD_M**2
    known = profile[at, 2] < UNKNOWN_M
    variance = np.where(known, height_var / profile[at, 2] ** 2 + 1e-6, UNKNOWN_SD**2)
    noise = TRACING_SD**2 + reach**2 * variance
    base = np.column_stack((np.ones_like(x), x))
    covariance = np.diag(noise) + base @ np.diag([RISE_SD**2, ROLL_SD**2]) @ base.T
    r = y - np.where(known, profile[at, 0], UNKNOWN_TANGENT) * reach
    _, log_det = np.linalg.slogdet(covariance)
    return -0.5 * (r @ np.linalg.solve(covariance, r) + log_det)


@pytest.fixture
def profile(hills):
    """Return the horizon of invented hills, at as many bearings as a search has."""
    return hills.profile()[:: hills.bearings // BEARINGS]


@pytest.mark.parametrize("count", [7, 15, 30])
def test_screen_score_is_the_density_of_a_dense_covariance(profile, count) -> None:
    rng = np.random.default_rng(4)
    x = np.linspace(-0.4, 0.4, count)
    y = 0.05 + 0.02 * rng.normal(size=count)
    for bearing, ln_c, score in screened(profile, x, y):
        expected = dense_score(profile, x, y, bearing, ln_c)
        assert score == pytest.approx(expected, abs=FLOAT32_OF_A_SCORE)


def test_best_of_the_screen_is_the_best_of_all_bearings_and_lenses(profile) -> None:
    rng = np.random.default_rng(5)
    x = np.linspace(-0.4, 0.4, 15)
    y = 0.05 + 0.02 * rng.normal(size=15)
    best = screened(profile, x, y, modes=1)[0]
    every = [
        dense_score(profile, x, y, bearing * ONE_BEARING_RAD, ln_c)
        for bearing in range(BEARINGS)
        for ln_c in LENSES
    ]
    assert best[2] == pytest.approx(max(every), abs=FLOAT32_OF_A_SCORE)


@pytest.mark.parametrize("bearing", [0.0, 2.1, 6.27])
def test_screen_finds_the_camera_that_made_a_skyline(hills, profile, bearing) -> None:
    c = np.exp(LENSES[9])
    x = np.linspace(-0.4, 0.4, 30)
    reach = np.hypot(c, x)
    y = hills.tangent(bearing + np.arctan2(x, c)) * reach - 0.03 + 0.01 * x
    best = screened(profile, x, y)[0]
    turn = (best[0] - bearing + np.pi) % (2.0 * np.pi) - np.pi
    assert abs(turn) <= ONE_BEARING_RAD
    assert best[1] == pytest.approx(LENSES[9])


def test_starts_are_apart_and_sorted(profile) -> None:
    rng = np.random.default_rng(6)
    x = np.linspace(-0.4, 0.4, 15)
    found = screened(profile, x, 0.02 * rng.normal(size=15), modes=6)
    assert np.all(np.diff(found[:, 2]) <= 0.0)
    for m in range(6):
        for n in range(m):
            turn = (found[m, 0] - found[n, 0] + np.pi) % (2.0 * np.pi) - np.pi
            lens = abs(found[m, 1] - found[n, 1]) / (LENSES[1] - LENSES[0])
            assert abs(turn) > APART * ONE_BEARING_RAD or lens > 2.5


def test_lens_prior_moves_the_score_by_itself(profile) -> None:
    x = np.linspace(-0.4, 0.4, 15)
    y = 0.05 + 0.02 * np.random.default_rng(7).normal(size=15)
    plain = screened(profile, x, y, modes=1)[0]
    lifted = screened(profile, x, y, modes=1, prior=np.full(LENSES.size, 3.0))[0]
    np.testing.assert_allclose(lifted[:2], plain[:2])
    assert lifted[2] - plain[2] == pytest.approx(3.0, abs=FLOAT32_OF_A_SCORE)


@pytest.mark.parametrize("distance_m", [20.0, 60.0, 30_000.0])
def test_near_and_far_horizons_leave_every_score_a_number(profile, distance_m) -> None:
    profile = profile.copy()
    profile[:, 1:3] = distance_m
    x = np.linspace(-0.4, 0.4, 60)
    found = screened(profile, x, np.zeros(60))
    assert np.isfinite(found).all()
    expected = dense_score(profile, x, np.zeros(60), *found[0, :2])
    # Four times the samples of the others, and weights of 1e5 on the far hills.
    assert found[0, 2] == pytest.approx(expected, abs=4.0 * FLOAT32_OF_A_SCORE)


def test_screen_log_is_the_natural_log() -> None:
    values = np.geomspace(1e-30, 1e30, 4001).astype(np.float32)
    found = np.array([screen._log(value) for value in values])
    # The last place of the greatest log, 69.
    one_place = 69.0 * 2.0**-23
    np.testing.assert_allclose(found, np.log(values.astype(float)), atol=2 * one_place)


def half_unknown(profile):
    """Return a horizon known from north by east to south alone."""
    profile = profile.copy()
    profile[BEARINGS // 2 :] = (0.0, 1e3, UNKNOWN_M, 0.0, 0.0)
    return profile


def test_unknown_bearings_score_as_a_wide_guess(profile) -> None:
    x = np.linspace(-0.4, 0.4, 15)
    y = 0.05 + 0.02 * np.random.default_rng(8).normal(size=15)
    for bearing, ln_c, score in screened(half_unknown(profile), x, y, modes=8):
        expected = dense_score(half_unknown(profile), x, y, bearing, ln_c)
        assert score == pytest.approx(expected, abs=FLOAT32_OF_A_SCORE)
    nothing = np.tile([0.0, 1e3, UNKNOWN_M, 0.0, 0.0], (BEARINGS, 1))
    expected = dense_score(nothing, x, y, 0.0, LENSES[0])
    one_lens = np.full(LENSES.size, -99.0)
    one_lens[0] = 0.0
    every = screened(nothing, x, y, prior=one_lens)
    np.testing.assert_allclose(every[:, 2], expected, atol=FLOAT32_OF_A_SCORE)


@pytest.mark.parametrize("bearing", [0.8, 1.6, 2.3])
def test_unknown_bearings_draw_no_camera_from_the_true_one(
    hills, profile, bearing
) -> None:
    c = np.exp(LENSES[9])
    x = np.linspace(-0.4, 0.4, 30)
    # Even 0.2 deg of error, twice the tracing's, is no reason to look elsewhere.
    error = 0.004 * np.random.default_rng(9).normal(size=30)
    y = hills.tangent(bearing + np.arctan2(x, c)) * np.hypot(c, x) + error
    best = screened(half_unknown(profile), x, y)[0]
    assert abs(best[0] - bearing) <= 3.0 * ONE_BEARING_RAD
    nothing = np.tile([0.0, 1e3, UNKNOWN_M, 0.0, 0.0], (BEARINGS, 1))
    assert screened(nothing, x, y)[0, 2] < best[2] - 20.0


def test_a_skyline_just_as_unknown_ones_are_guessed_prefers_known_ground(
    profile,
) -> None:
    level = half_unknown(profile)
    level[: BEARINGS // 2, 0] = UNKNOWN_TANGENT
    x = np.linspace(-0.4, 0.4, 30)
    y = UNKNOWN_TANGENT * np.hypot(np.exp(LENSES[9]), x)
    best = screened(level, x, y)[0]
    assert 0.0 < best[0] < np.pi


def test_a_mark_brings_the_camera_that_it_fits_to_the_front(profile) -> None:
    # A level line fits many ways about as well.
    x = np.linspace(-0.4, 0.4, 15)
    y = np.zeros(15)
    plain = screened(profile, x, y, modes=6)
    wanted = plain[-1]
    mark_x, sd = 0.2, 0.02
    bearing = wanted[0] + np.arctan2(mark_x, np.exp(wanted[1]))
    aims = np.array([[[[bearing, sd**2], [bearing + 2.0, sd**2]]]])
    weights = np.log([[0.9, 0.05]])
    marks = (np.array([mark_x]), aims, weights, np.log([0.05]))
    best = screened(profile, x, y, modes=1, marks=marks)[0]
    off = best[0] + np.arctan2(mark_x, np.exp(best[1])) - bearing
    assert abs((off + np.pi) % (2.0 * np.pi) - np.pi) < 2.0 * sd
    # At its place a mark is likelier than anywhere in the field, by their ratio.
    field = 2.0 * np.arctan2(0.4, np.exp(best[1]))
    most = np.log(0.05 + 0.9 * field / (sd * np.sqrt(2.0 * np.pi)))
    own = dense_score(profile, x, y, best[0], best[1])
    assert best[2] - own == pytest.approx(most, abs=0.3)


def test_a_mark_out_of_the_field_costs_the_odds_of_a_blunder(profile) -> None:
    x = np.linspace(-0.4, 0.4, 15)
    y = 0.05 + 0.02 * np.random.default_rng(9).normal(size=15)
    best = screened(profile, x, y, modes=1)[0]
    behind = np.array([[[[best[0] + np.pi, 1e-4]]]])
    marks = (np.zeros(1), behind, np.log([[0.95]]), np.log([0.05]))
    others = screened(profile, x, y, modes=6, marks=marks)
    same = np.abs(others[:, 0] - best[0]) < 0.5 * ONE_BEARING_RAD
    same &= others[:, 1] == best[1]
    cost = best[2] - others[same, 2]
    assert cost == pytest.approx(-np.log(0.05), abs=FLOAT32_OF_A_SCORE)
