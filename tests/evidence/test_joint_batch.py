"""Check the scoring of panoramas against that of single plates."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from wherestood.evidence.batch import score_stations
from wherestood.evidence.joint_batch import JointPrior, score_joint_stations
from wherestood.evidence.noise import SkylineNoise
from wherestood.evidence.profile import Profiles
from wherestood.evidence.samples import SkylineSamples
from wherestood.evidence.ties import NO_TIES, TieTable, tie_state
from wherestood.evidence.unknowns import CAMERA, COUNT

CURVATURE_PER_M = 0.5 / 6_371_000.0
LIMITS = np.log([0.45, 2.2])
SAMPLES = 30
NOISE = SkylineNoise.usual("ground")
COVER_M = 8.0
SIDE_M = 50.0
#: The joint sums are made in another order than the single ones.
ROUNDING = 1e-6
#: A cell's place is shared but for a hundredth of its sd [m].
CELLS_APART = 1e-4
#: The first sample of the second plate is not new to one field for all [log].
EDGES = 0.2
#: What a good tie taken for a blunder costs [log].
A_TIE = 10.0
#: Sums over 32 points, of three and of six dimensions [log].
FEW_POINTS = 0.5
SD = np.full(COUNT, 1e-6)
SD[0] = np.inf
SD[1:CAMERA] = [0.3, 0.04, 0.03, 0.06, 0.02, 0.01, 0.01, 0.003, 0.002]
SD[CAMERA + 1 : CAMERA + 4] = [3.0, 3.0, 0.05]
SD[COUNT - 2 :] = SIDE_M / np.sqrt(12.0)
MEAN = np.zeros(COUNT)
MEAN[1] = np.log(0.95)


def camera(bearing_rad: float, ln_c: float = MEAN[1]) -> np.ndarray:
    """Return the unknowns of a camera that looks there."""
    theta = np.zeros(COUNT)
    theta[:CAMERA] = [
        bearing_rad, ln_c, 0.015, -0.01, 0.05, 0.01, 0.006, 0.002, 1e-3, -1e-3,
    ]  # fmt: skip
    return theta


@pytest.fixture
def ground(hills):
    """Return the horizon of smooth hills, as a batch takes it."""
    return Profiles(hills.profile()[None], np.array([300.0]), np.array([3.5]))


@pytest.fixture
def seen(hills, ground):
    """Return the function that makes a plate's skyline."""

    def made(theta: np.ndarray, seed: int) -> SkylineSamples:
        errors = np.random.default_rng(seed).normal(0.0, 1e-3, SAMPLES)
        table = hills.samples_of(
            ground.table[0], theta, SAMPLES, errors + COVER_M / 4000.0
        )
        return SkylineSamples(table, 5000.0, 4000, 3000)

    return made


def one_level() -> SkylineNoise:
    """Return noise of one roughness: mixed, plates would be tied by it."""
    return replace(
        NOISE, levels=NOISE.levels[1:2], level_log_weight=np.zeros(1), middle=0
    )


def single(theta, samples, ground, noise=NOISE, **look):
    """Score one plate by itself."""
    return score_stations(
        theta[None, None], samples, ground, CURVATURE_PER_M, MEAN, SD, LIMITS, noise,
        **look,
    )  # fmt: skip


def prior(plates: int, shared=()) -> JointPrior:
    """Return what is believed, some unknowns shared but for a thousandth."""
    shared_sd, own = np.zeros(COUNT), np.tile(SD, (plates, 1))
    for p in shared:
        shared_sd[p] = SD[p]
        own[:, p] = 1e-3 * SD[p]
    return JointPrior(np.tile(MEAN, (plates, 1)), shared_sd, own)


def jointly(thetas, samples, ground, shared=(), ties=NO_TIES, noise=NOISE, **look):
    """Score plates together."""
    return score_joint_stations(
        np.stack(thetas)[None, None], samples, ground, CURVATURE_PER_M,
        prior(len(thetas), shared), SIDE_M, LIMITS, noise, ties=ties, **look,
    )  # fmt: skip


def test_a_panorama_of_one_plate_scores_as_that_plate(seen, ground) -> None:
    theta = camera(2.2)
    samples = seen(theta, 3)
    one = single(theta, samples, ground)
    found = jointly([theta], [samples], ground)
    assert found.score[0, 0] == pytest.approx(one.score[0, 0], abs=ROUNDING)
    np.testing.assert_allclose(found.theta[0, 0, 0], one.theta[0, 0], atol=CELLS_APART)
    np.testing.assert_allclose(found.sd[0, 0, 0], one.sd[0, 0], rtol=1e-3)


def test_a_close_look_at_one_plate_agrees_with_that_plate(seen, ground) -> None:
    theta = camera(2.2)
    samples = seen(theta, 3)
    one = single(theta, samples, ground, closely=True)
    found = jointly([theta], [samples], ground, closely=True)
    assert found.score[0, 0] == pytest.approx(one.score[0, 0], abs=FEW_POINTS)


def test_plates_that_look_apart_and_share_nothing_add_up(seen, ground) -> None:
    thetas = [camera(0.4), camera(3.6)]
    samples = [seen(theta, k) for k, theta in enumerate(thetas)]
    noise = one_level()
    parts = [
        single(t, s, ground, noise).score[0, 0]
        for t, s in zip(thetas, samples, strict=True)
    ]
    apart = JointPrior(np.tile(MEAN, (2, 1)), np.zeros(COUNT), np.tile(SD, (2, 1)))
    mean, shared, own = apart.variances(noise, ground.ground_sd_m, SIDE_M)
    # Cover and cells are always shared in part: here they are given to each whole.
    own[:, CAMERA], own[:, -2:] = noise.cover_sd_m**2 + 3.5**2, SD[-1] ** 2
    together = score_joint_stations(
        np.stack(thetas)[None, None], samples, ground, CURVATURE_PER_M,
        _Given(mean, np.zeros_like(shared), own), SIDE_M, LIMITS, noise,
    )  # fmt: skip
    assert together.score[0, 0] == pytest.approx(sum(parts), abs=EDGES)


def test_a_lens_shared_is_believed_once_and_learned_from_both(seen, ground) -> None:
    thetas = [camera(0.4), camera(3.6)]
    samples = [seen(theta, k) for k, theta in enumerate(thetas)]
    alone = [single(t, s, ground) for t, s in zip(thetas, samples, strict=True)]
    found = jointly(thetas, samples, ground, shared=(1,))
    lenses = found.theta[0, 0, :, 1]
    assert lenses[0] == pytest.approx(lenses[1], abs=3e-3)
    sds = np.array([one.sd[0, 0, 1] for one in alone])
    # Precisions add up, less the one belief that both hold.
    expected = 1.0 / np.sqrt(np.sum(sds**-2.0) - SD[1] ** -2.0)
    assert found.sd[0, 0, 0, 1] == pytest.approx(expected, rel=0.15)


def test_a_hill_seen_on_two_plates_counts_once(seen, ground) -> None:
    theta = camera(2.2)
    samples = seen(theta, 3)
    one = single(theta, samples, ground)
    shared = tuple(range(1, COUNT))
    twice = jointly([theta, theta], [samples, samples], ground, shared=shared)
    # Counted twice the bearing would be known 1.41 times as well.
    ratio = one.sd[0, 0, 0] / twice.sd[0, 0, 0, 0]
    assert ratio == pytest.approx(1.0, abs=0.1)


def test_ties_hold_two_plates_at_the_angle_between_them(seen, ground) -> None:
    thetas = [camera(2.0), camera(2.5)]
    samples = [seen(theta, k) for k, theta in enumerate(thetas)]
    ties = ties_between(*thetas)
    begun = [thetas[0], thetas[1].copy()]
    begun[1][0] += 0.02
    loose = jointly(begun, samples, ground, shared=(1, 6))
    tied = jointly(begun, samples, ground, shared=(1, 6), ties=ties)

    def turn_off(found) -> float:
        turn = found.theta[0, 0, 1, 0] - found.theta[0, 0, 0, 0]
        return abs(turn - 0.5)

    # Bearing and cross part hardly; the sights do, and those the ties hold.
    assert turn_off(tied) < 0.01
    assert tied.sd[0, 0, 1, 0] <= loose.sd[0, 0, 1, 0] * 1.01


def test_a_first_look_takes_good_ties_for_good(seen, ground) -> None:
    thetas = [camera(2.0), camera(2.5)]
    samples = [seen(theta, k) for k, theta in enumerate(thetas)]
    ties = ties_between(*thetas)
    begun = [thetas[0].copy(), thetas[1].copy()]
    begun[0][0] -= 0.01
    begun[1][0] += 0.02
    first = jointly(begun, samples, ground, shared=(1, 6), ties=ties)
    closer = jointly(begun, samples, ground, shared=(1, 6), ties=ties, closely=True)
    # One good tie taken for a blunder costs ten or so; a search lets go of what a
    # first look puts 20 below the best.
    assert first.score[0, 0] == pytest.approx(closer.score[0, 0], abs=A_TIE / 2.0)


def test_ties_keep_their_weight_when_stations_are_compared(seen, ground) -> None:
    thetas = [camera(2.0), camera(2.5)]
    samples = [seen(theta, k) for k, theta in enumerate(thetas)]
    ties = ties_between(*thetas)
    whole = replace(NOISE, station_power=1.0)
    as_climbed = jointly(thetas, samples, ground, (1, 6), ties, whole)
    found = jointly(thetas, samples, ground, (1, 6), ties)
    odds, _ = tie_state(ties, found.theta[0, 0])
    assert (odds < 0.0).all()
    tied = float(np.sum(ties.log_blunder - odds))
    power = NOISE.station_power
    expected = power * as_climbed.score[0, 0] + (1.0 - power) * tied
    assert found.score[0, 0] == pytest.approx(expected, abs=ROUNDING)


def ties_between(one, other) -> TieTable:
    """Return ties at six directions that both cameras see, exactly placed."""
    place = np.zeros((6, 2, 5))
    for row, turn in enumerate(np.linspace(-0.1, 0.1, 6)):
        for side, theta in enumerate((one, other)):
            alpha = 0.5 * (one[0] + other[0]) + turn - theta[0]
            c = np.exp(theta[1])
            flat = theta.copy()
            x = c * np.tan(alpha) - flat[5]
            place[row, side] = (x, 0.02 * row - 0.05, 4e-4, 0.0, 0.0)
    count = np.zeros(6)
    pair = np.tile(np.array([[0, 1]]), (6, 1))
    return TieTable(pair, place, count, count - 0.05, count - 3.0)


class _Given(JointPrior):
    """Hand over variances as they are."""

    def __init__(self, mean, shared, own) -> None:
        object.__setattr__(self, "given", (mean, shared, own))

    def variances(self, *_):
        return self.given
