"""Wear uplifted ground down by running water.

Rivers cut at a rate ``K A**m S`` (stream power, with slope exponent 1), slopes
creep by diffusion. The equation ``dz/dt = U - K A**m dz/dx + D laplacian(z)`` is
stepped implicitly along the drainage tree, from outlets upward, so that steps
may be long.

Symbols: ``U`` uplift [m/step], ``K`` erodibility, ``A`` drained area [cells],
``m`` = 0.5, ``S`` slope, ``D`` diffusion number per step.

References
----------
Braun and Willett (2013), "A very efficient O(n), implicit and parallel method to
solve the stream power equation", Geomorphology 180-181, 170-179: the ordering
and the implicit step, from memory.
"""

from __future__ import annotations

import heapq

import numba
import numpy as np
from numpy.typing import NDArray

__all__ = ["erode"]

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

_CREEP = 0.06
_FALL_M = 1e-3  # a filled hollow still drains


def erode(start_m: Array, uplift_m: Array, erodibility: Array, steps: int) -> Array:
    """Return the ground after ``steps`` of uplift, cutting and creep.

    Parameters
    ----------
    start_m : (rows, columns) float64 array
        Heights to begin with [m]; the outer edge stays as it is and drains.
    uplift_m : (rows, columns) float64 array
        Uplift a step [m].
    erodibility : (rows, columns) float64 array
        ``K`` times step over cell size, dimensionless: about 0.02 to 0.3.
    steps : int
        Number of steps.
    """
    height_m = start_m.copy()
    rows, columns = height_m.shape
    flat = height_m.reshape(-1)
    for _ in range(steps):
        height_m[1:-1, 1:-1] += uplift_m[1:-1, 1:-1]
        _fill(height_m)
        receiver, length = _receivers(height_m)
        order = _from_outlets_up(receiver)
        _cut(flat, receiver, length, order, erodibility.reshape(-1))
        creep = (
            height_m[:-2, 1:-1]
            + height_m[2:, 1:-1]
            + height_m[1:-1, :-2]
            + height_m[1:-1, 2:]
            - 4.0 * height_m[1:-1, 1:-1]
        )
        height_m[1:-1, 1:-1] += _CREEP * creep
    return height_m.reshape(rows, columns)


@numba.njit(cache=True)
def _fill(height_m: Array) -> None:
    """Fill hollows with sediment until every node drains to the edge, in place.

    Nodes are taken from the edge inward, lowest first (a priority flood).
    """
    rows, columns = height_m.shape
    reached = np.zeros(height_m.shape, np.bool_)
    front = [(height_m[0, 0], 0, 0)]
    reached[0, 0] = True
    for i in range(rows):
        for j in range(columns):
            on_edge = i == 0 or j == 0 or i == rows - 1 or j == columns - 1
            if on_edge and not reached[i, j]:
                front.append((height_m[i, j], i, j))
                reached[i, j] = True
    heapq.heapify(front)
    while len(front) > 0:
        level_m, i, j = heapq.heappop(front)
        for di in range(-1, 2):
            for dj in range(-1, 2):
                a, b = i + di, j + dj
                if a < 0 or b < 0 or a >= rows or b >= columns or reached[a, b]:
                    continue
                reached[a, b] = True
                height_m[a, b] = max(height_m[a, b], level_m + _FALL_M)
                heapq.heappush(front, (height_m[a, b], a, b))


@numba.njit(cache=True)
def _receivers(height_m: Array) -> tuple[Indices, Array]:
    """Find each node's steepest lower neighbour (itself if none) and the step."""
    rows, columns = height_m.shape
    receiver = np.arange(rows * columns)
    length = np.ones(rows * columns)
    for i in range(1, rows - 1):
        for j in range(1, columns - 1):
            steepest = 0.0
            for di in range(-1, 2):
                for dj in range(-1, 2):
                    step = np.sqrt(di * di + dj * dj)
                    if step == 0.0:
                        continue
                    slope = (height_m[i, j] - height_m[i + di, j + dj]) / step
                    if slope > steepest:
                        steepest = slope
                        receiver[i * columns + j] = (i + di) * columns + j + dj
                        length[i * columns + j] = step
    return receiver, length


@numba.njit(cache=True)
def _from_outlets_up(receiver: Indices) -> Indices:
    """Order nodes so that each comes after the one it drains to."""
    n = receiver.size
    start = np.zeros(n + 1, np.int64)
    for node in range(n):
        if receiver[node] != node:
            start[receiver[node] + 1] += 1
    for node in range(n):
        start[node + 1] += start[node]
    donors = np.empty(n, np.int64)
    filled = start[:-1].copy()
    for node in range(n):
        if receiver[node] != node:
            donors[filled[receiver[node]]] = node
            filled[receiver[node]] += 1
    order = np.empty(n, np.int64)
    n_ordered = 0
    for node in range(n):
        if receiver[node] == node:
            order[n_ordered] = node
            n_ordered += 1
    head = 0
    while head < n_ordered:
        node = order[head]
        head += 1
        for place in range(start[node], start[node + 1]):
            order[n_ordered] = donors[place]
            n_ordered += 1
    return order


@numba.njit(cache=True)
def _cut(
    height_m: Array,
    receiver: Indices,
    length: Array,
    order: Indices,
    erodibility: Array,
) -> None:
    """Accumulate drainage, then lower each node towards its receiver, in place."""
    drained = np.ones(height_m.size)
    for place in range(order.size - 1, -1, -1):
        node = order[place]
        if receiver[node] != node:
            drained[receiver[node]] += drained[node]
    for place in range(order.size):
        node = order[place]
        below = receiver[node]
        if below != node:
            pull = erodibility[node] * np.sqrt(drained[node]) / length[node]
            height_m[node] = (height_m[node] + pull * height_m[below]) / (1.0 + pull)
