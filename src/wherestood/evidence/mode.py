"""Climb to one camera at one station and return how well it explains a skyline."""

from __future__ import annotations

from math import exp, log, pi

import numba
import numpy as np

from wherestood.evidence.linearise import fill_residuals
from wherestood.evidence.unknowns import CAMERA
from wherestood.evidence.whiten import factor, solve, whiten

__all__ = ["fit_mode"]

#: Longest step in bearing [rad], ln c and tilt [rad].
LONGEST = (0.03, 0.10, 0.06)


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def _add_prior(current, prior_mean, prior_precision, normal, right, rhs):  # type: ignore[no-untyped-def]
    """Add the prior to the normal equations; return its share of the squares."""
    square = 0.0
    for p in range(current.size):
        # Linear unknowns are always measured from zero.
        off = (current[p] if p < CAMERA else 0.0) - prior_mean[p]
        rhs[p] = right[p] + prior_precision[p] * off
        square += prior_precision[p] * off * off
        normal[p, p] += prior_precision[p]
    # Where nothing tells of the bearing its doubt is the whole circle, no more.
    normal[0, 0] += 3.0 / (pi * pi)
    return square


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def _left_over(residual, jacobian, theta, fitted):  # type: ignore[no-untyped-def]
    for i in range(residual.size):
        value = residual[i]
        for p in range(CAMERA, theta.size):
            value += jacobian[i, p] * theta[p]
        fitted[i] = value


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def _plate_over_tangent(samples, noise):  # type: ignore[no-untyped-def]
    """Return twice the log of dY/dT over all samples.

    The data are heights on the plate, the residuals tangents: without this a long
    lens, which makes every tangent small, would win by its units.
    """
    total = 0.0
    for n in range(samples.shape[0]):
        total += log(samples[n, 2] / noise[n, 2])
    return 2.0 * total


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def _weigh(  # type: ignore[no-untyped-def]
    current, samples, residual, jacobian, noise, fitted, level, jump_sd_m,
    jump_log_odds, temper, prior_mean, prior_precision, log_prior, normal, right, state,
    rhs, block, delta,
):  # fmt: skip
    """Return the log density of one camera and its Laplace log marginal.

    The likelihood is raised to the power ``temper`` before the prior is added: the
    curvature is ``temper (H - P) + P``, H that of both untempered, P the prior's.
    The unknowns that shift a residual in proportion are integrated exactly; the
    camera's ten count as they stand, with no credit for a step not yet taken.
    ``normal`` is left factored, ``delta`` is the next step.
    """
    size = current.size
    square, log_det = whiten(
        residual, jacobian, noise, fitted, level, jump_sd_m, jump_log_odds,
        normal, right, state,
    )  # fmt: skip
    log_det += _plate_over_tangent(samples, noise)
    square, log_det = temper * square, temper * log_det
    for p in range(current.size):
        right[p] *= temper
        for q in range(current.size):
            normal[p, q] *= temper
    square += _add_prior(current, prior_mean, prior_precision, normal, right, rhs)
    linear = size - CAMERA
    for p in range(linear):
        for q in range(p + 1):
            block[p, q] = normal[CAMERA + p, CAMERA + q]
    log_block = factor(block)
    solve(block, rhs[CAMERA:], delta)
    gain = 0.0
    for p in range(linear):
        gain += delta[p] * rhs[CAMERA + p]
    density = -0.5 * (square - gain + log_det + log_block - log_prior)
    log_hess = factor(normal)
    solve(normal, rhs, delta)
    return density, density - 0.5 * (log_hess - log_block)


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def fit_mode(  # type: ignore[no-untyped-def]
    start, samples, profile, curvature_per_m, prior_mean, prior_precision, limits,
    levels, level_log_weight, middle, jump_sd_m, jump_log_odds, rounds,
    legs, theta, covariance, fitted, level_score, temper=1.0,
):  # fmt: skip
    """Climb by Gauss-Newton; return the log marginal density mixed over noise levels.

    Each of ``legs`` climbs of ``rounds`` uses the noise level that fitted best after
    the one before. A step that makes the density worse is halved: the horizon is
    rough, and what a step promises is often not kept. ``theta`` receives the mode,
    ``covariance`` the inverse Hessian at the best level, ``fitted`` the residuals
    left [tangent], ``level_score`` the log density at each level, its weight
    included. ``temper`` is the power of the likelihood; what is believed has none.
    Constants common to all stations are left out. Zero precision means a flat prior.
    """
    n = samples.shape[0]
    size = start.size
    residual = np.empty(n)
    jacobian = np.empty((n, size))
    noise = np.empty((n, 4))
    normal = np.empty((size, size))
    block = np.empty((size - CAMERA, size - CAMERA))
    right = np.empty(size)
    state = np.empty((size, 3))
    unit = np.empty(size)
    rhs = np.empty(size)
    delta = np.empty(size)
    step = np.zeros(size)
    linear = np.zeros(size)
    current = start.copy()
    current[1] = min(max(current[1], limits[0]), limits[1])
    for p in range(CAMERA, size):
        current[p] = prior_mean[p]
    log_prior = 0.0
    for p in range(size):
        if prior_precision[p] > 0.0:
            log_prior += log(prior_precision[p])
        theta[p] = current[p]
    climbing = middle
    for leg in range(legs):
        # Far from the mode everything looks like a jump: the first leg knows none.
        odds = jump_log_odds if leg > 0 else -1e9
        best = -1e300
        scale = 1.0
        for _ in range(rounds):
            fill_residuals(
                current, samples, profile, curvature_per_m, residual, jacobian, noise
            )
            _left_over(residual, jacobian, current, fitted)
            density, _ = _weigh(
                current, samples, residual, jacobian, noise, fitted, levels[climbing],
                jump_sd_m, odds, temper, prior_mean, prior_precision, log_prior, normal,
                right, state, rhs, block, delta,
            )  # fmt: skip
            if density > best:
                best = density
                scale = 1.0
                for p in range(size):
                    theta[p] = current[p] if p < CAMERA else -delta[p]
                    step[p] = delta[p]
                    if p < 3:
                        scale = min(scale, LONGEST[p] / max(abs(delta[p]), 1e-12))
            else:
                scale *= 0.4
            if abs(scale * step[0]) < 2e-4 and abs(scale * step[1]) < 5e-4:
                break
            for p in range(size):
                current[p] = theta[p] - (scale * step[p] if p < CAMERA else 0.0)
            current[1] = min(max(current[1], limits[0]), limits[1])
        fill_residuals(
            theta, samples, profile, curvature_per_m, residual, jacobian, noise
        )
        _left_over(residual, jacobian, theta, fitted)
        top = -1e300
        for level in range(levels.shape[0]):
            _, score = _weigh(
                theta, samples, residual, jacobian, noise, fitted, levels[level],
                jump_sd_m, jump_log_odds, temper, prior_mean, prior_precision,
                log_prior, normal, right, state, rhs, block, delta,
            )  # fmt: skip
            score += level_log_weight[level]
            level_score[level] = score
            if score > top:
                top = score
                climbing = level
                for p in range(CAMERA, size):
                    linear[p] = -delta[p]
                if leg == legs - 1:
                    for q in range(size):
                        for p in range(size):
                            unit[p] = 1.0 if p == q else 0.0
                        solve(normal, unit, right)
                        for p in range(size):
                            covariance[p, q] = right[p]
        for p in range(size):
            if p >= CAMERA:
                theta[p] = linear[p]
            current[p] = theta[p]
    total = -1e300
    for level in range(levels.shape[0]):
        score = level_score[level]
        if level == 0:
            total = score
        elif score > total:
            total = score + log(1.0 + exp(total - score))
        else:
            total += log(1.0 + exp(score - total))
    return total
