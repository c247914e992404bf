"""Walk rays over the bilinear surface to the horizon on each.

*Symbols*: x0, y0, z0 the lens's column, row [cells] and height [m]; dx, dy a ray's
step; t distance along it [cells]; kappa the drop over t squared [m]; tangents are in
metres a cell.
"""

from __future__ import annotations

from math import sqrt

import numba
import numpy as np
from numpy.typing import NDArray

from wherestood.terrain.pyramid import FIRST_LEVEL

__all__ = ["clip_to_grid", "fill_horizon", "fill_horizons", "patch", "ray_steps"]

#: A ray is carried this far past a block's edge, in cells, to be inside the next.
_NUDGE = 1e-7
#: A ray this near to a grid line's bearing runs along it [rad].
_ALONG_RAD = 1e-9
#: One over the step of a ray that runs along a grid line.
_FAR = 1e30
#: Below any tangent there is; stands for "nothing seen yet" inside the kernel.
_LOWEST = -1e20


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


@numba.njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract"})
def _raise_in_patch(a, b, c, near, far, best, at):  # type: ignore[no-untyped-def]
    """Raise ``best`` to the greatest tangent of a patch from ``near`` to ``far``."""
    slack = b - best
    length = far - near
    # Most cells stay below the horizon: this test needs no division, and with an
    # unknown node it is false. A concave quadratic rises above its chord by at
    # most |C| length^2 / 4.
    most = max(a + (slack + c * near) * near, a + (slack + c * far) * far)
    if most + max(-c, 0.0) * length * length * 0.25 > 0.0:
        value = a / near + b + c * near
        if value > best:
            best = value
            at = near
        value = a / far + b + c * far
        if value > best:
            best = value
            at = far
        if a < 0.0 and c < 0.0:
            summit = sqrt(a / c)
            if near < summit < far:
                value = a / summit + b + c * summit
                if value > best:
                    best = value
                    at = summit
    return best, at


@numba.njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract"})
def _ray(  # type: ignore[no-untyped-def]
    pyramid, x0, y0, z0, dx, dy, start, stop, kappa, best, at, lift, above
):
    """Raise ``best`` to the greatest tangent along one ray; lengths in cells.

    With a ``lift`` ``above`` too is raised, to the greatest tangent were all the
    ground that much higher; with None the compiler leaves that out. Returns
    ``best``, its distance, ``above``, and how many blocks and cells were looked at.
    """
    nodes, lids, offsets, widths, top = pyramid
    last_i = nodes.shape[1] - 2
    last_j = nodes.shape[0] - 2
    # Along a grid line the far side is put out of reach instead of divided by 0.
    inverse_x = 1.0 / dx if dx != 0.0 else _FAR
    inverse_y = 1.0 / dy if dy != 0.0 else _FAR
    ahead_x = 1.0 if dx > 0.0 else (2.0 if dx == 0.0 else 0.0)
    ahead_y = 1.0 if dy > 0.0 else (2.0 if dy == 0.0 else 0.0)
    drop_near = max(kappa, 0.0)
    drop_far = min(kappa, 0.0)
    t = start
    level = FIRST_LEVEL
    size = float(1 << level)
    fraction = 1.0 / size
    looks = 0
    while t < stop:
        # Where a ray leaves a block is found in floats: each next look waits for
        # it, and turning floats into integers and back would double the wait.
        x_at = x0 + t * dx
        y_at = y0 + t * dy
        i = min(max(int(x_at), 0), last_i)
        j = min(max(int(y_at), 0), last_j)
        while True:
            # The lid along the ray is A + B t; it is under the horizon from t to
            # leave if it is at both ends, the drop being at least as much as
            # its least slope.
            looks += 1
            x = x0 - ((i >> level) << level)
            y = y0 - ((j >> level) << level)
            leave = min(
                ((np.floor(x_at * fraction) + ahead_x) * size - x0) * inverse_x,
                ((np.floor(y_at * fraction) + ahead_y) * size - y0) * inverse_y,
            )
            leave = max(leave, t)
            block = np.uint64(
                offsets[np.uint64(level)]
                + (j >> level) * widths[np.uint64(level)]
                + (i >> level)
            )
            east = lids[block, np.uint64(1)]
            north = lids[block, np.uint64(2)]
            a = lids[block, np.uint64(0)] + east * x + north * y - z0
            b = east * dx + north * dy - drop_near * t - drop_far * leave
            if lift is None:
                b -= best
                most = max(a + b * t, a + b * leave)
            else:
                # Under both horizons: the lower of the two lines at either end.
                most = max(
                    a + b * t - min(best * t, above * t - lift),
                    a + b * leave - min(best * leave, above * leave - lift),
                )
            if most <= 0.0:
                t = leave + _NUDGE
                if level < top:
                    level += 1
                    size *= 2.0
                    fraction *= 0.5
                break
            if level > FIRST_LEVEL:
                level -= 1
                size *= 0.5
                fraction *= 2.0
                continue
            out = min(leave, stop)
            while True:
                looks += 1
                leave = min(
                    (np.floor(x_at) + ahead_x - x0) * inverse_x,
                    (np.floor(y_at) + ahead_y - y0) * inverse_y,
                )
                leave = min(max(leave, t), out)
                a, b, c = patch(nodes, i, j, x0, y0, z0, dx, dy, kappa)
                best, at = _raise_in_patch(a, b, c, t, leave, best, at)
                if lift is not None:
                    above, _ = _raise_in_patch(a + lift, b, c, t, leave, above, at)
                t = leave + _NUDGE
                if t >= out:
                    break
                x_at = x0 + t * dx
                y_at = y0 + t * dy
                i = min(max(int(x_at), 0), last_i)
                j = min(max(int(y_at), 0), last_j)
            break
    return best, at, above, looks


@numba.njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract"})
def _first_guess(  # type: ignore[no-untyped-def]
    nodes, x0, y0, z0, dx, dy, start, stop, kappa, near
):
    """Return the tangent of this ray's ground at a distance, and the distance.

    One look: what more of them would gain in blocks skipped, they cost.
    """
    t = min(max(near, start), stop)
    i = min(max(int(x0 + t * dx), 0), nodes.shape[1] - 2)
    j = min(max(int(y0 + t * dy), 0), nodes.shape[0] - 2)
    a, b, c = patch(nodes, i, j, x0, y0, z0, dx, dy, kappa)
    return a / t + b + c * t, t


@numba.njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract"})
def fill_horizon(  # type: ignore[no-untyped-def]
    pyramid, x0, y0, z0, sines, cosines, start, stop, kappa, tangent, distance,
    lift, lift_from, raised, wanted,
):  # fmt: skip
    """Fill one station's horizon, and ``raised`` unless ``lift`` is None.

    Bearings that are not ``wanted`` are left without; None for all.
    """
    nodes = pyramid[0]
    tangent[:] = -np.inf
    distance[:] = np.nan
    if lift is not None:
        raised[:] = -np.inf
    if not np.isfinite(x0 + y0 + z0):
        return 0
    at = np.nan
    all_looks = 0
    for k in range(sines.size):
        if wanted is not None:  # noqa: SIM102 - the outer one is settled in compiling
            if not wanted[k]:
                continue
        dx = sines[k]
        dy = cosines[k]
        begin, end = clip_to_grid(
            nodes.shape[0], nodes.shape[1], x0, y0, dx, dy, start, stop
        )
        if begin >= end:
            continue
        best = -np.inf
        if at > 0.0:
            best, at = _first_guess(nodes, x0, y0, z0, dx, dy, begin, end, kappa, at)
        if not best > _LOWEST:
            # The lids need a number to be compared with.
            best = _LOWEST
            at = np.nan
        if lift is None:
            best, at, _, looks = _ray(
                pyramid, x0, y0, z0, dx, dy, begin, end, kappa, best, at, None, 0.0
            )
        else:
            # Ground nearer than ``lift_from`` is not raised.
            middle = min(max(begin, lift_from), end)
            best, at, _, near_looks = _ray(
                pyramid, x0, y0, z0, dx, dy, begin, middle, kappa, best, at, None, 0.0
            )
            # The horizon's own place, raised, is a good first guess.
            above = best + lift / at if end > middle and at >= middle else _LOWEST
            best, at, above, looks = _ray(
                pyramid, x0, y0, z0, dx, dy, middle, end, kappa, best, at, lift, above
            )
            looks += near_looks
            if above > _LOWEST:
                raised[k] = above
        if best > _LOWEST:
            tangent[k] = best
            distance[k] = at
        all_looks += looks
    return all_looks


@numba.njit(cache=True, nogil=True, parallel=True, error_model="numpy")
def fill_horizons(  # type: ignore[no-untyped-def]
    pyramid, x, y, z, sines, cosines, start, stop, kappa, tangent, distance, lift,
    lift_from, raised, wanted,
):  # fmt: skip
    """Fill the horizons of several stations, one to a thread."""
    for s in numba.prange(x.size):
        if wanted is None:
            fill_horizon(
                pyramid, x[s], y[s], z[s], sines, cosines, start, stop, kappa,
                tangent[s], distance[s], lift, lift_from, raised[s], None,
            )  # fmt: skip
        else:
            fill_horizon(
                pyramid, x[s], y[s], z[s], sines, cosines, start, stop, kappa,
                tangent[s], distance[s], lift, lift_from, raised[s], wanted[s],
            )  # fmt: skip


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
