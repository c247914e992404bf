"""Whiten residuals that share a field of cover and model error.

The field [m] along the silhouette is the sum of a long, smooth part (Matern of
order 3/2: the elevation model's own error and whole stands of trees) and a short,
rough one (exponential: crowns, crests, edges of stands). Ground steps, depth
included, set the correlation, so that each ridge has a level of its own. A Kalman
pass over the three states gives the whitened sums and the log determinant in
time linear in the samples, where a dense covariance would take the cube.

References
----------
Hartikainen and Sarkka 2010, "Kalman filtering and smoothing solutions to temporal
Gaussian process regression models": the state-space form of a Matern covariance.
"""

from __future__ import annotations

from math import exp, log, sqrt

import numba
import numpy as np

from wherestood.evidence.unknowns import UNKNOWN_SD

__all__ = ["LEVEL", "factor", "solve", "whiten"]

#: Columns of a noise level: sd [m] and length [m] of the long part, of the short
#: part, uncorrelated error [m], sideways error of ridges [m], factor on tracing.
LEVEL = (
    "long_sd_m",
    "long_length_m",
    "short_sd_m",
    "short_length_m",
    "white_m",
    "lateral_m",
    "tracing_factor",
)


#: A jump may also be this wide, whatever the distance [tangent].
JUMP_TANGENT = 0.03


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def whiten(  # type: ignore[no-untyped-def]
    residual, jacobian, noise, fitted, level, jump_sd_m, jump_log_odds,
    normal, right, state,
):  # fmt: skip
    """Fill the normal equations; return the sum of squares and log determinant.

    Where a sudden new level explains ``fitted`` (the residual less the present
    estimate) better, beyond its odds, the field starts anew there: a block of
    wrong trace or a ridge the model lacks must not bend the whole fix.
    ``state`` is scratch of shape (columns, 3).
    """
    count = jacobian.shape[1]
    for p in range(count):
        right[p] = 0.0
        state[p, 0] = 0.0
        state[p, 1] = 0.0
        state[p, 2] = 0.0
        for q in range(count):
            normal[p, q] = 0.0
    long_var = level[0] * level[0]
    rate = sqrt(3.0) / level[1]
    short_var = level[2] * level[2]
    lateral_ratio = (level[5] / level[0]) ** 2
    jump_var = jump_sd_m * jump_sd_m
    square = 0.0
    log_det = 0.0
    penalty = 0.0
    r0 = r1 = r2 = 0.0
    f0 = f1 = f2 = 0.0
    # Covariance of the states: long, its slope over ``rate``, short.
    p00 = p11 = long_var
    p22 = short_var
    p01 = p02 = p12 = 0.0
    row = np.empty(count)
    for n in range(residual.size):
        a = rate * noise[n, 1]
        if a < 30.0:
            e = exp(-a)
            m00 = (1.0 + a) * e
            m01 = a * e
            m10 = -a * e
            m11 = (1.0 - a) * e
        else:
            m00 = m01 = m10 = m11 = 0.0
        s = noise[n, 1] / level[3]
        m22 = exp(-s) if s < 30.0 else 0.0
        d00 = p00 - long_var
        d11 = p11 - long_var
        d22 = p22 - short_var
        t00 = m00 * d00 + m01 * p01
        t01 = m00 * p01 + m01 * d11
        t10 = m10 * d00 + m11 * p01
        t11 = m10 * p01 + m11 * d11
        q02 = m00 * p02 + m01 * p12
        q12 = m10 * p02 + m11 * p12
        p00 = t00 * m00 + t01 * m01 + long_var
        p01 = t00 * m10 + t01 * m11
        p11 = t10 * m10 + t11 * m11 + long_var
        p02 = q02 * m22
        p12 = q12 * m22
        p22 = m22 * m22 * d22 + short_var
        # A ridge that is out sideways shows in proportion to its slope.
        g = noise[n, 0]
        h = g * sqrt(1.0 + lateral_ratio * noise[n, 3] * noise[n, 3])
        tracing = noise[n, 2] * level[6]
        white = tracing * tracing + level[4] * level[4] * h * h
        if g <= 0.0:
            # No horizon is known there: any would do.
            white += UNKNOWN_SD * UNKNOWN_SD
        total = h * h * (p00 + 2.0 * p02 + p22) + white
        k0 = m00 * f0 + m01 * f1
        k1 = m10 * f0 + m11 * f1
        k2 = m22 * f2
        innovation = fitted[n] - h * (k0 + k2)
        wide = h * h * jump_var + white + JUMP_TANGENT * JUMP_TANGENT
        if g > 0.0 and wide > total:
            stay = innovation * innovation / total + log(total)
            jump = fitted[n] * fitted[n] / wide + log(wide) - 2.0 * jump_log_odds
            if jump < stay:
                p00 = jump_var - short_var
                p11 = long_var
                p22 = short_var
                p01 = p02 = p12 = 0.0
                m00 = m01 = m10 = m11 = m22 = 0.0
                total = wide
                k0 = k1 = k2 = 0.0
                innovation = fitted[n]
                penalty += jump_log_odds
        inverse = 1.0 / total
        c0 = p00 + p02
        c1 = p01 + p12
        c2 = p02 + p22
        g0 = h * c0 * inverse
        g1 = h * c1 * inverse
        g2 = h * c2 * inverse
        f0 = k0 + g0 * innovation
        f1 = k1 + g1 * innovation
        f2 = k2 + g2 * innovation
        k0 = m00 * r0 + m01 * r1
        k1 = m10 * r0 + m11 * r1
        k2 = m22 * r2
        nu = residual[n] - h * (k0 + k2)
        r0 = k0 + g0 * nu
        r1 = k1 + g1 * nu
        r2 = k2 + g2 * nu
        square += nu * nu * inverse
        scaled = nu * inverse
        for p in range(count):
            k0 = m00 * state[p, 0] + m01 * state[p, 1]
            k1 = m10 * state[p, 0] + m11 * state[p, 1]
            k2 = m22 * state[p, 2]
            value = jacobian[n, p] - h * (k0 + k2)
            state[p, 0] = k0 + g0 * value
            state[p, 1] = k1 + g1 * value
            state[p, 2] = k2 + g2 * value
            row[p] = value
            right[p] += value * scaled
        for p in range(count):
            weight = row[p] * inverse
            for q in range(p + 1):
                normal[p, q] += weight * row[q]
        scaled = h * h * inverse
        p00 -= c0 * c0 * scaled
        p01 -= c0 * c1 * scaled
        p02 -= c0 * c2 * scaled
        p11 -= c1 * c1 * scaled
        p12 -= c1 * c2 * scaled
        p22 -= c2 * c2 * scaled
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
