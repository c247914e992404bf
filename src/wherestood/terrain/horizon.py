"""Compute the horizon seen from a station, exactly on the bilinear surface."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numba
import numpy as np
from numpy.typing import NDArray

from wherestood.terrain.model import Terrain
from wherestood.terrain.pyramid import Pyramid, build_pyramid

__all__ = ["HorizonModel", "Horizons", "nearest_start_m"]

#: A ray starts no nearer than this: closer ground is noise, not horizon [m].
NEAREST_M = 60.0
#: ... nor nearer than this many cells.
NEAREST_CELLS = 1.5
#: A ray is carried this far past a block's edge, in cells, to be inside the next.
_NUDGE = 1e-7


def nearest_start_m(cell_m: float) -> float:
    """Return the distance at which rays start, for a cell size [m]."""
    return max(NEAREST_CELLS * cell_m, NEAREST_M)


@dataclass(frozen=True)
class Horizons:
    """Hold the horizons of several stations.

    Attributes
    ----------
    tangent : (stations, bearings) float64 array
        Tangent of the horizon's elevation above the horizontal at the lens.
    distance_m : (stations, bearings) float64 array
        Distance at which it occurs [m].
    """

    tangent: NDArray[np.float64]
    distance_m: NDArray[np.float64]


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _height(nodes, x, y):  # type: ignore[no-untyped-def]
    i = int(x)
    j = int(y)
    fx = x - i
    fy = y - j
    low = nodes[j, i] * (1.0 - fx) + nodes[j, i + 1] * fx
    high = nodes[j + 1, i] * (1.0 - fx) + nodes[j + 1, i + 1] * fx
    return low * (1.0 - fy) + high * fy


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _ray(  # type: ignore[no-untyped-def]
    nodes,
    maxima,
    offsets,
    widths,
    top,
    x0,
    y0,
    z0,
    dx,
    dy,
    start,
    stop,
    kappa,
    best,
    at,
):
    """Raise ``best`` to the greatest tangent along one ray; lengths in cells."""
    last_i = nodes.shape[1] - 2
    last_j = nodes.shape[0] - 2
    inverse_x = 1.0 / dx if dx != 0.0 else 1e30
    inverse_y = 1.0 / dy if dy != 0.0 else 1e30
    ahead_x = 1 if dx > 0.0 else 0
    ahead_y = 1 if dy > 0.0 else 0
    if dx > 0.0:
        stop = min(stop, (last_i + 1 - x0) * inverse_x)
    elif dx < 0.0:
        stop = min(stop, -x0 * inverse_x)
    if dy > 0.0:
        stop = min(stop, (last_j + 1 - y0) * inverse_y)
    elif dy < 0.0:
        stop = min(stop, -y0 * inverse_y)
    t = start
    level = top
    while t < stop:
        i = min(max(int(x0 + t * dx), 0), last_i)
        j = min(max(int(y0 + t * dy), 0), last_j)
        while True:
            leave = 1e30
            if dx != 0.0:
                leave = ((((i >> level) + ahead_x) << level) - x0) * inverse_x
            if dy != 0.0:
                leave = min(
                    leave, ((((j >> level) + ahead_y) << level) - y0) * inverse_y
                )
            if level == 0:
                break
            rise = (
                maxima[offsets[level] + (j >> level) * widths[level] + (i >> level)]
                - z0
            )
            # Greatest tangent the block can show: its top at the near edge when
            # above the lens, at the far edge when below; the drop is least near.
            where = t if rise >= 0.0 else max(leave, t)
            if rise <= (best + kappa * t) * where:
                break
            level -= 1
        leave = min(max(leave, t), stop)
        if level == 0:
            # Along a ray the bilinear patch is a quadratic A + B t + C t^2.
            z00 = nodes[j, i]
            a1 = nodes[j, i + 1] - z00
            a2 = nodes[j + 1, i] - z00
            a3 = nodes[j + 1, i + 1] - nodes[j, i + 1] - a2
            fx = x0 - i
            fy = y0 - j
            a = z00 + a1 * fx + a2 * fy + a3 * fx * fy - z0
            b = a1 * dx + a2 * dy + a3 * (fx * dy + fy * dx)
            c = a3 * dx * dy - kappa
            value = a / t + b + c * t
            if value > best:
                best = value
                at = t
            value = a / leave + b + c * leave
            if value > best:
                best = value
                at = leave
            if a < 0.0 and c < 0.0:
                summit = sqrt(a / c)
                if t < summit < leave:
                    value = a / summit + b + c * summit
                    if value > best:
                        best = value
                        at = summit
            level = 1
        elif level < top:
            level += 1
        t = leave + _NUDGE
    return best, at


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _first_guess(nodes, x0, y0, z0, dx, dy, start, stop, kappa, at):  # type: ignore[no-untyped-def]
    """Return the tangent of this ray's ground near the neighbour's horizon."""
    best = -1e30
    where = at
    step = 0.5
    for turn in range(9):
        t = at + (turn - 4) * step
        if t < start or t > stop:
            continue
        x = x0 + t * dx
        y = y0 + t * dy
        if x < 0.0 or y < 0.0 or x >= nodes.shape[1] - 1 or y >= nodes.shape[0] - 1:
            continue
        value = (_height(nodes, x, y) - z0) / t - kappa * t
        if value > best:
            best = value
            where = t
    return best, where


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _one_station(  # type: ignore[no-untyped-def]
    nodes,
    maxima,
    offsets,
    widths,
    top,
    x0,
    y0,
    z0,
    sines,
    cosines,
    start,
    stop,
    kappa,
    tangent,
    distance,
):
    at = -1.0
    for k in range(sines.size):
        dx = sines[k]
        dy = cosines[k]
        best = -1e30
        where = start
        if at > 0.0:
            best, where = _first_guess(
                nodes, x0, y0, z0, dx, dy, start, stop, kappa, at
            )
        best, at = _ray(
            nodes,
            maxima,
            offsets,
            widths,
            top,
            x0,
            y0,
            z0,
            dx,
            dy,
            start,
            stop,
            kappa,
            best,
            where,
        )
        tangent[k] = best
        distance[k] = at


@numba.njit(cache=True, nogil=True, parallel=True, error_model="numpy")
def _many_stations(  # type: ignore[no-untyped-def]
    nodes,
    maxima,
    offsets,
    widths,
    top,
    x,
    y,
    z,
    sines,
    cosines,
    start,
    stop,
    kappa,
    tangent,
    distance,
):
    for s in numba.prange(x.size):
        _one_station(
            nodes,
            maxima,
            offsets,
            widths,
            top,
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
            Tangent -1e30 where a ray leaves the grid before it starts.

        Notes
        -----
        Maximises ``(z - z_s - (1-k) d^2 / 2R) / d`` on the bilinear surface: a
        block of cells whose highest node cannot rise above the horizon found so
        far is skipped, a cell that can is solved in closed form.
        """
        terrain = self.terrain
        cell = terrain.cell_m
        start = nearest_start_m(cell) if nearest_m is None else nearest_m
        shape = (np.size(east_m), np.size(bearings_rad))
        tangent = np.empty(shape)
        distance = np.empty(shape)
        _many_stations(
            self.pyramid.nodes,
            self.pyramid.maxima,
            self.pyramid.offsets,
            self.pyramid.widths,
            self.pyramid.top,
            (np.atleast_1d(east_m) - terrain.west_m) / cell,
            (np.atleast_1d(north_m) - terrain.south_m) / cell,
            np.atleast_1d(np.asarray(height_m, dtype=np.float64)),
            np.sin(bearings_rad),
            np.cos(bearings_rad),
            start / cell,
            farthest_m / cell,
            self.curvature_per_m * cell * cell,
            tangent,
            distance,
        )
        tangent /= cell
        distance *= cell
        return Horizons(tangent, distance)
