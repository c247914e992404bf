"""Score many stations at once, each from its own starting cameras."""

from __future__ import annotations

from dataclasses import dataclass

import numba
import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.mode import fit_mode
from wherestood.evidence.noise import SkylineNoise
from wherestood.evidence.profile import Profiles
from wherestood.evidence.samples import SkylineSamples
from wherestood.evidence.unknowns import CAMERA, COUNT

__all__ = ["StationScores", "score_stations"]

Array = NDArray[np.float64]

#: Two climbs that end this near are one mode: bearing [rad] and ln c.
SAME_BEARING_RAD = 0.02
SAME_LOG_DISTANCE = 0.06
ROUNDS = 6


@dataclass(frozen=True)
class StationScores:
    """Hold the cameras found at stations.

    Attributes
    ----------
    score : (stations, starts) float64 array
        Log marginal density of the skyline, -inf for a camera found twice.
    theta, sd : (stations, starts, unknowns) float64 array
        The unknowns at each mode and their standard deviations.
    """

    score: Array
    theta: Array
    sd: Array


@numba.njit(cache=True, nogil=True, parallel=True, error_model="numpy")
def _score(  # type: ignore[no-untyped-def]
    starts, samples, profiles, ground_sd, curvature_per_m, prior_mean, prior_sd,
    cover_sd, limits, levels, level_log_weight, middle, jump_sd, jump_log_odds, rounds,
    score, theta, sd,
):  # fmt: skip
    for s in numba.prange(starts.shape[0]):
        size = starts.shape[2]
        precision = np.zeros(size)
        for p in range(size):
            if np.isfinite(prior_sd[p]):
                precision[p] = 1.0 / prior_sd[p] ** 2
        # Cover and the doubt of the ground under the station act as one.
        precision[CAMERA] = 1.0 / (cover_sd**2 + ground_sd[s] ** 2)
        covariance = np.empty((size, size))
        fitted = np.empty(samples.shape[0])
        level_score = np.empty(levels.shape[0])
        for m in range(starts.shape[1]):
            if not np.isfinite(starts[s, m, 1]):
                score[s, m] = -np.inf
                continue
            score[s, m] = fit_mode(
                starts[s, m], samples, profiles[s], curvature_per_m, prior_mean,
                precision, limits, levels, level_log_weight, middle, jump_sd,
                jump_log_odds, rounds, theta[s, m], covariance, fitted, level_score,
            )  # fmt: skip
            if not np.isfinite(score[s, m]):
                score[s, m] = -np.inf
            for p in range(size):
                sd[s, m, p] = np.sqrt(max(covariance[p, p], 0.0))
            for before in range(m):
                turn = theta[s, m, 0] - theta[s, before, 0]
                turn = (turn + np.pi) % (2.0 * np.pi) - np.pi
                lens = theta[s, m, 1] - theta[s, before, 1]
                if abs(turn) < SAME_BEARING_RAD and abs(lens) < SAME_LOG_DISTANCE:
                    if score[s, m] > score[s, before]:
                        score[s, before] = -np.inf
                    else:
                        score[s, m] = -np.inf


def score_stations(
    starts: Array,
    samples: SkylineSamples,
    profiles: Profiles,
    curvature_per_m: float,
    prior_mean: Array,
    prior_sd: Array,
    limits: Array,
    noise: SkylineNoise,
) -> StationScores:
    """Climb from every starting camera of every station.

    Parameters
    ----------
    starts : (stations, starts, unknowns) float64 array
        Starting unknowns; NaN in ln c for no start.
    prior_mean, prior_sd : (unknowns,) float64 array
        Prior of the unknowns; the mean and sd of cover come from ``noise``.
    limits : (2,) float64 array
        Least and greatest ln c.

    Returns
    -------
    StationScores
        Scores are tempered by ``noise.temper``; the lens's own prior and that of
        the bearing (flat) are for the caller to add.
    """
    count = starts.shape[:2]
    score = np.full(count, -np.inf)
    theta = np.zeros((*count, COUNT))
    sd = np.zeros((*count, COUNT))
    mean = prior_mean.copy()
    mean[CAMERA] = noise.cover_mean_m
    _score(
        np.ascontiguousarray(starts), samples.table, profiles.table,
        profiles.ground_sd_m, curvature_per_m, mean, prior_sd, noise.cover_sd_m,
        limits, noise.levels, noise.level_log_weight, noise.middle, noise.jump_sd_m,
        noise.jump_log_odds, ROUNDS, score, theta, sd,
    )  # fmt: skip
    return StationScores(score * noise.temper, theta, sd)
