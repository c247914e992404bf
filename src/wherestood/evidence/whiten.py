"""Whiten residuals that share a field of cover and model error.

The field [m] along the silhouette is the sum of a long, smooth part (Matern of
order 3/2: the elevation model's own error and whole stands of trees) and a short,
rough one (exponential: crowns, crests, edges of stands). Ground steps, depth
included, set the correlation, so that each ridge has a level of its own. A Kalman
pass over the three states gives the whitened sums and the log determinant in
time linear in the samples, where a dense covariance would take the cube.

Some of a skyline the model cannot foretell: ground nearer than its rays begin, trees,
roofs, a nearer ridge than it thinks; or the horizon lies beyond the model's edge. Such
*foreground* is foretold by going straight on from the samples before it, tells nothing
of the camera, and is taken where that explains a sample better than the model does,
beyond its odds. It stands above the model's horizon, for what is nearer hides it; that
it begins below is less likely: the model's own near ground must be too high there.

References
----------
Hartikainen and Sarkka 2010, "Kalman filtering and smoothing solutions to temporal
Gaussian process regression models": the state-space form of a Matern covariance.
"""

from __future__ import annotations

from math import exp, log, sqrt
from typing import NamedTuple

import numba
import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.lanes import GAIN, sum_squares, whiten_rows
from wherestood.evidence.unknowns import COUNT, UNKNOWN_SD

__all__ = [
    "FOREGROUND_BELOW",
    "FOREGROUND_BEND",
    "FOREGROUND_STAYS",
    "LEVEL",
    "NO_FOREGROUND",
    "Work",
    "fill_steps",
    "invert",
    "lengths_differ",
    "log_product",
    "solve",
    "whiten",
    "workspace",
]

Array = NDArray[np.float64]

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


#: Log probability that foreground goes on to the next sample, or that it ends. Settled,
#: as is the bend, on invented plates.
FOREGROUND_STAYS = -0.5
#: Log odds, besides, of foreground that begins below the model's horizon.
FOREGROUND_BELOW = -3.0
#: Log odds of foreground's beginning that ask for none.
NO_FOREGROUND = -1e9
#: Foreground goes straight on but for bends this large [tangent a radian of turn].
FOREGROUND_BEND = 0.1
#: Slope of a skyline where one sample alone is known of it, sd of the first sample.
_ANY_SLOPE = 0.4
_ANY_TANGENT = 0.05
#: Samples farther apart than this are foretold no worse for it [rad].
_WIDEST_TURN = 0.3
#: ln 8 - ln 2 pi: of Student's law with two degrees of freedom, beside a normal one.
_STUDENT = 0.2416
#: Lengths after which nothing is left of a correlation.
_FORGOTTEN = 30.0
#: Products are logged before they may leave the range of numbers.
_TINY, _HUGE = 1e-60, 1e60


class Work(NamedTuple):
    """Hold the arrays that one camera's sums are made in.

    Attributes
    ----------
    residual, fitted : (n,) float64 array
        Residuals [tangent]: camera alone, and less what shifts them in proportion.
    jacobian : (n, unknowns) float64 array
        Derivatives of the residuals.
    noise : (n, 6) float64 array
        As `evidence.linearise.fill_residuals` gives it.
    step : (n, 4) float64 array
        What the field keeps from sample to sample: `fill_steps`.
    gain, white, left : float64 arrays of n rows
        The filter's gains, the whitened derivatives, the whitened residuals.
    normal : (unknowns, unknowns) float64 array
        Normal equations, lower triangle.
    right, pivot : (unknowns,) float64 array
        Their right side, and their diagonal once eliminated.
    """

    residual: Array
    fitted: Array
    jacobian: Array
    noise: Array
    step: Array
    gain: Array
    white: Array
    left: Array
    normal: Array
    right: Array
    pivot: Array


@numba.njit(cache=True, nogil=True)
def workspace(samples):  # type: ignore[no-untyped-def]
    """Return room for the sums of so many samples."""
    return Work(
        np.empty(samples),
        np.empty(samples),
        np.empty((samples, COUNT)),
        np.empty((samples, 6)),
        np.empty((samples, 4)),
        np.empty((samples, GAIN)),
        np.empty((samples, COUNT)),
        np.empty(samples),
        np.empty((COUNT, COUNT)),
        np.empty(COUNT),
        np.empty(COUNT),
    )


@numba.njit(cache=True, nogil=True)
def lengths_differ(levels, one, other):  # type: ignore[no-untyped-def]
    """Say whether two noise levels forget at different lengths."""
    return levels[one, 1] != levels[other, 1] or levels[one, 3] != levels[other, 3]


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def fill_steps(work, long_length_m, short_length_m):  # type: ignore[no-untyped-def]
    """Fill what the field keeps from one sample to the next, for its two lengths."""
    rate = sqrt(3.0) / long_length_m
    for n in range(work.noise.shape[0]):
        a = rate * work.noise[n, 1]
        s = work.noise[n, 1] / short_length_m
        keeps = exp(-a) if a < _FORGOTTEN else 0.0
        work.step[n, 0] = (1.0 + a) * keeps
        work.step[n, 1] = a * keeps
        work.step[n, 2] = (1.0 - a) * keeps
        work.step[n, 3] = exp(-s) if s < _FORGOTTEN else 0.0


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def _foreground(noise, n):  # type: ignore[no-untyped-def]
    """Return how far foreground is off its forecast, and the variance of that."""
    tracing = 2.0 * noise[n, 2] * noise[n, 2]
    if n == 0:
        return 0.0, _ANY_TANGENT * _ANY_TANGENT
    turn = min(noise[n, 5], _WIDEST_TURN)
    off = noise[n, 4] - noise[n - 1, 4]
    if n == 1:
        return off, (_ANY_SLOPE * turn) ** 2 + tracing
    ahead = min(noise[n, 5] / noise[n - 1, 5], 1.5)
    off -= ahead * (noise[n - 1, 4] - noise[n - 2, 4])
    return off, (FOREGROUND_BEND * turn) ** 2 + tracing


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def _foreground_by_plate(noise, n, before):  # type: ignore[no-untyped-def]
    """Return the same, forecast from samples of its own plate alone."""
    tracing = 2.0 * noise[n, 2] * noise[n, 2]
    first = before[n]
    if first < 0:
        return 0.0, _ANY_TANGENT * _ANY_TANGENT
    turn = min(noise[n, 5], _WIDEST_TURN)
    off = noise[n, 4] - noise[first, 4]
    second = before[first]
    if second < 0:
        return off, (_ANY_SLOPE * turn) ** 2 + tracing
    ahead = min(noise[n, 5] / noise[first, 5], 1.5)
    off -= ahead * (noise[first, 4] - noise[second, 4])
    return off, (FOREGROUND_BEND * turn) ** 2 + tracing


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def _fill_gains(work, level, foreground_log_odds, temper, plates=None):  # type: ignore[no-untyped-def]
    """Fill the filter's gains; return the log determinant, foreground included."""
    noise, step, fitted, gain = work.noise, work.step, work.fitted, work.gain
    long_var = level[0] * level[0]
    short_var = level[2] * level[2]
    white_var = level[4] * level[4]
    lateral_ratio = (level[5] / level[0]) ** 2
    tracing_var = level[6] * level[6]
    log_det = 0.0
    product = 1.0
    wary = foreground_log_odds > NO_FOREGROUND
    in_foreground = False
    f0 = f1 = f2 = 0.0
    # Covariance of the states: long, its slope over its rate, short.
    p00 = p11 = long_var
    p22 = short_var
    p01 = p02 = p12 = 0.0
    for n in range(fitted.size):
        m00 = step[n, 0]
        m01 = step[n, 1]
        m10 = -m01
        m11 = step[n, 2]
        m22 = step[n, 3]
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
        h2 = g * g * (1.0 + lateral_ratio * noise[n, 3] * noise[n, 3])
        h = sqrt(h2)
        gain[n, 0] = m00
        gain[n, 1] = m01
        gain[n, 2] = m10
        gain[n, 3] = m11
        gain[n, 4] = m22
        gain[n, 5] = h
        white = noise[n, 2] * noise[n, 2] * tracing_var + white_var * h2
        if g <= 0.0:
            # No horizon is known there: any would do.
            white += UNKNOWN_SD * UNKNOWN_SD
        total = h2 * (p00 + 2.0 * p02 + p22) + white
        k0 = m00 * f0 + m01 * f1
        k1 = m10 * f0 + m11 * f1
        k2 = m22 * f2
        innovation = fitted[n] - h * (k0 + k2)
        square = innovation * innovation / total
        if wary:
            if plates is None:
                off, spread = _foreground(noise, n)
            else:
                off, spread = _foreground_by_plate(noise, n, plates[0])
                last = plates[0][n]
                in_foreground = 0 <= last < n and plates[1][last]
                plates[1][n] = False
            # Most samples the model explains well, and no logarithm need be taken.
            if (
                in_foreground
                or g <= 0.0
                or total > spread
                or square > -2.0 * foreground_log_odds
            ):
                usual = square + log(total)
                apart = 3.0 * log(1.0 + 0.5 * off * off / spread) + log(spread)
                apart += _STUDENT
                if in_foreground:
                    usual -= 2.0 * FOREGROUND_STAYS
                    apart -= 2.0 * FOREGROUND_STAYS
                else:
                    apart -= 2.0 * foreground_log_odds
                    if fitted[n] <= 0.0:
                        apart -= 2.0 * FOREGROUND_BELOW
                if g <= 0.0 or apart < usual:
                    in_foreground = True
                    if plates is not None:
                        plates[1][n] = True
                    log_det += apart
                    f0, f1, f2 = k0, k1, k2
                    for column in range(6, GAIN):
                        gain[n, column] = 0.0
                    continue
                if in_foreground:
                    log_det -= 2.0 * FOREGROUND_STAYS
                in_foreground = False
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
        gain[n, 6] = g0
        gain[n, 7] = g1
        gain[n, 8] = g2
        gain[n, 9] = sqrt(temper * inverse)
        scaled = h2 * inverse
        p00 -= c0 * c0 * scaled
        p01 -= c0 * c1 * scaled
        p02 -= c0 * c2 * scaled
        p11 -= c1 * c1 * scaled
        p12 -= c1 * c2 * scaled
        p22 -= c2 * c2 * scaled
        product *= total
        if not _TINY < product < _HUGE:
            log_det += log(product)
            product = 1.0
    return temper * (log_det + log(product))


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def whiten(work, level, foreground_log_odds, temper, plates=None):  # type: ignore[no-untyped-def]
    """Fill the normal equations; return the sum of squares and log determinant.

    All are those of the likelihood to the power ``temper``. Where foreground explains
    ``work.fitted`` (the residual less the present estimate) better, beyond its odds,
    the sample is left out of the equations: what the model cannot foretell must not
    bend the whole fix. ``plates``, where samples of several are mixed, says where each
    one's sample before is, and has room for which are foreground.
    """
    log_det = _fill_gains(work, level, foreground_log_odds, temper, plates)
    residual, gain, left = work.residual, work.gain, work.left
    square = 0.0
    r0 = r1 = r2 = 0.0
    for n in range(residual.size):
        k0 = gain[n, 0] * r0 + gain[n, 1] * r1
        k1 = gain[n, 2] * r0 + gain[n, 3] * r1
        k2 = gain[n, 4] * r2
        new = residual[n] - gain[n, 5] * (k0 + k2)
        r0 = k0 + gain[n, 6] * new
        r1 = k1 + gain[n, 7] * new
        r2 = k2 + gain[n, 8] * new
        left[n] = new * gain[n, 9]
        square += left[n] * left[n]
    whiten_rows(work.jacobian, gain, work.white, residual.size)
    sum_squares(work.white, left, work.normal, work.right, residual.size)
    return square, log_det


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def log_product(values, first, last):  # type: ignore[no-untyped-def]
    """Return the log of the product of some positive numbers."""
    total = 0.0
    product = 1.0
    for n in range(first, last):
        product *= values[n]
        if not _TINY < product < _HUGE:
            total += log(product)
            product = 1.0
    return total + log(product)


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def solve(normal, right, pivot, out):  # type: ignore[no-untyped-def]
    """Solve equations that `eliminate` has gone through."""
    for k in range(COUNT):
        value = right[k]
        for p in range(k):
            value -= normal[k, p] * out[p]
        out[k] = value / pivot[k]


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def invert(normal, pivot, rows, inverse):  # type: ignore[no-untyped-def]
    """Fill the inverse of a matrix that `eliminate` has gone through.

    ``rows`` is scratch of the matrix's shape.
    """
    for c in range(COUNT):
        root = sqrt(pivot[c])
        for k in range(c):
            rows[c, k] = 0.0
        rows[c, c] = 1.0 / root
        for k in range(c + 1, COUNT):
            value = 0.0
            for p in range(c, k):
                value -= normal[k, p] * rows[c, p]
            rows[c, k] = value / pivot[k]
    unused = np.zeros(COUNT)
    sum_squares(rows, unused, inverse, np.empty(COUNT), COUNT)
    for p in range(COUNT):
        for q in range(p):
            inverse[q, p] = inverse[p, q]
