"""Check the scoring of stations: repeated cameras, close looks and their floor."""

import numpy as np
import pytest

from wherestood.evidence import batch
from wherestood.evidence.batch import (
    SAME_BEARING_RAD,
    SAME_LOG_DISTANCE,
    WORTHWHILE,
    StationScores,
    score_stations,
)
from wherestood.evidence.noise import SkylineNoise
from wherestood.evidence.profile import Profiles
from wherestood.evidence.samples import SkylineSamples
from wherestood.evidence.unknowns import CAMERA, COUNT

CURVATURE_PER_M = 0.5 / 6_371_000.0
LIMITS = np.log([0.45, 2.2])
SAMPLES = 30
NOISE = SkylineNoise.usual("ground")
COVER_M = 8.0
# What 32 points leave of a sum over a near even density [log].
FEW_POINTS = 0.25

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
MEAN = np.zeros(COUNT)
MEAN[1] = np.log(0.95)
# Priors of the unknowns; those of the bearing flat, of the rest as of a view camera.
SD = np.full(COUNT, 1e-6)
SD[0] = np.inf
SD[1:CAMERA] = [0.3, 0.04, 0.03, 0.06, 0.02, 0.01, 0.01, 0.003, 0.002]


def scored(profile, table, starts, **look) -> StationScores:
    """Score starting cameras at one station."""
    return score_stations(
        np.asarray(starts)[None],
        SkylineSamples(table, 5000.0, 4000, 3000),
        Profiles(profile[None], np.array([300.0]), np.array([3.5])),
        CURVATURE_PER_M,
        MEAN,
        SD,
        LIMITS,
        NOISE,
        **look,
    )


def skyline(hills, profile, truth, seed):
    """Return a skyline with cover on the horizon and errors of some 0.06 deg."""
    errors = np.random.default_rng(seed).normal(0.0, 1e-3, SAMPLES)
    return hills.samples_of(profile, truth, SAMPLES, errors + COVER_M / 4000.0)


def turned(theta, degrees: float, lens: float = 0.0):
    """Return a camera turned and zoomed."""
    out = theta.copy()
    out[0] += np.radians(degrees)
    out[1] += lens
    return out


@pytest.fixture
def plain(hills):
    """Return smooth hills and a skyline of them."""
    profile = hills.profile()
    return profile, skyline(hills, profile, TRUTH, 3)


@pytest.mark.parametrize("closely", [False, True])
def test_cameras_that_end_as_one_are_kept_once(plain, closely: bool) -> None:
    starts = [turned(TRUTH, d, c) for d, c in ((0.0, 0.0), (0.8, 0.02), (-0.8, -0.02))]
    found = scored(*plain, starts, closely=closely)
    assert np.isfinite(found.score[0]).sum() == 1


@pytest.mark.parametrize("closely", [False, True])
def test_of_repeated_cameras_the_best_is_kept(plain, closely: bool) -> None:
    starts = [turned(TRUTH, d) for d in (0.0, 0.8, 40.0, 40.5, 90.0, 91.0)]
    apart = [scored(*plain, [start], closely=closely) for start in starts]
    together = scored(*plain, starts, closely=closely)
    best = max(one.score[0, 0] for one in apart)
    # Looking closely, repeats are let go by the shapes of modes, before the sums.
    within = FEW_POINTS if closely else 0.0
    assert together.score.max() == pytest.approx(best, abs=within)
    assert not repeated(together)


def repeated(found: StationScores) -> bool:
    """Say whether two of the cameras kept at the first station are one."""
    kept = np.flatnonzero(np.isfinite(found.score[0]))
    off = np.abs(found.theta[0, kept, None, :2] - found.theta[0, None, kept, :2])
    near = (off[..., 0] < SAME_BEARING_RAD) & (off[..., 1] < SAME_LOG_DISTANCE)
    return bool(near.sum() > len(kept))


def test_cameras_that_meet_when_climbing_again_are_kept_once(
    hills, monkeypatch: pytest.MonkeyPatch
) -> None:
    # So short a first climb that starts stay apart until they climb again.
    monkeypatch.setattr(batch, "CLOSE_LOOK", (1, 1))
    monkeypatch.setattr(batch, "FIRST_LOOK", (1, 1))
    met = 0
    for seed in range(12):
        profile = hills.rough_profile(seed, 1e-3, 0.02)
        table = skyline(hills, profile, TRUTH, seed)
        starts = [turned(TRUTH, -0.2), turned(TRUTH, 1.0)]
        assert np.isfinite(scored(profile, table, starts).score).all()
        closely = scored(profile, table, starts, closely=True)
        assert not repeated(closely)
        met += np.isfinite(closely.score).sum() == 1
    assert met > 0


def test_no_start_has_no_camera(plain) -> None:
    none = turned(TRUTH, 0.0)
    none[1] = np.nan
    for closely in (False, True):
        found = scored(*plain, [none, TRUTH], closely=closely)
        assert found.score[0, 0] == -np.inf
        assert np.isfinite(found.score[0, 1])


def test_cameras_below_the_floor_keep_the_score_of_their_shape(
    plain, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The same climbs in both looks, that only the sums tell them apart.
    monkeypatch.setattr(batch, "FIRST_LOOK", batch.CLOSE_LOOK)
    starts = [turned(TRUTH, d) for d in (0.0, 60.0, 150.0, 240.0)]
    first = scored(*plain, starts)
    score = first.score[0]
    best = np.argmax(score)
    over = scored(*plain, starts, closely=True, floor=score.max() + 1.0)
    np.testing.assert_array_equal(over.score, first.score)
    np.testing.assert_array_equal(over.theta, first.theta)
    under = scored(*plain, starts, closely=True, floor=score.max() - 1.0)
    summed = np.flatnonzero(under.score[0] != score)
    np.testing.assert_array_equal(summed, [best])


def test_cameras_far_below_a_stations_best_keep_the_score_of_their_shape(
    plain, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(batch, "FIRST_LOOK", batch.CLOSE_LOOK)
    starts = [turned(TRUTH, d) for d in (0.0, 60.0, 150.0, 240.0)]
    first, closely = scored(*plain, starts), scored(*plain, starts, closely=True)
    far = first.score[0] < first.score.max() - WORTHWHILE
    assert far.any()
    np.testing.assert_array_equal(closely.score[0, far], first.score[0, far])
    assert np.all(closely.score[0, ~far] != first.score[0, ~far])


def test_close_look_at_a_smooth_horizon_says_what_the_first_did(plain) -> None:
    first = scored(*plain, [turned(TRUTH, 0.5)])
    closely = scored(*plain, [turned(TRUTH, 0.5)], closely=True)
    assert closely.score.max() == pytest.approx(first.score.max(), abs=FEW_POINTS)


def test_close_look_from_a_poor_start_is_no_worse_and_often_much_better(hills) -> None:
    gains = []
    for seed in range(16):
        truth = TRUTH.copy()
        truth[0] = np.random.default_rng(seed).uniform(0.0, 2.0 * np.pi)
        profile = hills.rough_profile(seed, 4e-3, 0.01)
        table = skyline(hills, profile, truth, seed)
        start = MEAN.copy()
        start[0] = truth[0] + np.radians(2.0)
        start[1] = truth[1] + 0.04
        first = scored(profile, table, [start])
        closely = scored(profile, table, [start], closely=True)
        gains.append(closely.score.max() - first.score.max())
    assert min(gains) > -FEW_POINTS
    assert np.median(gains) > 1.0
