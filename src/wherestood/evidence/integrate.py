"""Integrate over the cameras about a mode, where the horizon is rough.

Bearing, principal distance and cross decide where along the horizon each sample
falls; a small change may bring another ridge, and a lucky one would be taken for
a broad one by its curvature alone. So these three are summed over fixed points
spread about the mode; all else is as good as linear and integrated in closed form.

References
----------
Owen 2013, "Monte Carlo theory, methods and examples", chapter 9: importance
sampling with a Student proposal, heavier in the tails than what is integrated.
"""

from __future__ import annotations

from functools import lru_cache
from math import log, sqrt

import numba
import numpy as np
from numpy.typing import NDArray
from scipy import stats

from wherestood.evidence.lanes import eliminate
from wherestood.evidence.linearise import fill_residuals
from wherestood.evidence.mode import plate_over_tangent
from wherestood.evidence.normal_rows import NO
from wherestood.evidence.plate_rows import add_plate_rows
from wherestood.evidence.unknowns import CAMERA, COUNT
from wherestood.evidence.whiten import (
    fill_steps,
    lengths_differ,
    log_product,
    whiten,
    workspace,
)

__all__ = ["MOVING", "integrate_mode", "spread_points"]

#: The unknowns summed over points: bearing, ln c and cross.
MOVING = (0, 1, 5)
#: All others, integrated in closed form.
STILL = tuple(index for index in range(COUNT) if index not in MOVING)
_FREEDOM = 5.0
#: Levels this far below the best in log density are left as they are.
_FAINT = 6.0
_SEED = 11
_A, _B, _C = MOVING
_STILL = np.array(STILL)


@lru_cache(maxsize=4)
def spread_points(count: int) -> NDArray[np.float64]:
    """Return points of a Student law in three dimensions, evenly spread.

    Returns
    -------
    (count, 4) float64 array
        Three coordinates in standard deviations, and the log of their density.
        ``count`` must be a power of two.
    """
    cube = stats.qmc.Sobol(4, seed=_SEED).random(count)
    cube = np.clip(cube, 1e-6, 1.0 - 1e-6)
    stretch = np.sqrt(stats.chi2.ppf(cube[:, 3], _FREEDOM) / _FREEDOM)
    points = stats.norm.ppf(cube[:, :3]) / stretch[:, None]
    law = stats.multivariate_t(np.zeros(3), np.eye(3), df=_FREEDOM)
    return np.column_stack((points, law.logpdf(points)))


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def integrate_mode(  # type: ignore[no-untyped-def]
    theta, covariance, points, samples, profile, curvature_per_m, prior_mean,
    prior_precision, limits, levels, level_log_weight, foreground_log_odds,
    marks, level_score, likeliest, temper=1.0,
):  # fmt: skip
    """Return the log marginal density about a mode, mixed over noise levels.

    ``likeliest`` receives the point that weighs most: a better start for a climb
    that went astray.
    ``theta`` and ``covariance`` are those of `fit_mode`; so are the constants left
    out, so that the two can be compared. Levels whose ``level_score`` lies far
    under the best are left as they are.
    """
    n = samples.shape[0]
    still = _STILL.size
    # Cholesky factor of the three moving unknowns' own covariance.
    l00 = sqrt(covariance[_A, _A])
    l10 = covariance[_B, _A] / l00
    l11 = sqrt(max(covariance[_B, _B] - l10 * l10, 1e-16))
    l20 = covariance[_C, _A] / l00
    l21 = (covariance[_C, _B] - l20 * l10) / l11
    l22 = sqrt(max(covariance[_C, _C] - l20 * l20 - l21 * l21, 1e-16))
    log_volume = log(l00) + log(l11) + log(l22) + 1.5 * log(2.0 * np.pi)
    # What the others are to be, given the three: two triangles to solve with.
    follow = np.empty((still, 3))
    for p in range(still):
        first = covariance[_STILL[p], _A] / l00
        second = (covariance[_STILL[p], _B] - l10 * first) / l11
        third = (covariance[_STILL[p], _C] - l20 * first - l21 * second) / l22
        follow[p, 0] = first
        follow[p, 1] = second
        follow[p, 2] = third
    log_prior = 0.0
    for p in range(theta.size):
        if prior_precision[p] > 0.0:
            log_prior += log(prior_precision[p])
    work = workspace(n)
    residual, fitted, jacobian = work.residual, work.fitted, work.jacobian
    normal, right, pivot = work.normal, work.right, work.pivot
    current = np.empty(theta.size)
    top = -1e300
    for level in range(levels.shape[0]):
        top = max(top, level_score[level])
    heaviest = -1e300
    for p in range(theta.size):
        likeliest[p] = theta[p]
    sums = np.zeros(levels.shape[0])
    highest = np.full(levels.shape[0], -1e300)
    for m in range(points.shape[0]):
        a = l00 * points[m, 0]
        b = l10 * points[m, 0] + l11 * points[m, 1]
        c = l20 * points[m, 0] + l21 * points[m, 1] + l22 * points[m, 2]
        if theta[_B] + b < limits[0] or theta[_B] + b > limits[1]:
            continue
        current[_A] = theta[_A] + a
        current[_B] = theta[_B] + b
        current[_C] = theta[_C] + c
        for p in range(still):
            q = _STILL[p]
            # The points themselves are those of the unit law: no need to go back.
            current[q] = (
                theta[q]
                + follow[p, 0] * points[m, 0]
                + follow[p, 1] * points[m, 1]
                + follow[p, 2] * points[m, 2]
            )
        fill_residuals(
            current, samples, profile, curvature_per_m, residual, jacobian, work.noise
        )
        units = plate_over_tangent(samples, work.noise)
        for i in range(n):
            fitted[i] = residual[i]
            for q in range(CAMERA, COUNT):
                fitted[i] += jacobian[i, q] * current[q]
            # What is summed over points is not integrated as well.
            for q in MOVING:
                jacobian[i, q] = 0.0
        held = 0.0
        for q in MOVING:
            off = current[q] - prior_mean[q]
            held += prior_precision[q] * off * off
        before = -1
        for level in range(levels.shape[0]):
            if level_score[level] < top - _FAINT:
                continue
            if before < 0 or lengths_differ(levels, level, before):
                fill_steps(work, levels[level, 1], levels[level, 3])
            before = level
            # Only the likelihood is raised to a power, as in `mode`.
            square, log_det = whiten(work, levels[level], foreground_log_odds, temper)
            square += held
            log_det += temper * units
            if marks[0][2].size + marks[0][3].size > 0:
                off, units_of_marks = add_plate_rows(
                    current, marks, 0.0, NO, NO, normal, right, right[:0]
                )
                square += off
                log_det += units_of_marks
            for q in MOVING:
                normal[q, q] = 1.0
            for p in range(still):
                q = _STILL[p]
                off = (current[q] if q < CAMERA else 0.0) - prior_mean[q]
                right[q] += prior_precision[q] * off
                square += prior_precision[q] * off * off
                normal[q, q] += prior_precision[q]
            eliminate(normal, right, pivot)
            gain = 0.0
            for q in range(COUNT):
                gain += right[q] * right[q] / pivot[q]
            log_hess = log_product(pivot, 0, COUNT)
            value = (
                -0.5 * (square - gain + log_det + log_hess - log_prior) - points[m, 3]
            )
            weighed = value + level_log_weight[level]
            if weighed > heaviest:
                heaviest = weighed
                for p in range(theta.size):
                    likeliest[p] = current[p]
            if value > highest[level]:
                sums[level] = sums[level] * np.exp(highest[level] - value) + 1.0
                highest[level] = value
            else:
                sums[level] += np.exp(value - highest[level])
    # Laplace's constant for three dimensions is left out of the other scores.
    constant = log_volume - 3.0 * log(2.0 * np.pi) - log(float(points.shape[0]))
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
