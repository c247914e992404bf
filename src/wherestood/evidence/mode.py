"""Climb to one camera at one station and return how well it explains a skyline."""

from __future__ import annotations

from math import exp, log, pi

import numba
import numpy as np

from wherestood.evidence.lanes import eliminate
from wherestood.evidence.linearise import fill_residuals
from wherestood.evidence.mark_rows import AT_FIRST, LESS_EACH_LEG, first_width
from wherestood.evidence.normal_rows import NO, YES
from wherestood.evidence.plate_rows import add_plate_rows
from wherestood.evidence.unknowns import CAMERA, COUNT
from wherestood.evidence.whiten import (
    NO_FOREGROUND,
    fill_steps,
    invert,
    lengths_differ,
    log_product,
    solve,
    whiten,
    workspace,
)

__all__ = ["fit_mode", "plate_over_tangent"]

#: Longest step in bearing [rad], ln c and tilt [rad].
LONGEST = (0.03, 0.10, 0.06)


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def _add_prior(current, prior_mean, prior_precision, normal, right):  # type: ignore[no-untyped-def]
    """Add the prior to the normal equations; return its share of the squares."""
    square = 0.0
    for p in range(COUNT):
        # Linear unknowns are always measured from zero.
        off = (current[p] if p < CAMERA else 0.0) - prior_mean[p]
        right[p] += prior_precision[p] * off
        square += prior_precision[p] * off * off
        normal[p, p] += prior_precision[p]
    # Where nothing tells of the bearing its doubt is the whole circle, no more.
    normal[0, 0] += 3.0 / (pi * pi)
    return square


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def _left_over(work, theta):  # type: ignore[no-untyped-def]
    """Take what shifts residuals in proportion out of them."""
    for i in range(work.residual.size):
        value = work.residual[i]
        for p in range(CAMERA, COUNT):
            value += work.jacobian[i, p] * theta[p]
        work.fitted[i] = value


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def plate_over_tangent(samples, noise):  # type: ignore[no-untyped-def]
    """Return twice the log of dY/dT over all samples.

    The data are heights on the plate, the residuals tangents: without this a long
    lens, which makes every tangent small, would win by its units.
    """
    total = 0.0
    product = 1.0
    for n in range(samples.shape[0]):
        product *= samples[n, 2] / noise[n, 2]
        if not 1e-60 < product < 1e60:
            total += log(product)
            product = 1.0
    return 2.0 * (total + log(product))


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def _look(current, samples, profile, curvature_per_m, level, work):  # type: ignore[no-untyped-def]
    """Fill all that does not hang on how rough the noise is; return the units' log."""
    fill_residuals(
        current, samples, profile, curvature_per_m, work.residual, work.jacobian,
        work.noise,
    )  # fmt: skip
    fill_steps(work, level[1], level[3])
    return plate_over_tangent(samples, work.noise)


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def _weigh(  # type: ignore[no-untyped-def]
    current, units, level, foreground_log_odds, temper, prior_mean,
    prior_precision, log_prior, marks, wider, work,
):  # fmt: skip
    """Return the log density of one camera and its Laplace log marginal.

    The likelihood is raised to the power ``temper`` before the prior is added: the
    curvature is ``temper (H - P) + P``, H that of both untempered, P the prior's.
    The unknowns that shift a residual in proportion are integrated exactly; the
    camera's ten count as they stand, with no credit for a step not yet taken.
    The normal equations are left eliminated.
    """
    square, log_det = whiten(work, level, foreground_log_odds, temper)
    log_det += temper * units
    if marks[0][2].size + marks[0][3].size > 0:
        off, units_of_marks = add_plate_rows(
            current, marks, wider, YES, NO, work.normal, work.right, work.right[:0]
        )
        square += off
        log_det += units_of_marks
    square += _add_prior(current, prior_mean, prior_precision, work.normal, work.right)
    # The last unknowns first: those that are integrated at every camera.
    eliminate(work.normal, work.right, work.pivot)
    gain = 0.0
    for p in range(CAMERA, COUNT):
        gain += work.right[p] * work.right[p] / work.pivot[p]
    log_block = log_product(work.pivot, CAMERA, COUNT)
    density = -0.5 * (square - gain + log_det + log_block - log_prior)
    return density, density - 0.5 * log_product(work.pivot, 0, CAMERA)


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def fit_mode(  # type: ignore[no-untyped-def]
    start, samples, profile, curvature_per_m, prior_mean, prior_precision, limits,
    levels, level_log_weight, middle, foreground_log_odds, rounds,
    legs, marks, theta, covariance, fitted, level_score, temper, near,
):  # fmt: skip
    """Climb by Gauss-Newton; return the log marginal density mixed over noise levels.

    Each of ``legs`` climbs of ``rounds`` uses the noise level that fitted best after
    the one before. A step that makes the density worse is halved: the horizon is
    rough, and what a step promises is often not kept. ``theta`` receives the mode,
    ``covariance`` the inverse Hessian at the best level, ``fitted`` the residuals
    left [tangent], ``level_score`` the log density at each level, its weight
    included. A start that is ``near`` fitted at a neighbour: what does not fit there
    need not bend it. ``marks`` is all that is marked on the plate, as `OnPlate.handed`
    gives it: nobody tempers that. ``temper`` is the power of the skyline's likelihood;
    what is believed has none. Constants common to all stations are left out. Zero
    precision means a flat prior.
    """
    work = workspace(samples.shape[0])
    best_normal = np.empty((COUNT, COUNT))
    best_right = np.empty(COUNT)
    best_pivot = np.empty(COUNT)
    delta = np.empty(COUNT)
    step = np.zeros(COUNT)
    current = start.copy()
    current[1] = min(max(current[1], limits[0]), limits[1])
    for p in range(CAMERA, COUNT):
        current[p] = prior_mean[p]
    log_prior = 0.0
    for p in range(COUNT):
        if prior_precision[p] > 0.0:
            log_prior += log(prior_precision[p])
        theta[p] = current[p]
    climbing = middle
    units = 0.0
    # Whether ``work`` is filled for the camera of ``theta``.
    filled = False
    # Marks are smooth in all unknowns, and may be sharper than a skyline ever is.
    enough = 2e-4 if samples.shape[0] > 0 else 1e-6
    for leg in range(legs):
        # Far from the mode everything looks like foreground: the first leg knows none.
        odds = foreground_log_odds if near or leg > 0 else NO_FOREGROUND
        wider = AT_FIRST * LESS_EACH_LEG**leg if leg > 0 else first_width(start, marks)
        best = -1e300
        scale = 1.0
        for turn in range(rounds):
            if turn > 0 or not filled:
                units = _look(
                    current, samples, profile, curvature_per_m, levels[climbing], work
                )
            elif lengths_differ(levels, climbing, levels.shape[0] - 1):
                fill_steps(work, levels[climbing, 1], levels[climbing, 3])
            _left_over(work, current)
            density, _ = _weigh(
                current, units, levels[climbing], odds, temper, prior_mean,
                prior_precision, log_prior, marks, wider, work,
            )  # fmt: skip
            filled = density > best
            if filled:
                best = density
                solve(work.normal, work.right, work.pivot, delta)
                scale = 1.0
                for p in range(COUNT):
                    theta[p] = current[p] if p < CAMERA else -delta[p]
                    step[p] = delta[p]
                    if p < 3:
                        scale = min(scale, LONGEST[p] / max(abs(delta[p]), 1e-12))
            else:
                scale *= 0.4
            moved = max(abs(scale * step[0]), abs(scale * step[1]) / 2.5)
            if samples.shape[0] == 0:
                # What is level or upright tells of neither, and the camera moves still.
                for p in range(2, 6):
                    moved = max(moved, abs(scale * step[p]))
            if moved < enough:
                break
            for p in range(COUNT):
                current[p] = theta[p] - (scale * step[p] if p < CAMERA else 0.0)
            current[1] = min(max(current[1], limits[0]), limits[1])
        if not filled:
            units = _look(
                theta, samples, profile, curvature_per_m, levels[climbing], work
            )
            filled = True
        _left_over(work, theta)
        top = -1e300
        before = climbing
        for level in range(levels.shape[0]):
            if lengths_differ(levels, level, before):
                fill_steps(work, levels[level, 1], levels[level, 3])
            before = level
            _, score = _weigh(
                theta, units, levels[level], foreground_log_odds, temper,
                prior_mean, prior_precision, log_prior, marks, 0.0, work,
            )  # fmt: skip
            score += level_log_weight[level]
            level_score[level] = score
            if score > top:
                top = score
                climbing = level
                best_normal[:] = work.normal
                best_right[:] = work.right
                best_pivot[:] = work.pivot
        if top > -1e300:
            solve(best_normal, best_right, best_pivot, delta)
            for p in range(CAMERA, COUNT):
                theta[p] = -delta[p]
        for p in range(COUNT):
            current[p] = theta[p]
    if top > -1e300:
        invert(best_normal, best_pivot, work.normal, covariance)
    for i in range(fitted.size):
        fitted[i] = work.fitted[i]
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
