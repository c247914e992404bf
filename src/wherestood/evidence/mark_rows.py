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
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from math import atan2, cos, exp, log, pi, sin, sqrt

import numba
import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.directions import mark_directions
from wherestood.evidence.items.on_plate import Mark
from wherestood.evidence.placed import Placement
from wherestood.evidence.stations import Stations
from wherestood.evidence.unknowns import CAMERA, COUNT

__all__ = [
    "AT_FIRST",
    "LESS_EACH_LEG",
    "NO_MARKS",
    "TARGET",
    "MarkTable",
    "add_marks",
    "first_width",
    "mark_state",
    "mark_targets",
]

Array = NDArray[np.float64]

#: Columns of a target: az, t, var az, covariance, var t, and the change of az and t
#: with the station's east and north.
TARGET = 9
_EAST, _NORTH = COUNT - 2, COUNT - 1
#: A climb begins with marks this much worse than they are [rad, tangent], then with
#: a fifth of it, and so on: far from the mode good marks look like blunders, and one
#: blunder believed would drag all others off.
AT_FIRST = 0.03
LESS_EACH_LEG = 0.2
#: Farther off still they would all be blunders, and none would pull: the first width
#: is doubled, so often at most, until no more than half of them are.
_DOUBLINGS = 3
#: Where a height is not known, any that a plate may show will do [tangent]: were it
#: much more, most of the mark's density would lie off the plate, and any mark without
#: a height would pass for a blunder.
_ANY_TANGENT_SD = 0.3


@dataclass(frozen=True)
class MarkTable:
    """Hold the marks of one hand of a plate, as scored.

    Attributes
    ----------
    plate : (marks, 5) float64 array
        X, Y and standard error over the diagonal, Y up, and the second and third
        order warp at X.
    log_weight : (marks, candidates) float64 array
        Log of trust times the weight of each feature; -inf for none.
    log_blunder : (marks,) float64 array
        Log density of a blunder on the plate.
    marks : tuple of Mark
    placement : Placement or None
        Where their features are.
    """

    plate: Array
    log_weight: Array
    log_blunder: Array
    marks: tuple[Mark, ...] = ()
    placement: Placement | None = None

    @classmethod
    def of(
        cls,
        marks: tuple[Mark, ...],
        placement: Placement,
        width_px: int,
        height_px: int,
    ) -> MarkTable:
        """Make ready the marks that are tied to a feature."""
        diagonal = math.hypot(width_px, height_px)
        tied = tuple(mark for mark in marks if mark.identities)
        x = np.array([mark.x_px - width_px / 2.0 for mark in tied]) / diagonal
        y = np.array([height_px / 2.0 - mark.y_px for mark in tied]) / diagonal
        sd = np.array([mark.sd_px for mark in tied]) / diagonal
        across = x / (width_px / diagonal / 2.0)
        warp = (1.5 * across**2 - 0.5, 2.5 * across**3 - 1.5 * across)
        each = [placement.candidates(mark.id, mark.at) for mark in tied]
        weight = np.zeros((len(tied), max((one.count for one in each), default=0)))
        for row, points in enumerate(each):
            weight[row, : points.count] = points.weight
        trust = np.array([min(mark.trust, 1.0 - 1e-9) for mark in tied])
        with np.errstate(divide="ignore"):
            log_weight = np.log(weight) + np.log(trust)[:, None]
        area = width_px * height_px / diagonal**2
        return cls(
            np.column_stack((x, y, sd, *warp)),
            log_weight,
            np.log1p(-trust) - math.log(area),
            tied,
            placement,
        )

    def mirrored(self) -> MarkTable:
        """Return the marks of the plate seen from behind."""
        plate = self.plate.copy()
        plate[:, (0, 4)] *= -1.0
        return MarkTable(
            plate, self.log_weight, self.log_blunder, self.marks, self.placement
        )

    def anywhere(self) -> MarkTable:
        """Return the same marks tied to nothing: anywhere on the plate, for sure."""
        with np.errstate(divide="ignore", over="ignore"):
            trust = np.exp(np.logaddexp.reduce(self.log_weight, axis=1))
        return MarkTable(
            self.plate,
            np.full_like(self.log_weight, -np.inf),
            self.log_blunder - np.log1p(-trust),
            self.marks,
            self.placement,
        )

    def handed(self, targets: Array) -> tuple[Array, Array, Array, Array]:
        """Return what `mode.fit_mode` takes, for one station's targets."""
        return self.plate, targets, self.log_weight, self.log_blunder


NO_MARKS = MarkTable(np.zeros((0, 5)), np.zeros((0, 1)), np.zeros(0))


def mark_targets(table: MarkTable, stations: Stations) -> Array:
    """Return where each mark's features lie from stations.

    Returns
    -------
    (stations, marks, candidates, 9) float64 array
        As `TARGET`; the error of the lens's height is in the tangent's variance.
    """
    if table.placement is None:
        return np.zeros((stations.count, 0, 1, TARGET))
    seen = mark_directions(stations, table.marks, table.placement).directions
    lens = stations.lens_sd_m * seen.tangent_by_lens
    known = np.isfinite(seen.tangent)
    variance = np.where(known, seen.sd_tangent**2 + lens**2, _ANY_TANGENT_SD**2)
    return np.stack(
        (
            seen.azimuth_rad,
            np.where(known, seen.tangent, 0.0),
            seen.sd_azimuth_rad**2,
            np.where(known, seen.covariance, 0.0),
            np.nan_to_num(variance, nan=_ANY_TANGENT_SD**2),
            seen.azimuth_by_east,
            seen.azimuth_by_north,
            np.where(known, seen.tangent_by_east, 0.0),
            np.where(known, seen.tangent_by_north, 0.0),
        ),
        axis=-1,
    )


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _seen(theta, mark, rows):  # type: ignore[no-untyped-def]
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
    plate, targets, log_weight, log_blunder = marks
    rows = np.zeros((2, COUNT))
    wider = AT_FIRST
    for _ in range(_DOUBLINGS):
        blunders = 0
        for m in range(plate.shape[0]):
            seen = _seen(theta, plate[m], rows)
            _, best = _best(theta, plate[m], targets[m], log_weight[m], seen, wider)
            if log_blunder[m] > best:
                blunders += 1
        if 2 * blunders <= plate.shape[0]:
            break
        wider *= 2.0
    return wider


@numba.njit(cache=True, nogil=True, error_model="numpy")
def add_marks(  # type: ignore[no-untyped-def]
    theta, plate, targets, log_weight, log_blunder, wider, whole, normal, right
):
    """Add the marks to normal equations; return sum of squares and log determinant.

    Parameters
    ----------
    theta : (unknowns,) array
        The camera; its linear unknowns only tell features and blunders apart.
    plate, log_weight, log_blunder : arrays
        As `MarkTable`.
    targets : (marks, candidates, 9) array
        As `mark_targets`, for this station.
    wider : float
        Added to every standard error of a direction, squares adding up.
    whole : bool
        Whether all unknowns are solved for, or bearing, ln c and cross are held.
    normal, right : arrays
        Added to; the linear unknowns are measured from zero.
    """
    rows = np.zeros((2, COUNT))
    square = 0.0
    log_det = 0.0
    for m in range(plate.shape[0]):
        mark = plate[m]
        seen = _seen(theta, mark, rows)
        which, best = _best(theta, mark, targets[m], log_weight[m], seen, wider)
        if which < 0 or log_blunder[m] > best:
            log_det -= 2.0 * log_blunder[m]
            continue
        alpha, tangent, a_x, a_y, t_x, t_y = seen
        target = targets[m, which]
        noise = mark[2] * mark[2]
        v00 = noise * (a_x * a_x + a_y * a_y) + target[2] + wider * wider
        v01 = noise * (a_x * t_x + a_y * t_y) + target[3]
        v11 = noise * (t_x * t_x + t_y * t_y) + target[4] + wider * wider
        first = (theta[0] + alpha - target[0] + pi) % (2.0 * pi) - pi
        second = tangent - target[1]
        rows[0, _EAST] = -target[5]
        rows[0, _NORTH] = -target[6]
        rows[1, _EAST] = -target[7]
        rows[1, _NORTH] = -target[8]
        # Cholesky of V whitens both rows.
        l00 = sqrt(v00)
        l10 = v01 / l00
        l11 = sqrt(max(v11 - l10 * l10, 1e-30))
        r0 = first / l00
        r1 = (second - l10 * r0) / l11
        square += r0 * r0 + r1 * r1
        log_det += 2.0 * (
            log(l00 * l11)
            + log(2.0 * pi)
            - log(abs(a_x * t_y - a_y * t_x))
            - log_weight[m, which]
        )
        for p in range(COUNT):
            j0 = rows[0, p] / l00
            j1 = (rows[1, p] - l10 * j0) / l11
            if not whole and (p < 2 or p == 5):
                j0 = 0.0
                j1 = 0.0
            rows[0, p] = j0
            rows[1, p] = j1
            right[p] += j0 * r0 + j1 * r1
        for p in range(COUNT):
            for q in range(p + 1):
                normal[p, q] += rows[0, p] * rows[0, q] + rows[1, p] * rows[1, q]
        for p in range(CAMERA, COUNT):
            rows[0, p] = 0.0
            rows[1, p] = 0.0
    return square, log_det


def mark_state(
    table: MarkTable, targets: Array, theta: Array
) -> tuple[Array, Array, NDArray[np.int64]]:
    """Return how one camera explains the marks.

    Parameters
    ----------
    targets : (marks, candidates, 9) float64 array
        For the camera's station.
    theta : (unknowns,) float64 array

    Returns
    -------
    blunder_log_odds : (marks,) float64 array
        Log odds that each is a blunder.
    off : (marks, 2) float64 array
        How far each lies right of and above where its feature would show, over the
        diagonal.
    which : (marks,) int64 array
        Which of its features fits best.
    """
    count = len(table.plate)
    odds, off = np.zeros(count), np.zeros((count, 2))
    which = np.zeros(count, dtype=np.int64)
    rows = np.zeros((2, COUNT))
    for m in range(count):
        seen = _seen(theta, table.plate[m], rows)
        which[m], best = _best(
            theta, table.plate[m], targets[m], table.log_weight[m], seen, 0.0
        )
        odds[m] = table.log_blunder[m] - best
        alpha, tangent, a_x, a_y, t_x, t_y = seen
        target = targets[m, which[m]]
        apart = np.array(
            (
                (theta[0] + alpha - target[0] + pi) % (2.0 * pi) - pi,
                tangent - target[1],
            )
        )
        apart[0] -= target[5] * theta[_EAST] + target[6] * theta[_NORTH]
        apart[1] -= target[7] * theta[_EAST] + target[8] * theta[_NORTH]
        off[m] = np.linalg.solve(np.array(((a_x, a_y), (t_x, t_y))), apart)
    return odds, off, which
