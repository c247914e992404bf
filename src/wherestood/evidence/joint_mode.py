"""Climb to the cameras of a panorama at one station, all plates together.

What is solved: the unknowns of every plate (`evidence.unknowns`), from their skylines,
marks and tie marks, by Gauss-Newton; one answer a start. It is `evidence.mode` for
several plates: see there for the steps.
"""

from __future__ import annotations

from math import exp, log

import numba
import numpy as np

from wherestood.evidence.joint_look import joint_index, look, take_out_linear
from wherestood.evidence.joint_solve import (
    eliminate_joint,
    invert_joint,
    solve_joint,
)
from wherestood.evidence.joint_sums import add_up
from wherestood.evidence.mark_rows import AT_FIRST, LESS_EACH_LEG
from wherestood.evidence.unknowns import CAMERA, COUNT
from wherestood.evidence.whiten import (
    NO_FOREGROUND,
    fill_steps,
    lengths_differ,
    log_product,
)

__all__ = ["fit_joint_mode", "weigh_joint"]

#: Longest step in bearing [rad], ln c and tilt [rad].
LONGEST = (0.03, 0.10, 0.06)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def weigh_joint(  # type: ignore[no-untyped-def]
    theta, units, level, foreground_log_odds, temper, belief, marks, ties, wider,
    held, work,
):  # fmt: skip
    """Return the log density of cameras and its Laplace log marginal.

    As `evidence.mode` has it: what shifts residuals in proportion is integrated
    exactly, cameras count as they stand. The normal equations are left eliminated.
    """
    square, log_det = add_up(
        theta, units, level, foreground_log_odds, temper, belief, marks, ties,
        wider, held, work,
    )  # fmt: skip
    eliminate_joint(work.normal, work.right, work.pivot)
    size = work.pivot.size
    cameras = theta.shape[0] * CAMERA
    gain = 0.0
    for i in range(cameras, size):
        gain += work.right[i] * work.right[i] / work.pivot[i]
    log_block = log_product(work.pivot, cameras, size)
    density = -0.5 * (square - gain + log_det + log_block - belief.log_det)
    return density, density - 0.5 * log_product(work.pivot, 0, cameras)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _whole_step(theta, work, delta, step):  # type: ignore[no-untyped-def]
    """Solve for the step; settle the linear unknowns; return how much to take."""
    plates = theta.shape[0]
    solve_joint(work.normal, work.right, work.pivot, delta)
    scale = 1.0
    for k in range(plates):
        for p in range(COUNT):
            value = delta[joint_index(plates, k, p)]
            step[k, p] = value
            if p >= CAMERA:
                theta[k, p] = -value
            elif p < 3:
                scale = min(scale, LONGEST[p] / max(abs(value), 1e-12))
    return scale


@numba.njit(cache=True, nogil=True, error_model="numpy")
def fit_joint_mode(  # type: ignore[no-untyped-def]
    start, samples, first, profile, curvature_per_m, belief, limits, levels,
    level_log_weight, middle, foreground_log_odds, rounds, legs, marks, ties,
    work, theta, covariance, level_score, temper, near,
):  # fmt: skip
    """Climb; return the log marginal density mixed over noise levels.

    ``theta`` (plates, unknowns) receives the mode, ``covariance`` the inverse Hessian
    of all joint unknowns at the best level, ``level_score`` the log density at each,
    its weight included. The rest is as `mode.fit_mode` takes it.
    """
    plates = start.shape[0]
    size = plates * COUNT
    held = np.zeros((plates, COUNT), dtype=np.bool_)
    delta = np.empty(size)
    step = np.zeros((plates, COUNT))
    current = start.copy()
    for k in range(plates):
        current[k, 1] = min(max(current[k, 1], limits[0]), limits[1])
        for p in range(CAMERA, COUNT):
            current[k, p] = belief.mean[k, p]
    theta[:] = current
    best_normal = np.empty((size, size))
    best_right = np.empty(size)
    best_pivot = np.empty(size)
    climbing = middle
    units = 0.0
    filled = False
    enough = 2e-4 if samples.shape[0] > 0 else 1e-6
    for leg in range(legs):
        # As in `mode`: far from the mode everything looks like foreground.
        odds = foreground_log_odds if near or leg > 0 else NO_FOREGROUND
        wider = AT_FIRST * LESS_EACH_LEG**leg
        best = -1e300
        scale = 1.0
        for turn in range(rounds):
            if turn > 0 or not filled:
                units = look(current, samples, first, profile, curvature_per_m, work)
                fill_steps(work.one, levels[climbing, 1], levels[climbing, 3])
            elif lengths_differ(levels, climbing, levels.shape[0] - 1):
                fill_steps(work.one, levels[climbing, 1], levels[climbing, 3])
            take_out_linear(current, work)
            density, _ = weigh_joint(
                current, units, levels[climbing], odds, temper, belief,
                marks, ties, wider, held, work,
            )  # fmt: skip
            filled = density > best
            if filled:
                best = density
                theta[:] = current
                scale = _whole_step(theta, work, delta, step)
            else:
                scale *= 0.4
            moved = 0.0
            for k in range(plates):
                moved = max(moved, abs(scale * step[k, 0]) / enough)
                moved = max(moved, abs(scale * step[k, 1]) / (2.5 * enough))
                if samples.shape[0] == 0:
                    # What is level or upright tells of neither.
                    for p in range(2, 6):
                        moved = max(moved, abs(scale * step[k, p]) / enough)
            if moved < 1.0:
                break
            for k in range(plates):
                for p in range(COUNT):
                    move = scale * step[k, p] if p < CAMERA else 0.0
                    current[k, p] = theta[k, p] - move
                current[k, 1] = min(max(current[k, 1], limits[0]), limits[1])
        if not filled:
            units = look(theta, samples, first, profile, curvature_per_m, work)
            fill_steps(work.one, levels[climbing, 1], levels[climbing, 3])
            filled = True
        take_out_linear(theta, work)
        top = -1e300
        before = climbing
        for level in range(levels.shape[0]):
            if lengths_differ(levels, level, before):
                fill_steps(work.one, levels[level, 1], levels[level, 3])
            before = level
            _, score = weigh_joint(
                theta, units, levels[level], foreground_log_odds, temper, belief,
                marks, ties, 0.0, held, work,
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
            solve_joint(best_normal, best_right, best_pivot, delta)
            for k in range(plates):
                for p in range(CAMERA, COUNT):
                    theta[k, p] = -delta[joint_index(plates, k, p)]
        current[:] = theta
    if top > -1e300:
        invert_joint(best_normal, best_pivot, covariance)
    total = 0.0
    if not top > -1e300:
        return -np.inf
    for level in range(levels.shape[0]):
        total += exp(level_score[level] - top)
    return top + log(total)
