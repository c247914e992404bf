"""Return how far cameras at their modes may be off, all unknowns together."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.mode import fit_mode
from wherestood.evidence.noise import SkylineNoise
from wherestood.evidence.plate_rows import NOTHING_MARKED, Aims, OnPlate
from wherestood.evidence.profile import Profiles
from wherestood.evidence.samples import SkylineSamples
from wherestood.evidence.unknowns import CAMERA, COUNT

__all__ = ["camera_covariances"]

Array = NDArray[np.float64]
#: No step is taken; twice round, that the linear unknowns are at their best.
_ROUNDS, _LEGS = 0, 2


def camera_covariances(
    theta: Array,
    samples: SkylineSamples,
    profiles: Profiles,
    curvature_per_m: float,
    prior_mean: Array,
    prior_sd: Array,
    limits: Array,
    noise: SkylineNoise,
    seen: OnPlate = NOTHING_MARKED,
    aims: Aims | None = None,
) -> Array:
    """Return the covariance of all unknowns about given cameras.

    Parameters
    ----------
    theta : (stations, unknowns) float64 array
        One camera at each station, as found there.
    profiles : Profiles
        Of the stations.
    prior_mean, prior_sd, limits, noise, seen, aims
        As `evidence.batch.score_stations` takes them.

    Returns
    -------
    (stations, unknowns, unknowns) float64 array
    """
    where = aims or Aims.none(len(theta))
    mean = prior_mean.copy()
    mean[CAMERA] = noise.cover_mean_m
    precision = np.where(np.isfinite(prior_sd), prior_sd, np.inf) ** -2.0
    count, levels = len(samples.table), len(noise.levels)
    found = np.empty((len(theta), COUNT, COUNT))
    for index, start in enumerate(theta):
        # Cover and the doubt of the ground under the station act as one.
        ground_sd_m = profiles.ground_sd_m[index]
        precision[CAMERA] = 1.0 / (noise.cover_sd_m**2 + ground_sd_m**2)
        fit_mode(
            start, samples.table, profiles.table[index], curvature_per_m, mean,
            precision, limits, noise.levels, noise.level_log_weight, noise.middle,
            noise.foreground_log_odds, _ROUNDS, _LEGS,
            seen.handed(where, index), np.empty(COUNT),
            found[index], np.empty(count), np.empty(levels), noise.temper, True,
        )  # fmt: skip
    return found
