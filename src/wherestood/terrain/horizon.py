"""Compute the horizon seen from a station, exactly on the bilinear surface."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numba
import numpy as np
from numpy.typing import NDArray

from wherestood.terrain.model import Terrain
from wherestood.terrain.pyramid import FIRST_LEVEL, Pyramid, build_pyramid

__all__ = ["HorizonModel", "Horizons", "nearest_start_m"]

#: A ray starts no nearer than this: closer ground is noise, not horizon [m].
NEAREST_M = 60.0
#: ... nor nearer than this many cells.
NEAREST_CELLS = 1.5
#: A ray is carried this far past a block's edge, in cells, to be inside the next.
_NUDGE = 1e-7
#: A ray this near to a grid line's bearing runs along it [rad].
_ALONG_RAD = 1e-9
#: One over the step of a ray that runs along a grid line.
_FAR = 1e30
#: Below any tangent there is; stands for "nothing seen yet" inside the kernel.
_LOWEST = -1e20


def nearest_start_m(cell_m: float) -> float:
    """Return the distance at which rays start, for a cell size [m]."""
    return max(NEAREST_CELLS * cell_m, NEAREST_M)


@dataclass(frozen=True)
class Horizons:
    """Hold the horizons of several stations.

    Attributes
    ----------
    tangent : (stations, bearings) float64 array
        Tangent of the horizon's elevation above the horizontal at the lens; -inf
        where a ray meets no known ground.
    distance_m : (stations, bearings) float64 array
        Distance at which it occurs [m]; NaN where there is none.
    """

    tangent: NDArray[np.float64]
    distance_m: NDArray[np.float64]


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
    pyramid, x0, y0, z0, dx, dy, start, stop, kappa, best, at
):
    """Raise ``best`` to the greatest tangent along one ray; lengths in cells.

    Returns it, its distance, and how many blocks and cells were looked at.
    """
    nodes, lids, offsets, widths, top = pyramid
    last_i = nodes.shape[1] - 2
    last_j = nodes.shape[0] - 2
    # Along a grid line the far side is put out of reach instead of divided by 0.
    inverse_x = 1.0 / dx if dx != 0.0 else _FAR
    inverse_y = 1.0 / dy if dy != 0.0 else _FAR
    ahead_x = 1 if dx > 0.0 else (2 if dx == 0.0 else 0)
    ahead_y = 1 if dy > 0.0 else (2 if dy == 0.0 else 0)
    drop_near = max(kappa, 0.0)
    drop_far = min(kappa, 0.0)
    t = start
    level = FIRST_LEVEL
    looks = 0
    while t < stop:
        i = min(max(int(x0 + t * dx), 0), last_i)
        j = min(max(int(y0 + t * dy), 0), last_j)
        while True:
            # The lid along the ray is A + B t; it is under the horizon from t to
            # leave if it is at both ends, the drop being at least as much as
            # its least slope.
            looks += 1
            x = x0 - ((i >> level) << level)
            y = y0 - ((j >> level) << level)
            leave = min(
                ((ahead_x << level) - x) * inverse_x,
                ((ahead_y << level) - y) * inverse_y,
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
            b = east * dx + north * dy - best - drop_near * t - drop_far * leave
            if max(a + b * t, a + b * leave) <= 0.0:
                t = leave + _NUDGE
                level = min(level + 1, top)
                break
            if level > FIRST_LEVEL:
                level -= 1
                continue
            out = min(leave, stop)
            while True:
                looks += 1
                leave = min(
                    (ahead_x - (x0 - i)) * inverse_x, (ahead_y - (y0 - j)) * inverse_y
                )
                leave = min(max(leave, t), out)
                a, b, c = patch(nodes, i, j, x0, y0, z0, dx, dy, kappa)
                best, at = _raise_in_patch(a, b, c, t, leave, best, at)
                t = leave + _NUDGE
                if t >= out:
                    break
                i = min(max(int(x0 + t * dx), 0), last_i)
                j = min(max(int(y0 + t * dy), 0), last_j)
            break
    return best, at, looks


@numba.njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract"})
def _first_guess(  # type: ignore[no-untyped-def]
    nodes, x0, y0, z0, dx, dy, start, stop, kappa, near
):
    """Return the greatest tangent of this ray's ground near a distance."""
    best = -np.inf
    at = np.nan
    for turn in range(5):
        t = min(max(near + (turn - 2) * 0.5, start), stop)
        i = min(max(int(x0 + t * dx), 0), nodes.shape[1] - 2)
        j = min(max(int(y0 + t * dy), 0), nodes.shape[0] - 2)
        a, b, c = patch(nodes, i, j, x0, y0, z0, dx, dy, kappa)
        value = a / t + b + c * t
        if value > best:
            best = value
            at = t
    return best, at


@numba.njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract"})
def _one_station(  # type: ignore[no-untyped-def]
    pyramid, x0, y0, z0, sines, cosines, start, stop, kappa, tangent, distance
):
    nodes = pyramid[0]
    tangent[:] = -np.inf
    distance[:] = np.nan
    if not np.isfinite(x0 + y0 + z0):
        return 0
    at = np.nan
    all_looks = 0
    for k in range(sines.size):
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
        if best == -np.inf:
            # The lids need a number to be compared with.
            best = _LOWEST
            at = np.nan
        best, at, looks = _ray(pyramid, x0, y0, z0, dx, dy, begin, end, kappa, best, at)
        if best > _LOWEST:
            tangent[k] = best
            distance[k] = at
        all_looks += looks
    return all_looks


@numba.njit(cache=True, nogil=True, parallel=True, error_model="numpy")
def _many_stations(  # type: ignore[no-untyped-def]
    pyramid, x, y, z, sines, cosines, start, stop, kappa, tangent, distance
):
    for s in numba.prange(x.size):
        _one_station(
            pyramid,
            x[s],
            y[s],
            z[s],
            sines,
            cosines,
            start,
            stop,
            kappa,
            tangent[s],
            distance[s],
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


@dataclass(frozen=True)
class HorizonModel:
    """Be a terrain made ready for horizons.

    Attributes
    ----------
    terrain : Terrain
    pyramid : Pyramid
    radius_m : float
        Local mean radius of curvature of the earth [m].
    """

    terrain: Terrain
    pyramid: Pyramid
    radius_m: float = 6_371_000.0

    @classmethod
    def of(cls, terrain: Terrain, radius_m: float = 6_371_000.0) -> HorizonModel:
        """Prepare a terrain."""
        return cls(terrain, build_pyramid(terrain.elevation_m), radius_m)

    @property
    def curvature_per_m(self) -> float:
        """Drop over distance squared, ``(1 - k) / 2R`` [1/m]."""
        return (1.0 - self.terrain.refraction) / (2.0 * self.radius_m)

    def horizons(
        self,
        east_m: NDArray[np.float64],
        north_m: NDArray[np.float64],
        height_m: NDArray[np.float64],
        bearings_rad: NDArray[np.float64],
        *,
        nearest_m: float | None = None,
        farthest_m: float = 30_000.0,
    ) -> Horizons:
        """Return the horizons of stations.

        Parameters
        ----------
        east_m, north_m, height_m : (stations,) float64 array
            Lens positions in the terrain's frame and datum [m].
        bearings_rad : (bearings,) float64 array
            Grid bearings, clockwise from grid north [rad]; neighbours in order
            make it faster.
        nearest_m : float, optional
            Distance at which rays start [m]; `nearest_start_m` by default.
        farthest_m : float
            Distance at which they stop, or where the grid ends [m].

        Returns
        -------
        Horizons

        Raises
        ------
        ValueError
            If a bearing is not a number, or ``nearest_m`` is not above 0.

        Notes
        -----
        Maximises ``(z - z_s - (1-k) d^2 / 2R) / d`` on the bilinear surface: a
        block of cells under a plane that cannot rise above the horizon found so
        far is skipped, a cell that can is solved in closed form.

        A cell with an unknown node cannot be a horizon: where a ray crosses a
        hole, what is returned is the horizon of the known ground alone. A station
        off the grid sees the grid from where its rays enter it. Runs on numba's
        threads, a station at a time.
        """
        terrain = self.terrain
        cell = terrain.cell_m
        start = nearest_start_m(cell) if nearest_m is None else nearest_m
        shape = (np.size(east_m), np.size(bearings_rad))
        tangent = np.empty(shape)
        distance = np.empty(shape)
        if not start > 0.0:
            raise ValueError(f"a ray must start beyond 0 m, not at {start} m")
        if not np.isfinite(bearings_rad).all():
            raise ValueError("every bearing must be a number")
        pyramid = self.pyramid
        _many_stations(
            (
                pyramid.nodes,
                pyramid.lids,
                pyramid.offsets,
                pyramid.widths,
                pyramid.top,
            ),
            (np.atleast_1d(east_m) - terrain.west_m) / cell,
            (np.atleast_1d(north_m) - terrain.south_m) / cell,
            np.atleast_1d(np.asarray(height_m, dtype=np.float64)),
            *ray_steps(bearings_rad),
            start / cell,
            farthest_m / cell,
            self.curvature_per_m * cell * cell,
            tangent,
            distance,
        )
        tangent /= cell
        distance *= cell
        return Horizons(tangent, distance)
