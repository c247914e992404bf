"""Screen every bearing and lens of a station for cameras worth climbing to.

Symbols
-------
X, Y : sample on the plate over the diagonal; c : principal distance over it
s = hypot(c, X) ; t : tangent of the horizon
r = Y - t s : residual on the plate, fitted by v + rho X (rise and roll)
w = 1 / (sigma^2 + s^2 (h / d)^2) : its weight
"""

from __future__ import annotations

from math import log, pi

import numba
import numpy as np

__all__ = ["screen_stations"]


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def _screen_lens(  # type: ignore[no-untyped-def]
    x, y, var, shift, reach, tangent, variance, rise_precision, roll_precision,
    sums, scores,
):  # fmt: skip
    """Fill the score of every bearing for one lens (seven sums a bearing)."""
    bearings = tangent.size // 2
    sums[:, :] = np.float32(0.0)
    sums[6, :] = np.float32(1.0)
    for n in range(x.size):
        s = np.float32(reach[n])
        s2 = s * s
        first = shift[n]
        xn = np.float32(x[n])
        yn = np.float32(y[n])
        vn = np.float32(var[n])
        scale = vn + s2 * np.float32(1e-4)
        for b in range(bearings):
            w = np.float32(1.0) / (vn + s2 * variance[first + b])
            r = yn - s * tangent[first + b]
            wr = w * r
            sums[0, b] += w
            sums[1, b] += w * xn
            sums[2, b] += w * xn * xn
            sums[3, b] += wr
            sums[4, b] += wr * xn
            sums[5, b] += wr * r
            sums[6, b] *= w * scale
    base = 0.0
    for n in range(x.size):
        base -= log(var[n] + reach[n] * reach[n] * 1e-4)
    for b in range(bearings):
        a = sums[0, b] + rise_precision
        c = sums[2, b] + roll_precision
        off = sums[1, b]
        det = a * c - off * off
        p = sums[3, b]
        q = sums[4, b]
        explained = (c * p * p - 2.0 * off * p * q + a * q * q) / det
        scores[b] = -0.5 * (
            sums[5, b]
            - explained
            - log(sums[6, b])
            - base
            + log(det / (rise_precision * roll_precision))
        )


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def _screen_one(  # type: ignore[no-untyped-def]
    profile, ground_sd, x, y, var, shifts, reach, log_distance, lens_log_prior,
    cover_sd, rise_precision, roll_precision, apart, found,
):  # fmt: skip
    """Fill the best separate (bearing, ln c, score) of one station."""
    bearings = profile.shape[0]
    lenses = log_distance.size
    tangent = np.empty(2 * bearings, dtype=np.float32)
    variance = np.empty(2 * bearings, dtype=np.float32)
    for b in range(bearings):
        d = profile[b, 2]
        value = (cover_sd * cover_sd + ground_sd * ground_sd) / (d * d) + 1e-6
        tangent[b] = tangent[b + bearings] = profile[b, 0]
        variance[b] = variance[b + bearings] = value
    sums = np.empty((7, bearings), dtype=np.float32)
    table = np.empty((lenses, bearings))
    for k in range(lenses):
        _screen_lens(
            x, y, var, shifts[k], reach[k], tangent, variance, rise_precision,
            roll_precision, sums, table[k],
        )  # fmt: skip
        for b in range(bearings):
            table[k, b] += lens_log_prior[k]
    # Highest first, each at least ``apart`` bearings or two lenses from the last.
    for m in range(found.shape[0]):
        best = -1e300
        at_k = 0
        at_b = 0
        for k in range(lenses):
            for b in range(bearings):
                if table[k, b] > best:
                    best = table[k, b]
                    at_k = k
                    at_b = b
        found[m, 0] = at_b * 2.0 * pi / bearings
        found[m, 1] = log_distance[at_k]
        found[m, 2] = best
        for k in range(max(0, at_k - 2), min(lenses, at_k + 3)):
            for step in range(-apart, apart + 1):
                table[k, (at_b + step) % bearings] = -1e300


@numba.njit(cache=True, nogil=True, parallel=True, error_model="numpy")
def screen_stations(  # type: ignore[no-untyped-def]
    profiles, ground_sd, x, y, sd, log_distance, lens_log_prior, cover_sd,
    rise_sd, roll_sd, apart, found,
):  # fmt: skip
    """Fill ``found`` (stations, modes, 3) with bearing, ln c and screen score."""
    bearings = profiles.shape[1]
    lenses = log_distance.size
    shifts = np.empty((lenses, x.size), dtype=np.int64)
    reach = np.empty((lenses, x.size))
    for k in range(lenses):
        c = np.exp(log_distance[k])
        for n in range(x.size):
            turn = int(np.round(np.arctan2(x[n], c) * bearings / (2.0 * pi)))
            shifts[k, n] = turn if turn >= 0 else turn + bearings
            reach[k, n] = np.sqrt(c * c + x[n] * x[n])
    var = sd * sd
    for s in numba.prange(profiles.shape[0]):
        _screen_one(
            profiles[s], ground_sd[s], x, y, var, shifts, reach, log_distance,
            lens_log_prior, cover_sd, 1.0 / rise_sd**2, 1.0 / roll_sd**2, apart,
            found[s],
        )  # fmt: skip
