"""Screen every bearing and lens of a station for cameras worth climbing to.

Symbols
-------
X, Y : sample on the plate over the diagonal; c : principal distance over it
s = hypot(c, X) ; t : tangent of the horizon
r = Y - t s : residual on the plate, fitted by v + rho X (rise and roll)
w = 1 / (sigma^2 + s^2 (h / d)^2) : its weight
off = b + atan(X / c) - az : how far a mark's feature lies from its bearing
"""

from __future__ import annotations

from math import log, pi

import numba
import numpy as np

from wherestood.evidence.unknowns import UNKNOWN_M, UNKNOWN_SD, UNKNOWN_TANGENT

__all__ = [
    "LENSES_APART",
    "NO_SAMPLE",
    "TAKEN",
    "screen_stations",
    "screen_table",
    "seen_through",
]

#: Samples added in one go over the bearings: enough to keep a core's arithmetic
#: busy, few enough for its registers.
_AT_ONCE = 5
#: Bearings taken together: what belongs to them stays in a core's nearest cache.
_BLOCK = 304
#: Variance of samples that only fill up the last go: they weigh nothing.
NO_SAMPLE = np.float32(1e12)
#: Where two peaks are told apart in lens: this many steps of ln c.
LENSES_APART = 2
TAKEN = np.float32(-1e30)

# log2(1 + m) / m on 0 <= m < 1, within 4e-6: Chebyshev nodes, degree 7, from
# highest to lowest.
_LOG2_TERMS = tuple(
    np.float32(term)
    for term in np.polynomial.chebyshev.Chebyshev.interpolate(
        lambda m: np.log2(1.0 + m) / m, 7, domain=[0.0, 1.0]
    )
    .convert(kind=np.polynomial.Polynomial)
    .coef[::-1]
)
_LN_2 = np.float32(np.log(2.0))


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def _log(value):  # type: ignore[no-untyped-def]
    """Return the natural log of a positive float32 to 3e-6.

    The machine's own log is a call a number, which stops a loop from working on
    many numbers at once.
    """
    bits = np.float32(value).view(np.int32)
    power = np.float32((bits >> np.int32(23)) - np.int32(127))
    mantissa = (bits & np.int32(0x7FFFFF)) | np.int32(0x3F800000)
    part = np.int32(mantissa).view(np.float32) - np.float32(1.0)
    term = np.float32(0.0)
    for coefficient in _LOG2_TERMS:
        term = term * part + coefficient
    return (power + part * term) * _LN_2


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def _add_samples(plate, work):  # type: ignore[no-untyped-def]
    """Add `_AT_ONCE` samples to the seven sums of a block of bearings.

    ``plate`` has a row a sample: X, Y, sigma^2, s, the weight's unit. ``work`` holds,
    a block each, the sums, then t and (h / d)^2 of every sample: one array with
    fixed places in it shows the compiler that nothing overlaps.
    """
    x0, y0, v0, s0, u0 = plate[0]
    x1, y1, v1, s1, u1 = plate[1]
    x2, y2, v2, s2, u2 = plate[2]
    x3, y3, v3, s3, u3 = plate[3]
    x4, y4, v4, s4, u4 = plate[4]
    q0, q1, q2, q3, q4 = s0 * s0, s1 * s1, s2 * s2, s3 * s3, s4 * s4
    one = np.float32(1.0)
    for b in range(_BLOCK):
        w0 = one / (v0 + q0 * work[12 * _BLOCK + b])
        w1 = one / (v1 + q1 * work[13 * _BLOCK + b])
        w2 = one / (v2 + q2 * work[14 * _BLOCK + b])
        w3 = one / (v3 + q3 * work[15 * _BLOCK + b])
        w4 = one / (v4 + q4 * work[16 * _BLOCK + b])
        r0 = y0 - s0 * work[7 * _BLOCK + b]
        r1 = y1 - s1 * work[8 * _BLOCK + b]
        r2 = y2 - s2 * work[9 * _BLOCK + b]
        r3 = y3 - s3 * work[10 * _BLOCK + b]
        r4 = y4 - s4 * work[11 * _BLOCK + b]
        wx0, wx1, wx2, wx3, wx4 = w0 * x0, w1 * x1, w2 * x2, w3 * x3, w4 * x4
        wr0, wr1, wr2, wr3, wr4 = w0 * r0, w1 * r1, w2 * r2, w3 * r3, w4 * r4
        work[b] += w0 + w1 + w2 + w3 + w4
        work[_BLOCK + b] += wx0 + wx1 + wx2 + wx3 + wx4
        work[2 * _BLOCK + b] += wx0 * x0 + wx1 * x1 + wx2 * x2 + wx3 * x3 + wx4 * x4
        work[3 * _BLOCK + b] += wr0 + wr1 + wr2 + wr3 + wr4
        work[4 * _BLOCK + b] += wr0 * x0 + wr1 * x1 + wr2 * x2 + wr3 * x3 + wr4 * x4
        work[5 * _BLOCK + b] += wr0 * r0 + wr1 * r1 + wr2 * r2 + wr3 * r3 + wr4 * r4
        work[6 * _BLOCK + b] += _log(
            (w0 * u0) * (w1 * u1) * (w2 * u2) * (w3 * u3) * (w4 * u4)
        )


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def _scores_of(work, rise, roll, constant, scores):  # type: ignore[no-untyped-def]
    """Turn the sums of a block into scores, rise and roll summed out."""
    half = np.float32(0.5)
    for b in range(scores.size):
        a = work[b] + rise
        c = work[2 * _BLOCK + b] + roll
        off = work[_BLOCK + b]
        det = a * c - off * off
        p = work[3 * _BLOCK + b]
        q = work[4 * _BLOCK + b]
        explained = (c * p * p - (off + off) * p * q + a * q * q) / det
        left = work[5 * _BLOCK + b] - explained - work[6 * _BLOCK + b] + _log(det)
        scores[b] = constant - half * left


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def _screen_lens(  # type: ignore[no-untyped-def]
    plate, starts, tangent, variance, rise_precision, roll_precision, log_prior,
    work, scores,
):  # fmt: skip
    """Fill the score of every bearing for one lens, block by block."""
    constant = log_prior + 0.5 * log(rise_precision * roll_precision)
    for n in range(plate.shape[0]):
        if plate[n, 2] != NO_SAMPLE:
            constant -= 0.5 * log(plate[n, 4])
    for first in range(0, scores.size, _BLOCK):
        work[: 7 * _BLOCK] = np.float32(0.0)
        for n in range(0, plate.shape[0], _AT_ONCE):
            for m in range(_AT_ONCE):
                # Unsigned: an index that might be negative is looked at each time.
                begin = np.uint64(starts[n + m] + first)
                to = (7 + m) * _BLOCK
                for b in range(_BLOCK):
                    work[np.uint64(to + b)] = tangent[begin + np.uint64(b)]
                to = (12 + m) * _BLOCK
                for b in range(_BLOCK):
                    work[np.uint64(to + b)] = variance[begin + np.uint64(b)]
            _add_samples(plate[n : n + _AT_ONCE], work)
        _scores_of(
            work, np.float32(rise_precision), np.float32(roll_precision),
            np.float32(constant), scores[first : first + _BLOCK],
        )  # fmt: skip


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _best_apart(table, apart, log_distance, found):  # type: ignore[no-untyped-def]
    """Fill ``found`` with the highest of a table, each apart from those before."""
    lenses, bearings = table.shape
    top = np.full(bearings, TAKEN, dtype=np.float32)
    for k in range(lenses):
        for b in range(bearings):
            top[b] = max(top[b], table[k, b])
    for m in range(found.shape[0]):
        at_b = np.argmax(top)
        at_k = np.argmax(table[:, at_b])
        found[m, 0] = at_b * 2.0 * pi / bearings
        found[m, 1] = log_distance[at_k]
        found[m, 2] = top[at_b]
        first = max(0, at_k - LENSES_APART)
        last = min(lenses, at_k + LENSES_APART + 1)
        for step in range(-apart, apart + 1):
            b = (at_b + step) % bearings
            table[first:last, b] = TAKEN
            top[b] = table[:, b].max()


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _add_marks(turn, field, aim, log_weight, log_blunder, scores):  # type: ignore[no-untyped-def]
    """Add what marks say of every bearing for one lens, over marks anywhere on it.

    ``aim`` holds azimuth [rad] and its variance of each mark's features. A mark at its
    feature's bearing is so much likelier than one that may be anywhere in the field.
    """
    spacing = 2.0 * pi / scores.size
    there = np.empty(scores.size)
    for m in range(turn.size):
        there[:] = 0.0
        for k in range(log_weight.shape[1]):
            if not log_weight[m, k] > -1e300:
                continue
            variance = aim[m, k, 1]
            sd = np.sqrt(variance)
            high = np.exp(log_weight[m, k]) * field / (sd * np.sqrt(2.0 * pi))
            middle = int(np.round((aim[m, k, 0] - turn[m]) / spacing))
            reach = min(int(4.0 * sd / spacing) + 1, scores.size // 2 - 1)
            for step in range(-reach, reach + 1):
                off = (middle + step) * spacing + turn[m] - aim[m, k, 0]
                b = (middle + step) % scores.size
                # Of several features the likeliest counts, as in a climb.
                there[b] = max(there[b], high * np.exp(-0.5 * off * off / variance))
        blunder = np.exp(log_blunder[m])
        for b in range(scores.size):
            scores[b] += np.float32(log(blunder + there[b]))


@numba.njit(cache=True, nogil=True, error_model="numpy")
def screen_table(  # type: ignore[no-untyped-def]
    profile, ground_sd, plate, starts, lens_log_prior, cover_sd, rise_precision,
    roll_precision, table,
):  # fmt: skip
    """Fill the score of every lens and bearing at one station.

    ``plate`` and ``starts`` are what `seen_through` returns; ``table`` (lenses,
    bearings) is float32.
    """
    bearings = profile.shape[0]
    # Twice round and a block, so that no sample needs a remainder.
    tangent = np.empty(2 * bearings + _BLOCK, dtype=np.float32)
    variance = np.empty(2 * bearings + _BLOCK, dtype=np.float32)
    height_var = cover_sd * cover_sd + ground_sd * ground_sd
    for b in range(bearings):
        d = profile[b, 2]
        tangent[b] = profile[b, 0]
        variance[b] = height_var / (d * d) + 1e-6
        if d > 0.5 * UNKNOWN_M:
            tangent[b] = UNKNOWN_TANGENT
            variance[b] = UNKNOWN_SD * UNKNOWN_SD
    for b in range(bearings, tangent.size):
        tangent[b] = tangent[b - bearings]
        variance[b] = variance[b - bearings]
    work = np.empty(17 * _BLOCK, dtype=np.float32)
    for k in range(table.shape[0]):
        _screen_lens(
            plate[k], starts[k], tangent, variance, rise_precision, roll_precision,
            lens_log_prior[k], work, table[k],
        )  # fmt: skip


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _screen_one(  # type: ignore[no-untyped-def]
    profile, ground_sd, plate, starts, log_distance, lens_log_prior, cover_sd,
    rise_precision, roll_precision, apart, turns, fields, aim, log_weight,
    log_blunder, found,
):  # fmt: skip
    """Fill the best separate (bearing, ln c, score) of one station."""
    table = np.empty((log_distance.size, profile.shape[0]), dtype=np.float32)
    screen_table(
        profile, ground_sd, plate, starts, lens_log_prior, cover_sd, rise_precision,
        roll_precision, table,
    )  # fmt: skip
    for k in range(log_distance.size):
        _add_marks(turns[k], fields[k], aim, log_weight, log_blunder, table[k])
    _best_apart(table, apart, log_distance, found)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def seen_through(  # type: ignore[no-untyped-def]
    x, y, sd, log_distance, bearings
):
    """Return samples and the bearings they begin at, for each lens."""
    lenses = log_distance.size
    rows = -(-x.size // _AT_ONCE) * _AT_ONCE
    plate = np.zeros((lenses, rows, 5), dtype=np.float32)
    starts = np.zeros((lenses, rows), dtype=np.int64)
    plate[:, :, 2] = NO_SAMPLE
    plate[:, :, 4] = NO_SAMPLE
    for k in range(lenses):
        c = np.exp(log_distance[k])
        for n in range(x.size):
            turn = int(np.round(np.arctan2(x[n], c) * bearings / (2.0 * pi)))
            starts[k, n] = turn if turn >= 0 else turn + bearings
            reach = c * c + x[n] * x[n]
            plate[k, n, 0] = x[n]
            plate[k, n, 1] = y[n]
            plate[k, n, 2] = sd[n] * sd[n]
            plate[k, n, 3] = np.sqrt(reach)
            # Weights in units near themselves, lest their product overflow.
            plate[k, n, 4] = sd[n] * sd[n] + reach * 1e-4
    return plate, starts


@numba.njit(cache=True, nogil=True, parallel=True, error_model="numpy")
def screen_stations(  # type: ignore[no-untyped-def]
    profiles, ground_sd, x, y, sd, log_distance, lens_log_prior, cover_sd,
    rise_sd, roll_sd, apart, mark_x, aims, log_weight, log_blunder, found,
):  # fmt: skip
    """Fill ``found`` (stations, modes, 3) with bearing, ln c and screen score.

    ``mark_x`` are X of marks, ``aims`` (stations, marks, features, 2) azimuth [rad] of
    their features and its variance, ``log_weight`` (marks, features) and
    ``log_blunder`` (marks) the logs of their odds, together one for every mark.
    """
    plate, starts = seen_through(x, y, sd, log_distance, profiles.shape[1])
    turns = np.empty((log_distance.size, mark_x.size))
    fields = np.empty(log_distance.size)
    widest = np.max(np.abs(x)) if x.size else 0.5
    for k in range(log_distance.size):
        turns[k] = np.arctan2(mark_x, np.exp(log_distance[k]))
        fields[k] = 2.0 * np.arctan2(widest, np.exp(log_distance[k]))
    for s in numba.prange(profiles.shape[0]):
        _screen_one(
            profiles[s], ground_sd[s], plate, starts, log_distance, lens_log_prior,
            cover_sd, 1.0 / rise_sd**2, 1.0 / roll_sd**2, apart, turns, fields,
            aims[s], log_weight, log_blunder, found[s],
        )  # fmt: skip
