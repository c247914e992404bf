"""Walk eight rays at a time over the bilinear surface to the horizon on each.

*Symbols*: x0, y0, z0 the lens's column, row [cells] and height [m]; dx, dy a ray's
step; t distance along it [cells]; kappa the drop over t squared [m]; A, B, C a cell's
tangent ``A/t + B + C t``; tangents are in metres a cell.
"""

from __future__ import annotations

import numba
import numpy as np

from wherestood.terrain.eights import (
    LANES,
    choose,
    fetch,
    fetch_lids,
    fetch_pairs,
    floor_of,
    greater,
    how_many,
    lesser,
    load,
    one_over_power,
    root_of,
    spread,
    store,
)
from wherestood.terrain.pyramid import FIRST_LEVEL

__all__ = ["fill_horizon", "fill_horizons"]

#: A ray is carried this far past a block's edge, in cells, to be inside the next.
_NUDGE = 1e-7
#: Rays end, and lenses stand, this far inside the grid's edge, in cells, so that
#: rounding never puts a place off it.
_INSIDE = 1e-9
#: One over the step of a ray that runs along a grid line.
_FAR = 1e30
#: Below any tangent there is; stands for "nothing seen yet" inside the kernel.
_LOWEST = -1e20
#: Above any tangent there is; stands for "not to be raised yet".
_HIGHEST = 1e20
#: One over the side of a block of the lowest level; that of a ray among cells is
#: greater.
_FIRST = 0.5**FIRST_LEVEL
#: So many rays wait for their cells to be looked at before it is done ...
_CELLS_FROM = 4
#: ... and so many at least are kept at it.
_CELLS_UNTIL = 3
#: So many rays have ended before others take their lanes.
_ENDED = 2
#: A lane that has run out of rays takes half of those that another has left, if
#: they are more than these.
_LEAST_SHARED = 2


@numba.njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract"})
def _patches(  # type: ignore[no-untyped-def]
    nodes, columns, i, j, on, x0, y0, z0, dx, dy, kappa
):
    """Return A, B, C of the cells at columns i and rows j, where ``on``.

    Along a straight ray the bilinear surface is a quadratic in t. NaN where one
    of a cell's nodes is unknown.
    """
    at = choose(on, j * columns + i, 0.0)
    z00, z01 = fetch_pairs(nodes, at)
    z10, z11 = fetch_pairs(nodes, at + columns)
    east = z01 - z00
    north = z10 - z00
    twist = z11 - z01 - north
    fx = x0 - i
    fy = y0 - j
    return (
        z00 - z0 + east * fx + north * fy + twist * fx * fy,
        east * dx + north * dy + twist * (fx * dy + fy * dx),
        twist * dx * dy - kappa,
    )


@numba.njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract"})
def _raise_in_patches(a, b, c, near, far, on, best, at):  # type: ignore[no-untyped-def]
    """Raise ``best`` to the greatest tangent of patches from ``near`` to ``far``."""
    slack = b - best
    length = far - near
    # Most cells stay below the horizon: this test needs no division, and with an
    # unknown node it is false. A concave quadratic rises above its chord by at
    # most |C| length^2 / 4.
    most = greater(a + (slack + c * near) * near, a + (slack + c * far) * far)
    over = on & (most + greater(0.0 - c, 0.0) * length * length * 0.25 > 0.0)
    if how_many(over) > 0:
        # Where A and C are below 0 the tangent has a summit; else it is greatest at
        # an end.
        where = choose(c * near * far > a, far, near)
        summit = lesser(greater(root_of(a / c), near), far)
        where = choose((a < 0.0) & (c < 0.0), summit, where)
        value = a / where + b + c * where
        more = over & (value > best)
        best = choose(more, value, best)
        at = choose(more, where, at)
    return best, at


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _next_rays(ended, ray, rays, following, last):  # type: ignore[no-untyped-def]
    """Give the lanes that ended a next ray, -1 where none is left; say if any has."""
    any_left = False
    for lane in range(LANES):
        if ended[lane] == 0.0:
            continue
        if following[lane] >= last[lane]:
            longest = 0
            for other in range(1, LANES):
                if last[other] - following[other] > last[longest] - following[longest]:
                    longest = other
            left = last[longest] - following[longest]
            if left > _LEAST_SHARED:
                middle = following[longest] + (left + 1) // 2
                following[lane] = middle
                last[lane] = last[longest]
                last[longest] = middle
        if following[lane] < last[lane]:
            ray[lane] = rays[following[lane]]
            following[lane] += 1
            any_left = True
        else:
            ray[lane] = -1.0
    return any_left


@numba.njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract"})
def fill_horizon(  # type: ignore[no-untyped-def]
    pyramid, x0, y0, z0, sines, cosines, start, stops, kappa, tangent, distance,
    lift, lift_from, raised, rays,
):  # fmt: skip
    """Fill one station's horizon, and ``raised`` unless ``lift`` is None.

    Bearings whose numbers are not among ``rays`` are left without. Returns how many
    blocks and cells were looked at. Each lane walks neighbouring
    bearings one after another, since the place of one's horizon is a good first
    guess of the next one's. Lanes are either among blocks or among cells, and those
    of one kind wait while the other kind is stepped.
    """
    nodes, lids, rows, columns, down, across, top = pyramid
    tangent[:] = -np.inf
    distance[:] = np.nan
    if lift is not None:
        raised[:] = -np.inf
    if not np.isfinite(x0 + y0 + z0) or rays.size == 0:
        return 0
    east_edge = columns - 1.0
    north_edge = rows - 1.0
    if 0.0 <= x0 <= east_edge:
        x0 = min(max(x0, 2.0 * _INSIDE), east_edge - 2.0 * _INSIDE)
    if 0.0 <= y0 <= north_edge:
        y0 = min(max(y0, 2.0 * _INSIDE), north_edge - 2.0 * _INSIDE)
    width = float(columns)
    across_lids = float(across)
    all_rows = 2.0 * down
    rows_back = -2.0 * down / _FIRST
    drop_near = max(kappa, 0.0)
    drop_far = min(kappa, 0.0)
    least_fraction = 0.5**top
    following = np.empty(LANES, dtype=np.int64)
    last = np.empty(LANES, dtype=np.int64)
    for lane in range(LANES):
        following[lane] = lane * rays.size // LANES
        last[lane] = (lane + 1) * rays.size // LANES
    ray = np.full(LANES, -1.0)
    ended = np.empty(LANES)
    found = np.empty((3, LANES))
    # All lanes have ended, and no ray was on them.
    t = spread(1.0)
    stop = spread(0.0)
    end = stop
    leave_cells = stop
    best = spread(_LOWEST)
    above = best
    at = spread(np.nan)
    dx = stop
    dy = stop
    inverse_x = stop
    inverse_y = stop
    ahead_x = stop
    ahead_y = stop
    fraction = stop
    looks = 0
    while True:
        done = t >= stop
        count_done = how_many(done)
        active = t < stop
        count = how_many(active)
        if count_done >= _ENDED or count == 0:
            if count_done == 0:
                break
            if lift is not None:
                # Ground nearer than ``lift_from`` is not raised: a ray ends there
                # once. The horizon's own place, raised, is a good first guess.
                again = done & (stop < end)
                above = choose(
                    again, choose(at >= stop, best + lift / at, _LOWEST), above
                )
                t = choose(again, stop, t)
                stop = choose(again, end, stop)
                fraction = choose(again, _FIRST, fraction)
                done = t >= stop
            if how_many(done) > 0:
                store(choose(done, 1.0, 0.0), ended)
                store(best, found[0])
                store(at, found[1])
                if lift is not None:
                    store(above, found[2])
                for lane in range(LANES):
                    k = int(ray[lane])
                    if ended[lane] != 0.0 and k >= 0:
                        if found[0, lane] > _LOWEST:
                            tangent[k] = found[0, lane]
                            distance[k] = found[1, lane]
                        if lift is not None and _LOWEST < found[2, lane] < _HIGHEST:
                            raised[k] = found[2, lane]
                any_left = _next_rays(ended, ray, rays, following, last)
                t = choose(done, np.nan, t)
                if any_left:
                    number = load(ray)
                    new = done & (number >= 0.0)
                    number = greater(number, 0.0)
                    dx = choose(new, fetch(sines, number), dx)
                    dy = choose(new, fetch(cosines, number), dy)
                    # Along a grid line the far side is put out of reach instead of
                    # divided by 0.
                    inverse_x = choose(dx == 0.0, _FAR, 1.0 / dx)
                    inverse_y = choose(dy == 0.0, _FAR, 1.0 / dy)
                    ahead_x = choose(dx > 0.0, 1.0, choose(dx == 0.0, 2.0, 0.0))
                    ahead_y = choose(dy > 0.0, 1.0, choose(dy == 0.0, 2.0, 0.0))
                    west = (_INSIDE - x0) * inverse_x
                    east = (east_edge - _INSIDE - x0) * inverse_x
                    south = (_INSIDE - y0) * inverse_y
                    north = (north_edge - _INSIDE - y0) * inverse_y
                    begin = greater(
                        greater(lesser(west, east), lesser(south, north)), start
                    )
                    last_t = lesser(
                        lesser(greater(west, east), greater(south, north)),
                        fetch(stops, number),
                    )
                    # One look at the last horizon's distance: what more of them
                    # would gain in blocks skipped, they cost.
                    guess = lesser(greater(at, begin), last_t)
                    some = new & (begin < last_t)
                    a, b, c = _patches(
                        nodes, width, floor_of(x0 + guess * dx),
                        floor_of(y0 + guess * dy), some, x0, y0, z0, dx, dy, kappa,
                    )  # fmt: skip
                    value = a / guess + b + c * guess
                    known = some & (at > 0.0) & (value > _LOWEST)
                    best = choose(new, choose(known, value, _LOWEST), best)
                    at = choose(new, choose(known, guess, np.nan), at)
                    t = choose(new, begin, t)
                    end = choose(new, last_t, end)
                    if lift is None:
                        stop = choose(new, last_t, stop)
                    else:
                        above = choose(new, _HIGHEST, above)
                        part = lesser(greater(begin, lift_from), last_t)
                        stop = choose(new, part, stop)
                    fraction = choose(new, _FIRST, fraction)
            continue
        cell = active & (fraction > _FIRST)
        count_cells = how_many(cell)
        if count_cells >= _CELLS_FROM or count_cells == count:
            while True:
                looks += count_cells
                i = floor_of(x0 + t * dx)
                j = floor_of(y0 + t * dy)
                leave = lesser(
                    (i + ahead_x - x0) * inverse_x, (j + ahead_y - y0) * inverse_y
                )
                leave = lesser(greater(leave, t), leave_cells)
                a, b, c = _patches(nodes, width, i, j, cell, x0, y0, z0, dx, dy, kappa)
                best, at = _raise_in_patches(a, b, c, t, leave, cell, best, at)
                if lift is not None:
                    above, _ = _raise_in_patches(
                        a + lift, b, c, t, leave, cell, above, at
                    )
                t = choose(cell, leave + _NUDGE, t)
                fraction = choose(cell & (t >= leave_cells), _FIRST, fraction)
                cell = cell & (t < leave_cells)
                count_cells = how_many(cell)
                if count_cells < _CELLS_UNTIL and count_cells < count:
                    break
        else:
            # The lid along the ray is A + B t; it is under the horizon from t to
            # leave if it is at both ends, the drop being at least as much as
            # its least slope.
            looks += count - count_cells
            block = active & (fraction <= _FIRST)
            side = one_over_power(fraction)
            i = floor_of((x0 + t * dx) * fraction)
            j = floor_of((y0 + t * dy) * fraction)
            leave = lesser(
                ((i + ahead_x) * side - x0) * inverse_x,
                ((j + ahead_y) * side - y0) * inverse_y,
            )
            leave = lesser(greater(leave, t), stop)
            place = (j + fraction * rows_back + all_rows) * across_lids + i
            height, east, north = fetch_lids(lids, choose(block, place, 0.0))
            a = height - z0 + east * (x0 - i * side) + north * (y0 - j * side)
            b = east * dx + north * dy - drop_near * t - drop_far * leave
            if lift is None:
                b = b - best
                most = greater(a + b * t, a + b * leave)
            else:
                # Under both horizons: the lower of the two lines at either end.
                most = greater(
                    a + b * t - lesser(best * t, above * t - lift),
                    a + b * leave - lesser(best * leave, above * leave - lift),
                )
            under = most <= 0.0
            t = choose(block & under, leave + _NUDGE, t)
            leave_cells = choose(block, leave, leave_cells)
            step = choose(under, fraction * 0.5, fraction + fraction)
            fraction = choose(block, greater(step, least_fraction), fraction)
    return looks


@numba.njit(cache=True, nogil=True, parallel=True, error_model="numpy")
def fill_horizons(  # type: ignore[no-untyped-def]
    pyramid, x, y, z, sines, cosines, start, stops, kappa, tangent, distance, lift,
    lift_from, raised, wanted,
):  # fmt: skip
    """Fill the horizons of several stations, one to a thread.

    Bearings that are not ``wanted`` are left without; None for all.
    """
    every = np.arange(sines.size)
    for s in numba.prange(x.size):
        if wanted is None:
            fill_horizon(
                pyramid, x[s], y[s], z[s], sines, cosines, start, stops, kappa,
                tangent[s], distance[s], lift, lift_from, raised[s], every,
            )  # fmt: skip
        else:
            fill_horizon(
                pyramid, x[s], y[s], z[s], sines, cosines, start, stops, kappa,
                tangent[s], distance[s], lift, lift_from, raised[s],
                np.flatnonzero(wanted[s]),
            )  # fmt: skip
