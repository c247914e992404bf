"""Climb to one camera at one station and return how well it explains a skyline."""

from __future__ import annotations

from math import exp, log

import numba
import numpy as np

from wherestood.evidence.linearise import fill_residuals
from wherestood.evidence.unknowns import CAMERA
from wherestood.evidence.whiten import factor, solve, whiten

__all__ = ["fit_mode"]


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
def fit_mode(  # type: ignore[no-untyped-def]
    start, samples, profile, curvature_per_m, prior_mean, prior_precision, limits,
    levels, level_log_weight, middle, jump_sd_m, jump_log_odds, rounds,
    theta, covariance, fitted, level_score,
):  # fmt: skip
    """Climb by Gauss-Newton; return the log marginal density mixed over noise levels.

    ``theta`` receives the mode, ``covariance`` the inverse Hessian at the best
    level, ``fitted`` the residuals left [tangent], ``level_score`` the log
    density at each level, its weight included. Constants common to all stations
    are left out. Zero precision means a flat prior.
    """
    n = samples.shape[0]
    size = start.size
    residual = np.empty(n)
    jacobian = np.empty((n, size))
    noise = np.empty((n, 4))
    normal = np.empty((size, size))
    right = np.empty(size)
    state = np.empty((size, 3))
    unit = np.empty(size)
    rhs = np.empty(size)
    delta = np.empty(size)
    current = start.copy()
    for p in range(CAMERA, size):
        current[p] = prior_mean[p]
    log_prior = 0.0
    for p in range(size):
        if prior_precision[p] > 0.0:
            log_prior += log(prior_precision[p])
    best = -1e300
    for turn in range(rounds + 1):
        fill_residuals(
            current, samples, profile, curvature_per_m, residual, jacobian, noise
        )
        _left_over(residual, jacobian, current, fitted)
        # The first turn is far from the mode: nothing is a jump yet.
        odds = jump_log_odds if turn > 0 else -1e9
        square, log_det = whiten(
            residual, jacobian, noise, fitted, levels[middle], jump_sd_m, odds,
            normal, right, state,
        )  # fmt: skip
        log_det += _plate_over_tangent(samples, noise)
        square += _add_prior(current, prior_mean, prior_precision, normal, right, rhs)
        log_hess = factor(normal)
        solve(normal, rhs, delta)
        gain = 0.0
        for p in range(size):
            gain += delta[p] * rhs[p]
        score = -0.5 * (square - gain + log_det + log_hess - log_prior)
        if turn > 0 and score > best:
            best = score
            for p in range(size):
                theta[p] = current[p] - delta[p] if p < CAMERA else -delta[p]
            theta[1] = min(max(theta[1], limits[0]), limits[1])
            if abs(delta[0]) > 0.03 or abs(delta[1]) > 0.10 or abs(delta[2]) > 0.06:
                # Too long a step to trust: stay where the score was taken.
                for p in range(CAMERA):
                    theta[p] = current[p]
        if turn == rounds:
            break
        scale = 1.0
        scale = min(scale, 0.03 / max(abs(delta[0]), 1e-12))
        scale = min(scale, 0.10 / max(abs(delta[1]), 1e-12))
        scale = min(scale, 0.06 / max(abs(delta[2]), 1e-12))
        for p in range(size):
            if p < CAMERA:
                current[p] -= scale * delta[p]
            else:
                current[p] = -delta[p]
        current[1] = min(max(current[1], limits[0]), limits[1])
        if turn > 1 and abs(delta[0]) < 2e-4 and abs(delta[1]) < 5e-4:
            break
    fill_residuals(theta, samples, profile, curvature_per_m, residual, jacobian, noise)
    _left_over(residual, jacobian, theta, fitted)
    total = -1e300
    top = -1e300
    for level in range(levels.shape[0]):
        square, log_det = whiten(
            residual, jacobian, noise, fitted, levels[level], jump_sd_m, jump_log_odds,
            normal, right, state,
        )  # fmt: skip
        log_det += _plate_over_tangent(samples, noise)
        square += _add_prior(theta, prior_mean, prior_precision, normal, right, rhs)
        log_hess = factor(normal)
        solve(normal, rhs, delta)
        gain = 0.0
        for p in range(size):
            gain += delta[p] * rhs[p]
        score = -0.5 * (square - gain + log_det + log_hess - log_prior)
        score += level_log_weight[level]
        level_score[level] = score
        if score > top:
            top = score
            for p in range(CAMERA, size):
                theta[p] = -delta[p]
            for q in range(size):
                for p in range(size):
                    unit[p] = 1.0 if p == q else 0.0
                solve(normal, unit, right)
                for p in range(size):
                    covariance[p, q] = right[p]
    for level in range(levels.shape[0]):
        score = level_score[level]
        if level == 0:
            total = score
        elif score > total:
            total = score + log(1.0 + exp(total - score))
        else:
            total += log(1.0 + exp(score - total))
    return total
