"""Prepare the horizon profiles that a skyline is scored against."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from wherestood.terrain.ground import StandingGround
from wherestood.terrain.horizon import HorizonModel, nearest_start_m

__all__ = ["ProfileMaker", "Profiles"]

Array = NDArray[np.float64]

#: How far the far ground is raised to find where a nearer ridge may take over [m].
LIFT_M = 6.0
#: Ground nearer than this is not raised: its error is the station's own [m].
LIFT_FROM_M = 400.0
#: Sd of the model's own error at the station [m], before slope and shape.
GROUND_SD_M = 3.5
#: Sd of a sideways shift of the whole model, in source cells.
SHIFT_CELLS = 0.3


@dataclass(frozen=True)
class Profiles:
    """Hold the horizons of stations as `evidence.unknowns.PROFILE` lists them.

    Attributes
    ----------
    table : (stations, bearings, 5) float64 array
    ground_m, ground_sd_m : (stations,) float64 array
        Ground taken for the station and its standard deviation [m].
    """

    table: Array
    ground_m: Array
    ground_sd_m: Array


@dataclass(frozen=True)
class ProfileMaker:
    """Make profiles on one terrain, all with the same bearings.

    Attributes
    ----------
    model : HorizonModel
    ground : StandingGround
        Smoothed ground that stations stand on.
    raw : StandingGround
        The model's surface itself.
    lens_height_m : float
        Lens above the ground [m].
    window_rad : float
        Width over which the horizon is averaged, that of a skyline's bin [rad].
    bearings : int
        Number of bearings round the circle.
    farthest_m : float
        How far rays go [m].
    """

    model: HorizonModel
    ground: StandingGround
    raw: StandingGround
    lens_height_m: float
    window_rad: float
    bearings: int = 900
    farthest_m: float = 30_000.0
    over_water: bool = False

    def heights(self, east_m: Array, north_m: Array) -> tuple[Array, Array]:
        """Return the ground taken for stations and its standard deviation [m].

        Notes
        -----
        Half way between the smoothed and the raw surface; where they part, or
        the ground is steep and the model may be shifted, the doubt is wider.
        """
        smooth = np.asarray(self.ground.at(east_m, north_m), dtype=np.float64)
        raw = np.asarray(self.raw.at(east_m, north_m), dtype=np.float64)
        east_slope, north_slope = self._slopes(east_m, north_m)
        slope = np.hypot(east_slope, north_slope)
        shift_m = SHIFT_CELLS * self.model.terrain.source_cell_m
        sd = np.sqrt(
            GROUND_SD_M**2 + (shift_m * slope) ** 2 + (0.75 * (raw - smooth)) ** 2
        )
        if self.over_water:
            return np.zeros_like(smooth), np.full_like(smooth, 2.0)
        return 0.5 * (smooth + raw), sd

    def _slopes(self, east_m: Array, north_m: Array) -> tuple[Array, Array]:
        step = max(20.0, 0.5 * self.model.terrain.source_cell_m)
        at = self.ground.at
        east = (at(east_m + step, north_m) - at(east_m - step, north_m)) / (2 * step)
        north = (at(east_m, north_m + step) - at(east_m, north_m - step)) / (2 * step)
        return np.nan_to_num(np.asarray(east)), np.nan_to_num(np.asarray(north))

    def make(self, east_m: Array, north_m: Array) -> Profiles:
        """Return the profiles of stations on known ground.

        Parameters
        ----------
        east_m, north_m : (stations,) float64 array
            Frame coordinates [m]; the ground there must be known.
        """
        ground, ground_sd = self.heights(east_m, north_m)
        lens = ground + self.lens_height_m
        spacing = 2.0 * math.pi / self.bearings
        azimuth = np.arange(self.bearings, dtype=np.float64) * spacing
        start = nearest_start_m(self.model.terrain.source_cell_m)
        seen = self.model.horizons(
            east_m, north_m, lens, azimuth, nearest_m=start, farthest_m=self.farthest_m
        )
        # Lowering the lens is raising all the ground: where a nearer ridge then
        # takes over, the skyline depends on that ridge's error, not the far one's.
        raised = self.model.horizons(
            east_m,
            north_m,
            lens - LIFT_M,
            azimuth,
            nearest_m=max(start, LIFT_FROM_M),
            farthest_m=self.farthest_m,
        )
        tangent, distance = seen.tangent, seen.distance_m
        # Beyond the model there is no land: the horizon is far below, and near.
        tangent = np.maximum(tangent, -1.0)
        distance = np.where(np.isfinite(distance), distance, start)
        above = np.maximum(raised.tangent, -1.0)
        noise = LIFT_M / np.maximum(above - tangent, 1e-9)
        noise = np.minimum(noise, distance)
        size = max(1, round(self.window_rad / azimuth[1]))
        tangent = uniform_filter1d(tangent, size, axis=1, mode="wrap")
        turn = (np.roll(tangent, -1, axis=1) - np.roll(tangent, 1, axis=1)) / (
            2.0 * azimuth[1]
        )
        kappa = self.model.curvature_per_m
        east_slope, north_slope = self._slopes(east_m, north_m)
        nearer = tangent + 2.0 * kappa * distance
        sine, cosine = np.sin(azimuth), np.cos(azimuth)
        table = np.empty((*tangent.shape, 5))
        table[..., 0] = tangent
        table[..., 1] = distance
        table[..., 2] = noise
        east = nearer * sine + turn * cosine - east_slope[:, None]
        north = nearer * cosine - turn * sine - north_slope[:, None]
        table[..., 3] = east / distance
        table[..., 4] = north / distance
        return Profiles(table, ground, ground_sd)
