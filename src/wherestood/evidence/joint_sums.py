"""Add up what all plates of a panorama say of their cameras together.

Symbols
-------
theta : unknowns of each plate, (plates, unknowns)
Q : precision of what is believed of all of them together

The skylines of all plates lie on one horizon, under one field of cover and model
error: their samples are put in order of bearing and whitened in one pass
(`evidence.whiten`), so that a hill seen on two plates counts once. What the plates have
in common (lens, station, cover) is in Q: each keeps its own unknowns, and what is
shared ties them, so that it is learned from all and believed but once.

Order of the joint unknowns: the cameras of all plates, then what shifts residuals in
proportion, so that the latter are eliminated first.
"""

from __future__ import annotations

from math import atan2, cos, exp, floor, pi, sin, sqrt
from typing import NamedTuple

import numba
import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.lanes import GAIN, sum_squares, whiten_rows
from wherestood.evidence.linearise import fill_residuals
from wherestood.evidence.mode import plate_over_tangent
from wherestood.evidence.plate_rows import add_plate_rows
from wherestood.evidence.ties import add_ties
from wherestood.evidence.unknowns import CAMERA, COUNT
from wherestood.evidence.whiten import Work, whiten

__all__ = [
    "Belief",
    "JointWork",
    "PlateMarks",
    "add_up",
    "eliminate_joint",
    "invert_joint",
    "joint_index",
    "joint_workspace",
    "look",
    "solve_joint",
    "take_out_linear",
]

Array = NDArray[np.float64]
_LINEAR = COUNT - CAMERA


class Belief(NamedTuple):
    """Hold what is believed of the unknowns of all plates.

    Attributes
    ----------
    mean : (plates, unknowns) float64 array
    own : (plates, unknowns) float64 array
        Precision of each plate's own share; 0 for a flat prior.
    between : (plates, plates, unknowns) float64 array
        What is taken off for what plates share: ``Q = diag(own) - between``.
    log_det : float
        Log determinant of Q, flat priors left out.
    """

    mean: Array
    own: Array
    between: Array
    log_det: float


class PlateMarks(NamedTuple):
    """Hold all that is marked on the plates, one plate after another.

    Attributes
    ----------
    first : (5, plates + 1) int64 array
        Where each plate's marks, items, points, sizes and waters begin.
    errors : (plates,) int64 array
        How many errors what is marked on each plate shares.
    plate, log_weight, log_blunder, where, error_sd_m : arrays
        As `mark_table.MarkTable`.
    points, rows, size_weight, size_where, size_error_sd_m : arrays
        As `plate_items.ItemTable`; numbers in ``rows`` are the plate's own.
    mark_states, item_states : int8 arrays
        All that is marked may be a blunder or not.
    targets, aims, levels : arrays
        As `plate_rows.Aims`, for one station.
    """

    first: NDArray[np.int64]
    errors: NDArray[np.int64]
    plate: Array
    log_weight: Array
    log_blunder: Array
    where: NDArray[np.int64]
    error_sd_m: Array
    points: Array
    rows: Array
    size_weight: Array
    size_where: NDArray[np.int64]
    size_error_sd_m: Array
    mark_states: NDArray[np.int8]
    item_states: NDArray[np.int8]
    targets: Array
    aims: Array
    levels: Array


class JointWork(NamedTuple):
    """Hold the arrays that the sums of all plates are made in.

    Attributes
    ----------
    one : Work
        Of the samples of all plates, in order of bearing.
    residual, jacobian, noise : float64 arrays
        As a plate by itself fills them, plate after plate.
    bearing, distance : (samples,) float64 array
        Of each sample, seen from the mean direction [rad], and its horizon's [m].
    order : (samples,) int64 array
        Samples in order of bearing.
    owner : (samples,) int64 array
        Which plate each of them is on.
    columns, white : (plates, samples, unknowns) float64 array
        Derivatives by each plate's unknowns in that order, and whitened.
    normal, right, pivot : float64 arrays
        Joint normal equations.
    """

    one: Work
    residual: Array
    jacobian: Array
    noise: Array
    bearing: Array
    distance: Array
    order: NDArray[np.int64]
    owner: NDArray[np.int64]
    columns: Array
    white: Array
    normal: Array
    right: Array
    pivot: Array


@numba.njit(cache=True, nogil=True)
def joint_index(plates, plate, unknown):  # type: ignore[no-untyped-def]
    """Return where an unknown of a plate stands among the joint ones."""
    if unknown < CAMERA:
        return plate * CAMERA + unknown
    return plates * CAMERA + plate * _LINEAR + unknown - CAMERA


@numba.njit(cache=True, nogil=True)
def joint_workspace(first):  # type: ignore[no-untyped-def]
    """Return room for plates whose samples begin at ``first``."""
    plates = first.size - 1
    count = first[plates]
    columns = np.zeros((plates, count, COUNT))
    white = np.zeros((plates, count, COUNT))
    one = Work(
        np.empty(count),
        np.empty(count),
        columns[0],
        np.empty((count, 4)),
        np.empty((count, 4)),
        np.empty((count, GAIN)),
        white[0],
        np.empty(count),
        np.empty((COUNT, COUNT)),
        np.empty(COUNT),
        np.empty(COUNT),
    )
    size = plates * COUNT
    owner = np.empty(count, dtype=np.int64)
    order = np.empty(count, dtype=np.int64)
    for k in range(plates):
        for n in range(first[k], first[k + 1]):
            owner[n] = k
            order[n] = n
    return JointWork(
        one,
        np.empty(count),
        np.empty((count, COUNT)),
        np.empty((count, 4)),
        np.empty(count),
        np.empty(count),
        order,
        owner,
        columns,
        white,
        np.empty((size, size)),
        np.empty(size),
        np.empty(size),
    )


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _place(theta, samples, profile, k, first, middle, work):  # type: ignore[no-untyped-def]
    """Fill bearing and horizon's distance of a plate's samples."""
    bearings = profile.shape[0]
    spacing = 2.0 * pi / bearings
    c = exp(theta[1])
    st, ct, sr, cr = sin(theta[2]), cos(theta[2]), sin(theta[3]), cos(theta[3])
    for n in range(first[k], first[k + 1]):
        x = samples[n, 0] + theta[5]
        y = (
            samples[n, 1] * (1.0 + theta[7])
            + samples[n, 3] * theta[8]
            + samples[n, 4] * theta[9]
            + theta[4]
        )
        lens = 1.0 + theta[6] * 4.0 * (x * x + y * y)
        a = (x * cr + y * sr) * lens
        e = (-x * sr + y * cr) * lens
        bearing = theta[0] + atan2(a, c * ct - e * st)
        off = bearing - middle + pi
        work.bearing[n] = off - floor(off / (2.0 * pi)) * 2.0 * pi
        position = bearing / spacing + 0.5
        position -= floor(position / bearings) * bearings
        work.distance[n] = profile[min(int(position), bearings - 1), 1]


@numba.njit(cache=True, nogil=True, error_model="numpy")
def look(theta, samples, first, profile, curvature_per_m, work):  # type: ignore[no-untyped-def]
    """Fill all that does not hang on how rough the noise is; return the units' log.

    ``samples`` holds those of all plates, one after another; those of plate k begin at
    ``first[k]``. Filled are the residuals, derivatives and noise terms of all samples
    in order of bearing, the ground steps from each to the next included.
    """
    plates = first.size - 1
    east = north = 0.0
    units = 0.0
    for k in range(plates):
        part = slice(first[k], first[k + 1])
        fill_residuals(
            theta[k], samples[part], profile, curvature_per_m, work.residual[part],
            work.jacobian[part], work.noise[part],
        )  # fmt: skip
        units += plate_over_tangent(samples[part], work.noise[part])
        east += sin(theta[k, 0])
        north += cos(theta[k, 0])
    # Bearings are counted from behind the middle of what is seen.
    middle = atan2(east, north)
    for k in range(plates):
        _place(theta[k], samples, profile, k, first, middle, work)
    order, bearing = work.order, work.bearing
    for n in range(1, order.size):
        at = order[n]
        m = n - 1
        while m >= 0 and bearing[order[m]] > bearing[at]:
            order[m + 1] = order[m]
            m -= 1
        order[m + 1] = at
    one = work.one
    for m in range(order.size):
        n = order[m]
        one.residual[m] = work.residual[n]
        for p in range(4):
            one.noise[m, p] = work.noise[n, p]
        if m == 0:
            one.noise[m, 1] = 1e9
        else:
            before = order[m - 1]
            turn = bearing[n] - bearing[before]
            across = 0.5 * (work.distance[n] + work.distance[before]) * turn
            along = work.distance[n] - work.distance[before]
            one.noise[m, 1] = sqrt(across * across + along * along)
        for k in range(plates):
            if work.owner[n] == k:
                for p in range(COUNT):
                    work.columns[k, m, p] = work.jacobian[n, p]
            else:
                for p in range(COUNT):
                    work.columns[k, m, p] = 0.0
    return units


@numba.njit(cache=True, nogil=True, error_model="numpy")
def take_out_linear(theta, work):  # type: ignore[no-untyped-def]
    """Take what shifts residuals in proportion out of them."""
    order, owner, one = work.order, work.owner, work.one
    for m in range(order.size):
        n = order[m]
        k = owner[n]
        value = one.residual[m]
        for p in range(CAMERA, COUNT):
            value += work.jacobian[n, p] * theta[k, p]
        one.fitted[m] = value


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _cross(one, other, rows, block):  # type: ignore[no-untyped-def]
    """Fill the sums of products of two plates' whitened columns."""
    for p in range(COUNT):
        for q in range(COUNT):
            block[p, q] = 0.0
    for n in range(rows):
        for p in range(COUNT):
            value = one[n, p]
            if value == 0.0:
                continue
            for q in range(COUNT):
                block[p, q] += value * other[n, q]


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _handed(marks, k):  # type: ignore[no-untyped-def]
    """Return what is marked on one plate, as `plate_rows.add_plate_rows` takes it."""
    first = marks.first
    m = slice(first[0, k], first[0, k + 1])
    i = slice(first[1, k], first[1, k + 1])
    p = slice(first[2, k], first[2, k + 1])
    s = slice(first[3, k], first[3, k + 1])
    w = slice(first[4, k], first[4, k + 1])
    fixed = (
        (
            marks.plate[m], marks.log_weight[m], marks.log_blunder[m], marks.where[m],
            marks.error_sd_m[m],
        ),
        (
            marks.points[p], marks.rows[i], marks.size_weight[s], marks.size_where[s],
            marks.size_error_sd_m[s],
        ),
        marks.mark_states[m],
        marks.item_states[i],
        marks.errors[k],
    )  # fmt: skip
    return fixed, marks.targets[m], marks.aims[s], marks.levels[w]


@numba.njit(cache=True, nogil=True, error_model="numpy")
def add_up(  # type: ignore[no-untyped-def]
    theta, units, level, jump_sd_m, jump_log_odds, temper, belief, marks, ties, wider,
    held, work,
):  # fmt: skip
    """Fill the joint normal equations; return sum of squares and log determinant.

    The likelihood of the skylines is raised to the power ``temper``; marks, ties and
    what is believed are not. Unknowns ``held`` (plates, unknowns) are not solved for:
    what is believed of them counts as it stands.
    """
    plates = theta.shape[0]
    normal, right = work.normal, work.right
    size = plates * COUNT
    for i in range(size):
        right[i] = 0.0
        for j in range(i + 1):
            normal[i, j] = 0.0
    one = work.one
    count = one.residual.size
    square, log_det = whiten(one, level, jump_sd_m, jump_log_odds, temper)
    log_det += temper * units
    any_held = held.any()
    block, side = one.normal, one.right
    for k in range(plates):
        if k > 0:
            whiten_rows(work.columns[k], one.gain, work.white[k], count)
            sum_squares(work.white[k], one.left, block, side, count)
        if marks.first[0, k + 1] + marks.first[1, k + 1] > (
            marks.first[0, k] + marks.first[1, k]
        ):
            off, units_of_marks = add_plate_rows(
                theta[k], _handed(marks, k), wider, not any_held, False, block, side,
                side[:0],
            )  # fmt: skip
            square += off
            log_det += units_of_marks
        for p in range(COUNT):
            i = joint_index(plates, k, p)
            right[i] += side[p]
            for q in range(p + 1):
                normal[i, joint_index(plates, k, q)] += block[p, q]
    for k in range(1, plates):
        for m in range(k):
            _cross(work.white[k], work.white[m], count, block)
            for p in range(COUNT):
                i = joint_index(plates, k, p)
                for q in range(COUNT):
                    j = joint_index(plates, m, q)
                    normal[max(i, j), min(i, j)] += block[p, q]
    if ties[0].shape[0] > 0:
        pair, place, parallax, log_trust, log_blunder = ties
        off, units_of_ties = add_ties(
            theta, pair, place, parallax, log_trust, log_blunder, wider, held, normal,
            right,
        )  # fmt: skip
        square += off
        log_det += units_of_ties
    if any_held:
        for k in range(plates):
            for p in range(COUNT):
                if held[k, p]:
                    i = joint_index(plates, k, p)
                    right[i] = 0.0
                    for j in range(i):
                        normal[i, j] = 0.0
                    for j in range(i, size):
                        normal[j, i] = 0.0
    return square + _believe(theta, belief, held, work), log_det


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _believe(theta, belief, held, work):  # type: ignore[no-untyped-def]
    """Add what is believed; return its share of the squares."""
    plates = theta.shape[0]
    normal, right = work.normal, work.right
    square = 0.0
    for p in range(COUNT):
        for k in range(plates):
            i = joint_index(plates, k, p)
            # Linear unknowns are always measured from zero.
            off = (theta[k, p] if p < CAMERA else 0.0) - belief.mean[k, p]
            for m in range(plates):
                precision = -belief.between[k, m, p]
                if m == k:
                    precision += belief.own[k, p]
                if precision == 0.0:
                    continue
                other = (theta[m, p] if p < CAMERA else 0.0) - belief.mean[m, p]
                square += precision * off * other
                if held[k, p]:
                    continue
                right[i] += precision * other
                j = joint_index(plates, m, p)
                if j <= i and not held[m, p]:
                    normal[i, j] += precision
    for k in range(plates):
        for p in range(COUNT):
            if held[k, p]:
                normal[joint_index(plates, k, p), joint_index(plates, k, p)] = 1.0
        if not held[k, 0]:
            # Where nothing tells of a bearing its doubt is the circle, no more.
            normal[k * CAMERA, k * CAMERA] += 3.0 / (pi * pi)
    return square


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def eliminate_joint(normal, right, pivot):  # type: ignore[no-untyped-def]
    """Eliminate the joint unknowns, the last one first, as `lanes.eliminate` does."""
    for k in range(right.size - 1, -1, -1):
        value = max(normal[k, k], 1e-300)
        pivot[k] = value
        inverse = 1.0 / value
        for i in range(k):
            factor = normal[k, i] * inverse
            if factor == 0.0:
                continue
            right[i] -= factor * right[k]
            for j in range(i + 1):
                normal[i, j] -= factor * normal[k, j]


@numba.njit(cache=True, nogil=True, error_model="numpy")
def solve_joint(normal, right, pivot, out):  # type: ignore[no-untyped-def]
    """Solve equations that `eliminate_joint` has gone through."""
    for k in range(right.size):
        value = right[k]
        for p in range(k):
            value -= normal[k, p] * out[p]
        out[k] = value / pivot[k]


@numba.njit(cache=True, nogil=True, error_model="numpy")
def invert_joint(normal, pivot, inverse):  # type: ignore[no-untyped-def]
    """Fill the inverse of a matrix that `eliminate_joint` has gone through."""
    size = pivot.size
    rows = np.zeros((size, size))
    for c in range(size):
        root = sqrt(pivot[c])
        rows[c, c] = 1.0 / root
        for k in range(c + 1, size):
            value = 0.0
            for p in range(c, k):
                value -= normal[k, p] * rows[c, p]
            rows[c, k] = value / pivot[k]
    for p in range(size):
        for q in range(p + 1):
            value = 0.0
            for c in range(q + 1):
                value += rows[c, p] * rows[c, q]
            inverse[p, q] = value
            inverse[q, p] = value
