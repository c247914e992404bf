"""Add upright edges, waters and known sizes to the normal equations of one camera.

Symbols
-------
alpha, T : bearing from the lens axis and tangent of elevation of a point, as the
    camera gives them; 1 and 2 the two ends of an edge or a length
delta = alpha_1 - alpha_2

Upright edge. The plane of the lens and the two ends leans by

    r = atan(sin delta / q),   q^2 = T_1^2 + T_2^2 - 2 T_1 T_2 cos delta

which is what the edge itself leans across the line of sight, wherever it is seen: its
image passes through the vertical vanishing point where r = 0.

Known size. An upright thing of height L at d spans ``|T_1 - T_2| = L / d``; one that
lies level and square to the line of sight ``2 tan(|delta| / 2) = L / d``. The residual
is ``r = ln(span) - ln(L / d)``.

The data are, over the plate's diagonal, angles of edges, heights of a top or rights of
an end, and heights of points of a water's edge: the density of each has the slope of
its residual as a factor, as marks have. Items that fit worse than a blunder are one.

References
----------
The vertical vanishing point: R. Hartley and A. Zisserman 2004, "Multiple view geometry
in computer vision", 2nd edition, section 8.6.
"""

from __future__ import annotations

from math import atan, cos, log, pi, sin, sqrt, tan

import numba
import numpy as np

from wherestood.evidence.mark_rows import seen_from_plate
from wherestood.evidence.normal_rows import add_row
from wherestood.evidence.shared_errors import LENS
from wherestood.evidence.unknowns import CAMERA, COUNT
from wherestood.evidence.water_rows import LEVEL, water_point, weigh_water

__all__ = [
    "ACROSS",
    "AIM",
    "EDGE",
    "ITEM",
    "UPRIGHT",
    "WATER",
    "add_items",
    "item_residuals",
]

#: Kinds of item.
EDGE, UPRIGHT, ACROSS, WATER = 0, 1, 2, 3
#: Columns of an item: kind, its first point and their number, log of trust, log density
#: of a blunder, and what its kind needs: of an edge the sd of its lean [rad]; of a size
#: its number; of a water the number of its table and its first shared error.
ITEM = 7
#: Columns of a size's aim: ln(L / d), its variance and the part that is its own, and
#: its change with the station's east and north, and with the feature's.
AIM = 7
_EAST, _NORTH = COUNT - 2, COUNT - 1
_LEAST_SPAN = 1e-9
#: Twice the log of how unlikely it is that what is not there is seen.
_NEVER = 2e6
#: Standard errors by which a water's line may be off while a climb begins.
_ABSURD = 4.0
#: How much worse sizes are taken to be than directions while a climb begins.
_SIZE_WIDER = 5.0
#: Errors that a point of a water shares: the lens's, the level's and the shore's. No
#: plain 3, for the reason of `normal_rows.YES`.
_OF_WATER = np.int64(3)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _lean(alpha1, t1, alpha2, t2):  # type: ignore[no-untyped-def]
    """Return what an edge leans, and its change with delta, T_1 and T_2."""
    delta = alpha1 - alpha2
    s = sin(delta)
    c = cos(delta)
    q = sqrt(max(t1 * t1 + t2 * t2 - 2.0 * t1 * t2 * c, 1e-24))
    whole = q * q + s * s
    by_q = -s / whole
    by_delta = q * c / whole + by_q * t1 * t2 * s / q
    by_t1 = by_q * (t1 - t2 * c) / q
    by_t2 = by_q * (t2 - t1 * c) / q
    return atan(s / q), by_delta, by_t1, by_t2


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _log_span(kind, alpha1, t1, alpha2, t2):  # type: ignore[no-untyped-def]
    """Return the log of a length's span, and its change with delta and T_1 - T_2."""
    if kind == UPRIGHT:
        span = t1 - t2
        if abs(span) < _LEAST_SPAN:
            span = _LEAST_SPAN
        return log(abs(span)), 0.0, 1.0 / span
    delta = (alpha1 - alpha2 + pi) % (2.0 * pi) - pi
    if abs(delta) < _LEAST_SPAN:
        delta = _LEAST_SPAN
    return log(2.0 * abs(tan(0.5 * delta))), 1.0 / sin(delta), 0.0


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _two_ends(theta, item, points, rows, others, found):  # type: ignore[no-untyped-def]
    """Fill residual, derivatives and the change with X and Y of both ends.

    ``found`` receives the residual and its change with X_1, Y_1, X_2 and Y_2; the
    first of ``rows`` the derivatives.
    """
    first = int(item[1])
    alpha1, t1, ax1, ay1, tx1, ty1 = seen_from_plate(theta, points[first], rows)
    alpha2, t2, ax2, ay2, tx2, ty2 = seen_from_plate(theta, points[first + 1], others)
    if item[0] == EDGE:
        found[0], by_delta, by_t1, by_t2 = _lean(alpha1, t1, alpha2, t2)
    else:
        found[0], by_delta, by_t1 = _log_span(item[0], alpha1, t1, alpha2, t2)
        by_t2 = -by_t1
    found[1] = by_delta * ax1 + by_t1 * tx1
    found[2] = by_delta * ay1 + by_t1 * ty1
    found[3] = -by_delta * ax2 + by_t2 * tx2
    found[4] = -by_delta * ay2 + by_t2 * ty2
    for p in range(CAMERA):
        rows[0, p] = (
            by_delta * (rows[0, p] - others[0, p])
            + by_t1 * rows[1, p]
            + by_t2 * others[1, p]
        )


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _turning(item, points, found):  # type: ignore[no-untyped-def]
    """Return how a residual changes as its two ends turn about their middle [1/rad]."""
    first = int(item[1])
    right = 0.5 * (points[first, 0] - points[first + 1, 0])
    up = 0.5 * (points[first, 1] - points[first + 1, 1])
    return -up * (found[1] - found[3]) + right * (found[2] - found[4])


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _best_aim(theta, residual, noise, aims, log_weight):  # type: ignore[no-untyped-def]
    """Return which feature fits a size best, and the log density of the residual."""
    best = -1e300
    which = -1
    for k in range(log_weight.size):
        if not log_weight[k] > -1e300:
            continue
        aim = aims[k]
        off = residual - aim[0] - aim[3] * theta[_EAST] - aim[4] * theta[_NORTH]
        variance = noise + aim[1]
        density = log_weight[k] - 0.5 * (
            off * off / variance + log(2.0 * pi * variance)
        )
        if density > best:
            best = density
            which = k
    return which, best


@numba.njit(cache=True, nogil=True, error_model="numpy")
def add_items(  # type: ignore[no-untyped-def]
    theta, points, items, log_weight, where, error_sd_m, aims, levels, state, wider,
    whole, linear, normal, right, between, across, pull,
):  # fmt: skip
    """Add items to normal equations; return sum of squares and log determinant.

    Parameters
    ----------
    theta : (unknowns,) array
        The camera; its linear unknowns tell features and blunders apart.
    points, items, log_weight, where, error_sd_m : arrays
        As `plate_items.ItemTable`.
    aims : (sizes, candidates, 7) array
    levels : (waters, bearings, 9) array
        As `AIM` and `LEVEL`, for this station.
    state : (items,) int8 array
        0 for an item that may be a blunder or not, 1 for one that is none, 2 for one
        that does not count.
    wider, whole, linear, normal, right, between, across, pull
        As `mark_rows.add_marks`.
    """
    rows = np.zeros((2, COUNT))
    others = np.zeros((2, COUNT))
    found = np.empty(5)
    level = np.empty(LEVEL)
    which = np.zeros(5, dtype=np.int64)
    share = np.zeros(5)
    square = 0.0
    log_det = 0.0
    for n in range(items.shape[0]):
        item = items[n]
        if state[n] == 2:
            continue
        if item[0] == WATER:
            table = levels[int(item[5])]
            best, mean_square = weigh_water(
                theta, item, points, table, wider, rows, level, found
            )
            # Far from the mode all points of a line are off together: what is not
            # absurd is let pull.
            absurd = wider == 0.0 or mean_square > _ABSURD * _ABSURD
            if item[4] > best and absurd and state[n] == 0:
                log_det -= 2.0 * item[4]
                continue
            if best <= -1e300:  # there is no water to be seen
                log_det += _NEVER
                continue
            log_det -= 2.0 * item[3]
            for m in range(int(item[1]), int(item[1]) + int(item[2])):
                water_point(theta, points[m], table, rows, level, found)
                noise = points[m, 2] * points[m, 2]
                own = noise * (found[1] * found[1] + found[2] * found[2])
                own += wider * wider
                which[0] = LENS
                share[0] = -level[5]
                for i in range(2):
                    which[1 + i] = int(item[6]) + i
                    share[1 + i] = -level[7 + i]
                log_det += log(2.0 * pi * own) - 2.0 * log(abs(found[2]))
                square += add_row(
                    theta, found[0], rows[0], own, which, share, _OF_WATER, whole,
                    linear, normal, right, between, across, pull,
                )  # fmt: skip
            continue
        for p in range(CAMERA, COUNT):
            rows[0, p] = 0.0
        _two_ends(theta, item, points, rows, others, found)
        first = int(item[1])
        noise = (
            points[first, 2]
            * points[first, 2]
            * (found[1] ** 2 + found[2] ** 2 + found[3] ** 2 + found[4] ** 2)
        )
        count = np.int64(0)  # no plain 0 either
        if item[0] == EDGE:
            slope = _turning(item, points, found)
            own = noise + item[5] * item[5] + wider * wider
            log_density = item[3] - 0.5 * (found[0] ** 2 / own + log(2.0 * pi * own))
            weight = item[3]
        else:
            # Over the height of the top, or over how far right an end is.
            slope = found[2] if item[0] == UPRIGHT else found[1]
            size = int(item[5])
            noise += (_SIZE_WIDER * wider) ** 2
            k, log_density = _best_aim(
                theta, found[0], noise, aims[size], log_weight[size]
            )
            k = max(k, 0)
            aim = aims[size, k]
            own = noise + aim[2]
            found[0] -= aim[0]
            rows[0, _EAST] = -aim[3]
            rows[0, _NORTH] = -aim[4]
            weight = log_weight[size, k]
            for owner in range(2):
                if where[size, k, owner] >= 0:
                    for axis in range(2):
                        which[count] = where[size, k, owner] + axis
                        share[count] = -aim[5 + axis] * error_sd_m[size, k, owner]
                        count += 1
        log_slope = log(max(abs(slope), 1e-12))
        if item[4] > log_density + log_slope and state[n] == 0:
            log_det -= 2.0 * item[4]
            continue
        log_det += log(2.0 * pi * own) - 2.0 * (log_slope + weight)
        square += add_row(
            theta, found[0], rows[0], own, which, share, count, whole, linear, normal,
            right, between, across, pull,
        )  # fmt: skip
    return square, log_det


@numba.njit(cache=True, nogil=True, error_model="numpy")
def item_residuals(  # type: ignore[no-untyped-def]
    theta, points, items, log_weight, where, error_sd_m, aims, levels, errors, out,
    which,
):  # fmt: skip
    """Fill what is left of each item at one camera, and which feature fits it.

    Parameters
    ----------
    errors : (errors,) array
        What the shared errors are taken to be, in standard deviations.
    out : (items, 2) array
        Receives the residual (of a water the mean of its points) and how it changes
        with the height of its first point on the plate, over the diagonal; NaN for a
        water that is not there.
    which : (items,) int64 array
        Receives the candidate of a size, -1 for all else.
    """
    rows = np.zeros((2, COUNT))
    others = np.zeros((2, COUNT))
    found = np.empty(5)
    level = np.empty(LEVEL)
    for n in range(items.shape[0]):
        item = items[n]
        which[n] = -1
        first = int(item[1])
        if item[0] == WATER:
            total = 0.0
            slope = 0.0
            for m in range(first, first + int(item[2])):
                there = water_point(
                    theta, points[m], levels[int(item[5])], rows, level, found
                )
                off = found[0] - level[5] * errors[LENS]
                for i in range(2):
                    off -= level[7 + i] * errors[int(item[6]) + i]
                for p in range(CAMERA, COUNT):
                    off += rows[0, p] * theta[p]
                total += off if there else np.nan
                slope += found[2]
            out[n, 0] = total / item[2]
            out[n, 1] = slope / item[2]
            continue
        _two_ends(theta, item, points, rows, others, found)
        out[n, 1] = found[2]
        if item[0] != EDGE:
            size = int(item[5])
            k = max(_best_aim(theta, found[0], 0.0, aims[size], log_weight[size])[0], 0)
            which[n] = k
            aim = aims[size, k]
            found[0] -= aim[0] + aim[3] * theta[_EAST] + aim[4] * theta[_NORTH]
            for owner in range(2):
                if where[size, k, owner] >= 0:
                    for axis in range(2):
                        error = errors[where[size, k, owner] + axis]
                        found[0] -= aim[5 + axis] * error_sd_m[size, k, owner] * error
        out[n, 0] = found[0]
