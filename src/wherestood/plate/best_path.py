"""Find the cheapest line from the left edge to the right, one row a column."""

from __future__ import annotations

from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray

__all__ = ["cheapest_line"]


def cheapest_line(
    cost: NDArray[np.float32], step_cost: float, jump_cost: float
) -> NDArray[np.int32]:
    """Find the row in each column that makes the whole line cheapest.

    Parameters
    ----------
    cost : (width, height) float32 array, C order
        What it costs the line to cross a column at a row; inf where it may not.
    step_cost : float
        What each row of rise or fall between neighbouring columns costs.
    jump_cost : float
        The most that a rise or fall between neighbouring columns costs.

    Returns
    -------
    (width,) int32 array
        Row of the line in each column.

    Notes
    -----
    Minimises sum cost[x, y(x)] + sum min(step_cost |y(x+1) - y(x)|, jump_cost)
    exactly, by dynamic programming. The inner minimum over all rows is a lower
    envelope of cones, had by one pass down and one up (Felzenszwalb and
    Huttenlocher, Distance transforms of sampled functions, 2012), so a column
    takes time proportional to its height whatever the jump.
    """
    wanted = np.ascontiguousarray(cost, dtype=np.float32)
    if wanted.ndim != 2 or 0 in wanted.shape:
        raise ValueError(f"cost must be (width, height), got {wanted.shape}")
    if wanted.shape[1] > np.iinfo(np.int16).max:
        raise ValueError(f"at most 32767 rows, got {wanted.shape[1]}")
    line: NDArray[np.int32] = _sweep(
        wanted, np.float32(step_cost), np.float32(jump_cost)
    )
    return line


@numba.njit(cache=True)  # type: ignore[misc,unused-ignore]
def _sweep(cost: Any, step: Any, jump: Any) -> Any:
    width, height = cost.shape
    came = np.empty((width, height), np.int16)
    total = cost[0].copy()
    reach = np.empty(height, np.float32)
    origin = np.empty(height, np.int16)
    for x in range(1, width):
        best = np.float32(np.inf)
        best_row = 0
        running = np.float32(np.inf)
        row = 0
        for y in range(height):
            running += step
            if total[y] <= running:
                running = total[y]
                row = y
                if running < best:
                    best = running
                    best_row = y
            reach[y] = running
            origin[y] = row
        best += jump
        running = np.float32(np.inf)
        row = 0
        for y in range(height - 1, -1, -1):
            running += step
            if total[y] <= running:
                running = total[y]
                row = y
            value = reach[y]
            source = origin[y]
            if running < value:
                value = running
                source = row
            if best < value:
                value = best
                source = best_row
            came[x, y] = source
            total[y] = value + cost[x, y]
    line = np.empty(width, np.int32)
    line[width - 1] = np.argmin(total)
    for x in range(width - 1, 0, -1):
        line[x - 1] = came[x, line[x]]
    return line
