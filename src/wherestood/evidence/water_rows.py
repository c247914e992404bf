"""Compare points on the edge of a water with one camera.

Symbols
-------
T : tangent of elevation of a point, as the camera gives it
t(az) : tangent of the water's edge in that direction

The residual is ``r = T - t(az)``. The level of the water is one error of all its
points, and of all items that name it.
"""

from __future__ import annotations

from math import floor, log, pi, sqrt

import numba

from wherestood.evidence.mark_rows import seen_from_plate
from wherestood.evidence.unknowns import CAMERA, COUNT

__all__ = ["LEVEL", "NO_EDGE", "water_point", "weigh_water"]

#: Columns of a water's edge by bearing: tangent (`NO_EDGE` for none), its change with
#: the bearing, with the station's east and north, with cover, with the lens's own
#: error, with refraction, and with the shared errors of its level and its shore.
LEVEL = 9
#: Tangent where there is no edge: a number, since kernels that are compiled for speed
#: cannot tell what is none.
NO_EDGE = -1e6

_REFRACTION, _EAST, _NORTH = COUNT - 3, COUNT - 2, COUNT - 1


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _at_bearing(table, azimuth, level):  # type: ignore[no-untyped-def]
    """Fill a water's edge at a bearing; return whether there is any."""
    bearings = table.shape[0]
    position = azimuth / (2.0 * pi)
    position = (position - floor(position)) * bearings
    i = int(position)
    if i >= bearings:
        i = 0
        position -= bearings
    part = position - i
    j = i + 1 if i + 1 < bearings else 0
    if table[i, 0] <= NO_EDGE:
        i = j
    if table[j, 0] <= NO_EDGE:
        j = i
    if table[i, 0] <= NO_EDGE:
        return False
    for column in range(LEVEL):
        level[column] = table[i, column] * (1.0 - part) + table[j, column] * part
    return True


@numba.njit(cache=True, nogil=True, error_model="numpy")
def water_point(theta, point, table, rows, level, found):  # type: ignore[no-untyped-def]
    """Fill residual and derivatives of a point; return whether there is water there.

    ``found`` receives the residual and its change with X and Y.
    """
    alpha, tangent, a_x, a_y, t_x, t_y = seen_from_plate(theta, point, rows)
    there = _at_bearing(table, theta[0] + alpha, level)
    if not there:
        for column in range(LEVEL):
            level[column] = 0.0
    found[0] = tangent - level[0]
    found[1] = t_x - level[1] * a_x
    found[2] = t_y - level[1] * a_y
    for p in range(CAMERA):
        rows[0, p] = rows[1, p] - level[1] * rows[0, p]
    for p in range(CAMERA, COUNT):
        rows[0, p] = 0.0
    rows[0, _EAST] = -level[2]
    rows[0, _NORTH] = -level[3]
    rows[0, CAMERA] = -level[4]
    rows[0, _REFRACTION] = -level[6]
    return there


@numba.njit(cache=True, nogil=True, error_model="numpy")
def weigh_water(theta, item, points, table, wider, rows, level, found):  # type: ignore[no-untyped-def]
    """Return the log density of a water's points together, and their mean square.

    Its level, its shore and the lens are one error here: nearly alike for all points.
    The squares are over the variances of all but these.
    """
    first = int(item[1])
    logs = item[3]
    squares = 0.0
    between = 1.0
    pull = 0.0
    for n in range(first, first + int(item[2])):
        if not water_point(theta, points[n], table, rows, level, found):
            return -1e300, 1e300
        noise = points[n, 2] * points[n, 2]
        own = noise * (found[1] * found[1] + found[2] * found[2]) + wider * wider
        off = found[0]
        for p in range(CAMERA, COUNT):
            off += rows[0, p] * theta[p]
        shared = level[5] * level[5] + level[7] * level[7] + level[8] * level[8]
        logs += log(abs(found[2])) - 0.5 * log(2.0 * pi * own)
        squares += off * off / own
        between += shared / own
        pull += sqrt(shared) * off / own
    mean = squares / item[2]
    return logs - 0.5 * (squares - pull * pull / between + log(between)), mean
