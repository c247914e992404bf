"""Compute the horizon seen from a station, exactly on the bilinear surface."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.terrain.eight_rays import fill_horizons
from wherestood.terrain.model import Terrain
from wherestood.terrain.pyramid import Pyramid, build_pyramid
from wherestood.terrain.rays import ray_steps

__all__ = ["HorizonModel", "Horizons", "nearest_start_m"]

#: A ray starts no nearer than this: closer ground is noise, not horizon [m].
NEAREST_M = 60.0
#: ... nor nearer than this many cells.
NEAREST_CELLS = 1.5


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
        wanted: NDArray[np.bool_] | None = None,
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
        wanted : (stations, bearings) bool array, optional
            Bearings to look at; the others come out as if nothing were known there.

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
        found, _ = self._horizons(
            east_m, north_m, height_m, bearings_rad, nearest_m, farthest_m, None, wanted
        )
        return found

    def horizons_and_raised(
        self,
        east_m: NDArray[np.float64],
        north_m: NDArray[np.float64],
        height_m: NDArray[np.float64],
        bearings_rad: NDArray[np.float64],
        *,
        lift_m: float,
        lift_from_m: float,
        nearest_m: float | None = None,
        farthest_m: float = 30_000.0,
        wanted: NDArray[np.bool_] | None = None,
    ) -> tuple[Horizons, NDArray[np.float64]]:
        """Return horizons, and what they would be were the ground higher.

        One walk for both takes some two thirds of two.

        Parameters
        ----------
        lift_m : float
            How much higher the ground is taken, not below 0 [m].
        lift_from_m : float
            Nearer ground is left out of the second horizon [m].

        Returns
        -------
        horizons : Horizons
            As `horizons` gives them; the other parameters are its own.
        raised : (stations, bearings) float64 array
            Tangent of the horizon of the raised ground, from the lens where it is;
            -inf where a ray meets none beyond ``lift_from_m``.

        Raises
        ------
        ValueError
            If a bearing is not a number, ``nearest_m`` is not above 0, or ``lift_m``
            is below it.
        """
        if not lift_m >= 0.0:
            raise ValueError(f"the ground must be raised by 0 m or more, not {lift_m}")
        found, raised = self._horizons(
            east_m,
            north_m,
            height_m,
            bearings_rad,
            nearest_m,
            farthest_m,
            (float(lift_m), float(lift_from_m)),
            wanted,
        )
        return found, raised

    def _horizons(
        self,
        east_m: NDArray[np.float64],
        north_m: NDArray[np.float64],
        height_m: NDArray[np.float64],
        bearings_rad: NDArray[np.float64],
        nearest_m: float | None,
        farthest_m: float,
        lift: tuple[float, float] | None,
        wanted: NDArray[np.bool_] | None,
    ) -> tuple[Horizons, NDArray[np.float64]]:
        terrain = self.terrain
        cell = terrain.cell_m
        start = nearest_start_m(cell) if nearest_m is None else nearest_m
        shape = (np.size(east_m), np.size(bearings_rad))
        tangent = np.empty(shape)
        distance = np.empty(shape)
        raised = np.empty(shape if lift else (shape[0], 0))
        if not start > 0.0:
            raise ValueError(f"a ray must start beyond 0 m, not at {start} m")
        if not np.isfinite(bearings_rad).all():
            raise ValueError("every bearing must be a number")
        if wanted is not None and wanted.shape != shape:
            raise ValueError(f"wanted must have the shape {shape}, not {wanted.shape}")
        fill_horizons(
            self.pyramid.parts,
            (np.atleast_1d(east_m) - terrain.west_m) / cell,
            (np.atleast_1d(north_m) - terrain.south_m) / cell,
            np.atleast_1d(np.asarray(height_m, dtype=np.float64)),
            *ray_steps(bearings_rad),
            start / cell,
            np.full(shape[1], farthest_m / cell),
            self.curvature_per_m * cell * cell,
            tangent,
            distance,
            lift[0] if lift else None,
            lift[1] / cell if lift else 0.0,
            raised,
            wanted,
        )
        tangent /= cell
        distance *= cell
        raised /= cell
        return Horizons(tangent, distance), raised
