"""Lay the skylines of all plates of a panorama on one horizon.

The samples of all plates are put in order of bearing, each in the columns of its own
plate's unknowns. Order of the joint unknowns: the cameras of all plates, then what
shifts residuals in proportion, so that the latter are eliminated first.
"""

from __future__ import annotations

from math import atan2, cos, exp, floor, pi, sin, sqrt
from typing import NamedTuple

import numba
import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.lanes import GAIN
from wherestood.evidence.linearise import fill_residuals
from wherestood.evidence.mode import plate_over_tangent
from wherestood.evidence.unknowns import CAMERA, COUNT
from wherestood.evidence.whiten import Work

__all__ = ["JointWork", "joint_index", "joint_workspace", "look", "take_out_linear"]

Array = NDArray[np.float64]
_LINEAR = COUNT - CAMERA


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
    place : (samples,) int64 array
        Where each sample is in that order.
    before : (samples,) int64 array
        In order of bearing: where each plate's own sample before this one is, -1 for
        its first.
    inside : (samples,) bool array
        In the same order: which are foreground.
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
    place: NDArray[np.int64]
    before: NDArray[np.int64]
    inside: NDArray[np.bool_]
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
        np.empty((count, 6)),
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
        np.empty((count, 6)),
        np.empty(count),
        np.empty(count),
        order,
        owner,
        np.empty(count, dtype=np.int64),
        np.empty(count, dtype=np.int64),
        np.zeros(count, dtype=np.bool_),
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
    for m in range(order.size):
        work.place[order[m]] = m
    one = work.one
    for m in range(order.size):
        n = order[m]
        one.residual[m] = work.residual[n]
        for p in range(6):
            one.noise[m, p] = work.noise[n, p]
        # Foreground is foretold by its own plate: another's is tilted otherwise.
        k = work.owner[n]
        work.before[m] = work.place[n - 1] if n > first[k] else -1
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
