"""Add marks tied to features to the normal equations of one camera.

Symbols
-------
X, Y : a mark on the plate over the diagonal; sigma its standard error along each
alpha, T : bearing from the lens axis and tangent of elevation that the camera gives it
az, t : bearing and tangent of the feature from the station; F their covariance
J : derivatives of (alpha, T) by (X, Y)
r = (b + alpha - az, T - t) : residual, of covariance V = sigma^2 J J' + F

The data are places on the plate, the residuals directions, so that the density is
``N(r; 0, V) |det J|``. A mark that may be one of several features counts as the
one that fits best, with its weight. A blunder may lie anywhere on the plate: where
that is likelier than the best feature the mark counts as one and pulls no more.

Of F each mark keeps what is its own; the lens's height, and what several marks or
sizes share of a feature or a plan, are errors that they have in common
(`normal_rows`). Which feature fits best, and whether any does, is asked of each mark
with all of F.
"""

from __future__ import annotations

from math import atan2, cos, exp, log, pi, sin, sqrt

import numba
import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.mark_table import MarkTable
from wherestood.evidence.normal_rows import add_row
from wherestood.evidence.shared_errors import LENS
from wherestood.evidence.unknowns import CAMERA, COUNT

__all__ = [
    "AT_FIRST",
    "LESS_EACH_LEG",
    "add_marks",
    "first_width",
    "mark_off",
    "seen_from_plate",
]

Array = NDArray[np.float64]

_REFRACTION, _EAST, _NORTH = COUNT - 3, COUNT - 2, COUNT - 1
#: A climb begins with marks this much worse than they are [rad, tangent], then with
#: a fifth of it, and so on: far from the mode good marks look like blunders, and one
#: blunder believed would drag all others off.
AT_FIRST = 0.03
LESS_EACH_LEG = 0.2
#: Farther off still they would all be blunders, and none would pull: the first width
#: is doubled, so often at most, until no more than half of them are.
_DOUBLINGS = 3


@numba.njit(cache=True, nogil=True, error_model="numpy")
def seen_from_plate(theta, mark, rows):  # type: ignore[no-untyped-def]
    """Return alpha and T of a mark and J; fill their derivatives by the camera."""
    c = exp(theta[1])
    st = sin(theta[2])
    ct = cos(theta[2])
    sr = sin(theta[3])
    cr = cos(theta[3])
    x_axis = mark[0] + theta[5]
    y_axis = (
        mark[1] * (1.0 + theta[7]) + mark[3] * theta[8] + mark[4] * theta[9] + theta[4]
    )
    r2 = 4.0 * (x_axis * x_axis + y_axis * y_axis)
    lens = 1.0 + theta[6] * r2
    x = x_axis * lens
    y = y_axis * lens
    a = x * cr + y * sr
    e = -x * sr + y * cr
    forward = c * ct - e * st
    up = c * st + e * ct
    h2 = a * a + forward * forward
    h = sqrt(h2)
    cube = h2 * h
    rows[0, 0] = 1.0
    rows[1, 0] = 0.0
    df = c * ct
    rows[0, 1] = -a * df / h2
    rows[1, 1] = c * st / h - up * forward * df / cube
    rows[0, 2] = a * up / h2
    rows[1, 2] = forward / h + up * forward * up / cube
    df = a * st
    rows[0, 3] = (forward * e - a * df) / h2
    rows[1, 3] = -a * ct / h - up * (a * e + forward * df) / cube
    df = -cr * st
    alpha_y = (forward * sr - a * df) / h2 * lens
    t_y = (cr * ct / h - up * (a * sr + forward * df) / cube) * lens
    df = sr * st
    alpha_x = (forward * cr - a * df) / h2 * lens
    t_x = (-sr * ct / h - up * (a * cr + forward * df) / cube) * lens
    rows[0, 4] = alpha_y
    rows[1, 4] = t_y
    rows[0, 5] = alpha_x
    rows[1, 5] = t_x
    rows[0, 6] = (alpha_x * x_axis + alpha_y * y_axis) * r2
    rows[1, 6] = (t_x * x_axis + t_y * y_axis) * r2
    for p, by in ((7, mark[1]), (8, mark[3]), (9, mark[4])):
        rows[0, p] = alpha_y * by
        rows[1, p] = t_y * by
    return atan2(a, forward), up / h, alpha_x, alpha_y, t_x, t_y


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _best(theta, mark, targets, log_weight, seen, wider):  # type: ignore[no-untyped-def]
    """Return the feature that fits a mark best, and its log density on the plate."""
    alpha, tangent, a_x, a_y, t_x, t_y = seen
    noise = mark[2] * mark[2]
    best = -1e300
    which = -1
    for k in range(log_weight.size):
        if not log_weight[k] > -1e300:
            continue
        target = targets[k]
        v00 = noise * (a_x * a_x + a_y * a_y) + target[2] + wider * wider
        v01 = noise * (a_x * t_x + a_y * t_y) + target[3]
        v11 = noise * (t_x * t_x + t_y * t_y) + target[4] + wider * wider
        # With what the place in the cell is thought to be.
        east, north = theta[_EAST], theta[_NORTH]
        first = theta[0] + alpha - target[0] - target[5] * east - target[6] * north
        first = (first + pi) % (2.0 * pi) - pi
        second = tangent - target[1] - target[7] * east - target[8] * north
        second -= target[12] * theta[CAMERA]
        det = v00 * v11 - v01 * v01
        square = (
            v11 * first * first - 2.0 * v01 * first * second + v00 * second * second
        ) / det
        density = (
            log_weight[k]
            - 0.5 * (square + log(det))
            - log(2.0 * pi)
            + log(abs(a_x * t_y - a_y * t_x))
        )
        if density > best:
            best = density
            which = k
    return which, best


@numba.njit(cache=True, nogil=True, error_model="numpy")
def first_width(theta, marks):  # type: ignore[no-untyped-def]
    """Return how much worse marks must count for a climb to begin at a camera."""
    plate, log_weight, log_blunder = marks[0][0][0], marks[0][0][1], marks[0][0][2]
    targets = marks[1]
    rows = np.zeros((2, COUNT))
    wider = AT_FIRST
    for _ in range(_DOUBLINGS):
        blunders = 0
        for m in range(plate.shape[0]):
            seen = seen_from_plate(theta, plate[m], rows)
            _, best = _best(theta, plate[m], targets[m], log_weight[m], seen, wider)
            if log_blunder[m] > best:
                blunders += 1
        if 2 * blunders <= plate.shape[0]:
            break
        wider *= 2.0
    return wider


@numba.njit(cache=True, nogil=True, error_model="numpy")
def add_marks(  # type: ignore[no-untyped-def]
    theta, plate, targets, log_weight, log_blunder, where, error_sd_m, state, wider,
    whole, linear, normal, right, between, across, pull,
):  # fmt: skip
    """Add the marks to normal equations; return sum of squares and log determinant.

    Parameters
    ----------
    theta : (unknowns,) array
        The camera; its linear unknowns tell features and blunders apart.
    plate, log_weight, log_blunder, where, error_sd_m : arrays
        As `MarkTable`.
    targets : (marks, candidates, 20) array
        As `mark_targets`, for this station.
    state : (marks,) int8 array
        0 for a mark that may be a blunder or not, 1 for one that is none, 2 for one
        that does not count.
    wider : float
        Added to every standard error of a direction, squares adding up.
    whole, linear, normal, right, between, across, pull
        As `normal_rows.add_row`.
    """
    rows = np.zeros((2, COUNT))
    which = np.empty(7, dtype=np.int64)
    share = np.empty((2, 7))
    square = 0.0
    log_det = 0.0
    for m in range(plate.shape[0]):
        if state[m] == 2:
            continue
        mark = plate[m]
        seen = seen_from_plate(theta, mark, rows)
        k, best = _best(theta, mark, targets[m], log_weight[m], seen, wider)
        if k < 0 or (log_blunder[m] > best and state[m] == 0):
            log_det -= 2.0 * log_blunder[m]
            continue
        alpha, tangent, a_x, a_y, t_x, t_y = seen
        target = targets[m, k]
        noise = mark[2] * mark[2]
        v00 = noise * (a_x * a_x + a_y * a_y) + target[9] + wider * wider
        v01 = noise * (a_x * t_x + a_y * t_y) + target[10]
        v11 = noise * (t_x * t_x + t_y * t_y) + target[11] + wider * wider
        first = (theta[0] + alpha - target[0] + pi) % (2.0 * pi) - pi
        second = tangent - target[1]
        rows[0, _EAST] = -target[5]
        rows[0, _NORTH] = -target[6]
        rows[1, _EAST] = -target[7]
        rows[1, _NORTH] = -target[8]
        rows[1, CAMERA] = -target[12]
        rows[1, _REFRACTION] = -target[14]
        count = _fill_shared(target, where[m, k], error_sd_m[m, k], which, share)
        # Cholesky of V whitens both rows.
        l00 = sqrt(v00)
        l10 = v01 / l00
        l11 = sqrt(max(v11 - l10 * l10, 1e-30))
        r0 = first / l00
        r1 = (second - l10 * r0) / l11
        log_det += 2.0 * (
            log(l00 * l11)
            + log(2.0 * pi)
            - log(abs(a_x * t_y - a_y * t_x))
            - log_weight[m, k]
        )
        for p in range(COUNT):
            rows[0, p] /= l00
            rows[1, p] = (rows[1, p] - l10 * rows[0, p]) / l11
        for i in range(count):
            share[0, i] /= l00
            share[1, i] = (share[1, i] - l10 * share[0, i]) / l11
        square += add_row(
            theta, r0, rows[0], 1.0, which, share[0], count, whole, linear, normal,
            right, between, across, pull,
        )  # fmt: skip
        square += add_row(
            theta, r1, rows[1], 1.0, which, share[1], count, whole, linear, normal,
            right, between, across, pull,
        )  # fmt: skip
        for p in range(CAMERA, COUNT):
            rows[0, p] = 0.0
            rows[1, p] = 0.0
    return square, log_det


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _fill_shared(target, where, sd_m, which, share):  # type: ignore[no-untyped-def]
    """Fill the errors that a candidate shares; return how many."""
    which[0] = LENS
    share[0, 0] = 0.0
    share[1, 0] = -target[13]
    count = 1
    for owner in range(2):
        if where[owner] < 0:
            continue
        for axis in range(2):
            which[count] = where[owner] + axis
            share[0, count] = -target[15 + axis] * sd_m[owner]
            share[1, count] = -target[17 + axis] * sd_m[owner]
            count += 1
        if owner == 0:
            for height in range(2):
                which[count] = where[0] + 2 + height
                share[0, count] = 0.0
                share[1, count] = -target[19] * sd_m[2 + height]
                count += 1
    return count


def mark_off(
    table: MarkTable, targets: Array, theta: Array, errors: Array
) -> tuple[Array, NDArray[np.int64]]:
    """Return how far marks lie from where one camera shows their features.

    Parameters
    ----------
    targets : (marks, candidates, 20) float64 array
        For the camera's station.
    theta : (unknowns,) float64 array
    errors : (errors,) float64 array
        What the shared errors are taken to be, in standard deviations.

    Returns
    -------
    off : (marks, 2) float64 array
        Right of and above where the feature would show, over the diagonal.
    which : (marks,) int64 array
        Which of its features fits best.
    """
    count = len(table.plate)
    off, best = np.zeros((count, 2)), np.zeros(count, dtype=np.int64)
    rows = np.zeros((2, COUNT))
    which, share = np.empty(7, dtype=np.int64), np.empty((2, 7))
    for m in range(count):
        seen = seen_from_plate(theta, table.plate[m], rows)
        # Of a mark left out every feature weighs nothing: the first stands for all.
        k = max(
            0,
            _best(theta, table.plate[m], targets[m], table.log_weight[m], seen, 0.0)[0],
        )
        best[m] = k
        alpha, tangent, a_x, a_y, t_x, t_y = seen
        target = targets[m, k]
        apart = np.array(
            (
                (theta[0] + alpha - target[0] + pi) % (2.0 * pi) - pi,
                tangent - target[1] - target[12] * theta[CAMERA],
            )
        )
        apart[0] -= target[5] * theta[_EAST] + target[6] * theta[_NORTH]
        apart[1] -= target[7] * theta[_EAST] + target[8] * theta[_NORTH]
        apart[1] -= target[14] * theta[_REFRACTION]
        found = _fill_shared(
            target, table.where[m, k], table.error_sd_m[m, k], which, share
        )
        apart += share[:, :found] @ errors[which[:found]]
        off[m] = np.linalg.solve(np.array(((a_x, a_y), (t_x, t_y))), apart)
    return off, best
