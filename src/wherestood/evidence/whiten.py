"""Whiten residuals that share a field of cover and model error.

The field ``g`` [m] is a first-order Markov process along the silhouette: two
samples a ground step s apart correlate by exp(-s / L). A Kalman pass gives the
whitened sums and the log determinant in time linear in the samples, where a
dense covariance would take the cube.
"""

from __future__ import annotations

from math import exp, log, sqrt

import numba
import numpy as np

__all__ = ["LEVEL", "factor", "solve", "whiten"]

#: Columns of a noise level: sd of the field [m], its correlation length [m],
#: uncorrelated error [m], sideways error of ridges [m], factor on the tracing.
LEVEL = ("field_sd_m", "field_length_m", "white_m", "lateral_m", "tracing_factor")


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def whiten(  # type: ignore[no-untyped-def]
    residual, jacobian, noise, fitted, level, jump_sd_m, jump_log_odds,
    normal, right, state,
):  # fmt: skip
    """Fill the normal equations; return the sum of squares and log determinant.

    Where a sudden new level explains ``fitted`` (the residual less the present
    estimate) better, beyond its odds, the field starts anew there: a block of
    wrong trace or a ridge the model lacks must not bend the whole fix.
    """
    count = jacobian.shape[1]
    for p in range(count):
        right[p] = 0.0
        state[p] = 0.0
        for q in range(count):
            normal[p, q] = 0.0
    field_var = level[0] * level[0]
    length = level[1]
    jump_var = jump_sd_m * jump_sd_m
    square = 0.0
    log_det = 0.0
    state_r = 0.0
    state_fit = 0.0
    variance = 0.0
    penalty = 0.0
    row = np.empty(count)
    for n in range(residual.size):
        step = noise[n, 1] / length
        keep = exp(-step) if step < 30.0 else 0.0
        variance = keep * keep * variance + field_var * (1.0 - keep * keep)
        h = noise[n, 0]
        tracing = noise[n, 2] * level[4]
        lateral = level[3] * noise[n, 3] * h
        white = tracing * tracing + level[2] * level[2] * h * h + lateral * lateral
        total = h * h * variance + white
        state_fit *= keep
        innovation = fitted[n] - h * state_fit
        wide = h * h * jump_var + white
        if wide > total:
            stay = innovation * innovation / total + log(total)
            jump = fitted[n] * fitted[n] / wide + log(wide) - 2.0 * jump_log_odds
            if jump < stay:
                variance = jump_var
                total = wide
                keep = 0.0
                state_fit = 0.0
                innovation = fitted[n]
                penalty += jump_log_odds
        inverse = 1.0 / total
        gain = variance * h * inverse
        state_fit += gain * innovation
        state_r *= keep
        nu = residual[n] - h * state_r
        state_r += gain * nu
        square += nu * nu * inverse
        scaled = nu * inverse
        for p in range(count):
            kept = state[p] * keep
            value = jacobian[n, p] - h * kept
            state[p] = kept + gain * value
            row[p] = value
            right[p] += value * scaled
        for p in range(count):
            weight = row[p] * inverse
            for q in range(p + 1):
                normal[p, q] += weight * row[q]
        variance -= gain * h * variance
        log_det += log(total)
    return square, log_det - 2.0 * penalty


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def factor(matrix):  # type: ignore[no-untyped-def]
    """Replace the lower triangle by its Cholesky factor; return the log determinant."""
    size = matrix.shape[0]
    log_det = 0.0
    for p in range(size):
        for q in range(p + 1):
            value = matrix[p, q]
            for k in range(q):
                value -= matrix[p, k] * matrix[q, k]
            if p == q:
                if value <= 1e-300:
                    value = 1e-300
                matrix[p, p] = sqrt(value)
                log_det += log(value)
            else:
                matrix[p, q] = value / matrix[q, q]
    return log_det


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def solve(lower, right, out):  # type: ignore[no-untyped-def]
    """Solve for ``out`` with a Cholesky factor."""
    size = lower.shape[0]
    for p in range(size):
        value = right[p]
        for k in range(p):
            value -= lower[p, k] * out[k]
        out[p] = value / lower[p, p]
    for p in range(size - 1, -1, -1):
        value = out[p]
        for k in range(p + 1, size):
            value -= lower[k, p] * out[k]
        out[p] = value / lower[p, p]
