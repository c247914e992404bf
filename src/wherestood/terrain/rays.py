"""Say where a ray lies over the grid, and what it meets in one cell.

*Symbols*: x0, y0, z0 the lens's column, row [cells] and height [m]; dx, dy a ray's
step; t distance along it [cells]; kappa the drop over t squared [m].
"""

from __future__ import annotations

import numba
import numpy as np
from numpy.typing import NDArray

__all__ = ["clip_to_grid", "patch", "ray_steps"]

#: A ray this near to a grid line's bearing runs along it [rad].
_ALONG_RAD = 1e-9


@numba.njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract"})
def clip_to_grid(  # type: ignore[no-untyped-def]
    rows, columns, x0, y0, dx, dy, start, stop
):
    """Return the stretch of a ray that lies over the grid; lengths in cells."""
    for origin, step, last in ((x0, dx, columns - 1), (y0, dy, rows - 1)):
        if step == 0.0:
            if origin < 0.0 or origin > last:
                return start, start
        else:
            one = -origin / step
            other = (last - origin) / step
            start = max(start, min(one, other))
            stop = min(stop, max(one, other))
    return start, stop


@numba.njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract"})
def patch(nodes, i, j, x0, y0, z0, dx, dy, kappa):  # type: ignore[no-untyped-def]
    """Return A, B, C of a cell: its tangent at distance t is ``A/t + B + C t``.

    Along a straight ray the bilinear surface is a quadratic in t. NaN where one
    of the cell's nodes is unknown.
    """
    z00 = np.float64(nodes[np.uint64(j), np.uint64(i)])
    z01 = np.float64(nodes[np.uint64(j), np.uint64(i + 1)])
    z10 = np.float64(nodes[np.uint64(j + 1), np.uint64(i)])
    z11 = np.float64(nodes[np.uint64(j + 1), np.uint64(i + 1)])
    east = z01 - z00
    north = z10 - z00
    twist = z11 - z01 - north
    fx = x0 - i
    fy = y0 - j
    return (
        z00 + east * fx + north * fy + twist * fx * fy - z0,
        east * dx + north * dy + twist * (fx * dy + fy * dx),
        twist * dx * dy - kappa,
    )


def ray_steps(
    bearings_rad: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the east and north steps of rays, no unit.

    A ray within a billionth of a radian of a grid line is put on it: it would
    otherwise come to the line's other side only by rounding, and crawl.
    """
    bearings_rad = np.atleast_1d(bearings_rad)
    east, north = np.sin(bearings_rad), np.cos(bearings_rad)
    for step in (east, north):
        step[np.abs(step) < _ALONG_RAD] = 0.0
    return east, north
