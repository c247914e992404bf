"""Integrate over the cameras of a panorama about a mode, all plates together.

Bearings, principal distances and crosses of all plates are summed over fixed points
spread about the mode, all else integrated in closed form, as `evidence.integrate`
does for one plate.
"""

from __future__ import annotations

from functools import lru_cache
from math import log, sqrt

import numba
import numpy as np
from numpy.typing import NDArray
from scipy import stats

from wherestood.evidence.integrate import MOVING
from wherestood.evidence.joint_look import joint_index, look, take_out_linear
from wherestood.evidence.joint_mode import weigh_joint
from wherestood.evidence.unknowns import CAMERA, COUNT
from wherestood.evidence.whiten import fill_steps, lengths_differ, log_product

__all__ = ["integrate_joint_mode", "joint_points"]

_FREEDOM = 5.0
#: Levels this far below the best in log density are left as they are.
_FAINT = 6.0
_SEED = 11
_MOVING = np.array(MOVING)
_MOVED = len(MOVING)


@lru_cache(maxsize=8)
def joint_points(count: int, plates: int) -> NDArray[np.float64]:
    """Return points of a Student law, three dimensions a plate, evenly spread.

    Returns
    -------
    (count, 3 plates + 1) float64 array
        Coordinates in standard deviations, and the log of their density. ``count``
        must be a power of two.
    """
    size = _MOVED * plates
    cube = stats.qmc.Sobol(size + 1, seed=_SEED).random(count)
    cube = np.clip(cube, 1e-6, 1.0 - 1e-6)
    stretch = np.sqrt(stats.chi2.ppf(cube[:, -1], _FREEDOM) / _FREEDOM)
    points = stats.norm.ppf(cube[:, :-1]) / stretch[:, None]
    law = stats.multivariate_t(np.zeros(size), np.eye(size), df=_FREEDOM)
    return np.column_stack((points, law.logpdf(points)))


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _spread(covariance, moving, still):  # type: ignore[no-untyped-def]
    """Return the factor of the moving unknowns and what the others are given them."""
    count = moving.size
    factor = np.zeros((count, count))
    for a in range(count):
        for b in range(a + 1):
            value = covariance[moving[a], moving[b]]
            for c in range(b):
                value -= factor[a, c] * factor[b, c]
            if a == b:
                # One lens for all leaves next to nothing of the second one's doubt.
                factor[a, a] = sqrt(max(value, 1e-14))
            else:
                factor[a, b] = value / factor[b, b]
    follow = np.zeros((still.size, count))
    for s in range(still.size):
        for b in range(count):
            value = covariance[still[s], moving[b]]
            for c in range(b):
                value -= follow[s, c] * factor[b, c]
            follow[s, b] = value / factor[b, b]
    return factor, follow


@numba.njit(cache=True, nogil=True, error_model="numpy")
def integrate_joint_mode(  # type: ignore[no-untyped-def]
    theta, covariance, points, samples, first, profile, curvature_per_m, belief, limits,
    levels, level_log_weight, foreground_log_odds, marks, ties, work, level_score,
    likeliest, temper,
):  # fmt: skip
    """Return the log marginal density about a mode, mixed over noise levels.

    As `integrate.integrate_mode` for several plates: ``theta`` and ``likeliest`` are
    (plates, unknowns), the rest as `joint_mode.fit_joint_mode` takes it.
    """
    plates = theta.shape[0]
    size = plates * COUNT
    held = np.zeros((plates, COUNT), dtype=np.bool_)
    moving = np.empty(plates * _MOVED, dtype=np.int64)
    plate_of = np.empty(size, dtype=np.int64)
    unknown_of = np.empty(size, dtype=np.int64)
    for k in range(plates):
        for a in range(_MOVED):
            held[k, _MOVING[a]] = True
            moving[k * _MOVED + a] = joint_index(plates, k, _MOVING[a])
        for p in range(COUNT):
            i = joint_index(plates, k, p)
            plate_of[i] = k
            unknown_of[i] = p
    still = np.empty(size - moving.size, dtype=np.int64)
    at = 0
    for i in range(size):
        if not held[plate_of[i], unknown_of[i]]:
            still[at] = i
            at += 1
    factor, follow = _spread(covariance, moving, still)
    log_volume = 0.5 * moving.size * log(2.0 * np.pi)
    for a in range(moving.size):
        log_volume += log(factor[a, a])
    current = np.empty((plates, COUNT))
    likeliest[:] = theta
    top = level_score.max()
    heaviest = -1e300
    sums = np.zeros(levels.shape[0])
    highest = np.full(levels.shape[0], -1e300)
    cameras = plates * CAMERA
    for m in range(points.shape[0]):
        outside = False
        for a in range(moving.size):
            value = 0.0
            for b in range(a + 1):
                value += factor[a, b] * points[m, b]
            k, p = plate_of[moving[a]], unknown_of[moving[a]]
            current[k, p] = theta[k, p] + value
            if p == 1 and not limits[0] <= current[k, 1] <= limits[1]:
                outside = True
        if outside:
            continue
        for s in range(still.size):
            value = 0.0
            for b in range(moving.size):
                value += follow[s, b] * points[m, b]
            k, p = plate_of[still[s]], unknown_of[still[s]]
            current[k, p] = theta[k, p] + value
        units = look(current, samples, first, profile, curvature_per_m, work)
        take_out_linear(current, work)
        before = -1
        for level in range(levels.shape[0]):
            if level_score[level] < top - _FAINT:
                continue
            if before < 0 or lengths_differ(levels, level, before):
                fill_steps(work.one, levels[level, 1], levels[level, 3])
            before = level
            value, _ = weigh_joint(
                current, units, levels[level], foreground_log_odds, temper, belief,
                marks, ties, 0.0, held, work,
            )  # fmt: skip
            # The cameras' other unknowns are as good as linear: integrated too.
            for i in range(cameras):
                value += 0.5 * work.right[i] * work.right[i] / work.pivot[i]
            value -= 0.5 * log_product(work.pivot, 0, cameras) + points[m, -1]
            weighed = value + level_log_weight[level]
            if weighed > heaviest:
                heaviest = weighed
                likeliest[:] = current
            if value > highest[level]:
                sums[level] = sums[level] * np.exp(highest[level] - value) + 1.0
                highest[level] = value
            else:
                sums[level] += np.exp(value - highest[level])
    # Laplace's constant for these dimensions is left out of the other scores.
    constant = log_volume - moving.size * log(2.0 * np.pi) - log(float(len(points)))
    best = -1e300
    for level in range(levels.shape[0]):
        if sums[level] > 0.0:
            level_score[level] = (
                highest[level] + log(sums[level]) + constant + level_log_weight[level]
            )
        best = max(best, level_score[level])
    total = 0.0
    for level in range(levels.shape[0]):
        total += np.exp(level_score[level] - best)
    return best + log(total)
