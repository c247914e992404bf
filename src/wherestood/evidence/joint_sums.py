"""Add up what all plates of a panorama say of their cameras together.

Symbols
-------
theta : unknowns of each plate, (plates, unknowns)
Q : precision of what is believed of all of them together

The skylines of all plates lie on one horizon, under one field of cover and model
error: their samples are put in order of bearing and whitened in one pass
(`evidence.whiten`), so that a hill seen on two plates counts once. What the plates have
in common (lens, station, cover) is in Q: each keeps its own unknowns, and what is
shared ties them, so that it is learned from all and believed but once. What is marked
on the plates shares its errors across them (`evidence.normal_rows`): one feature seen
on two plates is one place, and all lenses stand at one height.
"""

from __future__ import annotations

from math import pi
from typing import NamedTuple

import numba
import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.joint_look import joint_index
from wherestood.evidence.lanes import sum_squares, whiten_rows
from wherestood.evidence.normal_rows import NO, YES, eliminate_shared
from wherestood.evidence.plate_rows import add_marked
from wherestood.evidence.ties import add_ties
from wherestood.evidence.unknowns import CAMERA, COUNT
from wherestood.evidence.whiten import whiten

__all__ = ["Belief", "PlateMarks", "add_up", "at_station"]

Array = NDArray[np.float64]


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
    errors : int
        How many errors what is marked on the plates shares.
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
    errors: int
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
    """Return what is marked on one plate, as `plate_rows.add_marked` takes it."""
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
        marks.errors,
    )  # fmt: skip
    return fixed, marks.targets[m], marks.aims[s], marks.levels[w]


@numba.njit(cache=True, nogil=True, error_model="numpy")
def add_up(  # type: ignore[no-untyped-def]
    theta, units, level, foreground_log_odds, temper, belief, marks, ties, wider,
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
    square, log_det = whiten(
        one, level, foreground_log_odds, temper, (work.before, work.inside)
    )
    log_det += temper * units
    any_held = held.any()
    block, side = one.normal, one.right
    errors = marks.errors if marks.first[:2, plates].sum() > 0 else 0
    between = np.eye(errors)
    across = np.zeros((errors, size))
    own_across = np.empty((errors, COUNT))
    pull = np.zeros(errors)
    for k in range(plates):
        if k > 0:
            whiten_rows(work.columns[k], one.gain, work.white[k], count)
            sum_squares(work.white[k], one.left, block, side, count)
        if marks.first[0, k + 1] + marks.first[1, k + 1] > (
            marks.first[0, k] + marks.first[1, k]
        ):
            own_across[:] = 0.0
            off, units_of_marks = add_marked(
                theta[k], _handed(marks, k), wider, not any_held, NO, block, side,
                between, own_across, pull,
            )  # fmt: skip
            square += off
            log_det += units_of_marks
            for p in range(COUNT):
                across[:, joint_index(plates, k, p)] = own_across[:, p]
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
    if errors > 0:
        off, units_of_marks = eliminate_shared(between, across, pull, normal, right)
        square += off
        log_det += units_of_marks
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
def _marked_log_density(theta, marks, ties, work):  # type: ignore[no-untyped-def]
    """Return the log density of marks and ties at given cameras.

    Shared errors are integrated out. What ``work`` holds of normal equations is lost.
    """
    plates = theta.shape[0]
    normal, right = work.normal, work.right
    block, side = work.one.normal, work.one.right
    errors = marks.errors if marks.first[:2, plates].sum() > 0 else 0
    between = np.eye(errors)
    across = np.zeros((errors, COUNT))
    pull = np.zeros(errors)
    total = 0.0
    for k in range(plates):
        if marks.first[0, k + 1] + marks.first[1, k + 1] > (
            marks.first[0, k] + marks.first[1, k]
        ):
            off, units = add_marked(
                theta[k], _handed(marks, k), 0.0, YES, YES, block, side, between,
                across, pull,
            )  # fmt: skip
            total += off + units
    if errors > 0:
        off, units = eliminate_shared(between, across, pull, block, side)
        total += off + units
    if ties[0].shape[0] > 0:
        pair, place, parallax, log_trust, log_blunder = ties
        held = np.zeros((plates, COUNT), dtype=np.bool_)
        off, units = add_ties(
            theta, pair, place, parallax, log_trust, log_blunder, 0.0, held, normal,
            right,
        )  # fmt: skip
        total += off + units
    return -0.5 * total


@numba.njit(cache=True, nogil=True, error_model="numpy")
def at_station(value, power, theta, marks, ties, work):  # type: ignore[no-untyped-def]
    """Return the log density of cameras summed over, raised to a power.

    As of single plates: what is marked keeps its weight, tie marks included.
    """
    plates = theta.shape[0]
    if power == 1.0 or marks.first[:2, plates].sum() + ties[0].shape[0] == 0:
        return power * value
    marked = _marked_log_density(theta, marks, ties, work)
    return power * value + (1.0 - power) * marked


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
