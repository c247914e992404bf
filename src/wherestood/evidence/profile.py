"""Prepare the horizon profiles that a skyline is scored against."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import minimum_filter, uniform_filter1d

from wherestood.evidence.unknowns import UNKNOWN_M
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
#: Ground must be known this far round a horizon, in source cells: else land may
#: rise beyond the model's edge, or in a hole of it.
EDGE_CELLS = 2.0
#: Share of a strip's bearings whose horizon must be known.
LEAST_KNOWN = 0.5
#: Sd of the water's level about the model's [m]: tide and datum.
TIDE_SD_M = 2.0
#: Doubt of changed ground is told as a nearer distance of the horizon's error, beside
#: this much cover and error that there is everywhere [m] ...
USUAL_DOUBT_M = 6.0
#: ... and more than this leaves the horizon unknown [m].
MOST_DOUBT_M = 15.0
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


def _filled(tangent: Array, known: NDArray[np.bool_], azimuth: Array) -> Array:
    """Fill unknown bearings in a line, so that their neighbours' slopes are right."""
    filled = np.where(known, tangent, 0.0)
    for row in np.flatnonzero(~known.all(axis=1) & known.any(axis=1)):
        has = known[row]
        filled[row] = np.interp(
            azimuth, azimuth[has], tangent[row, has], period=2.0 * math.pi
        )
    return filled


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
    over_water : bool
        Whether the lens is over water: a ship, a wharf.
    lens_height_sd_m : float
        Standard deviation of the lens's height above the ground or water [m].
    doubt : StandingGround or None
        Standard deviation of changed ground's height [m], as if it were ground.
    """

    model: HorizonModel
    ground: StandingGround
    raw: StandingGround
    lens_height_m: float
    window_rad: float
    bearings: int = 1800
    farthest_m: float = 30_000.0
    over_water: bool = False
    lens_height_sd_m: float = 0.0
    doubt: StandingGround | None = None

    def heights(self, east_m: Array, north_m: Array) -> tuple[Array, Array]:
        """Return the ground taken for stations and its standard deviation [m].

        Notes
        -----
        Half way between the smoothed and the raw surface; where they part, or
        the ground is steep and the model may be shifted, the doubt is wider.
        """
        smooth = np.asarray(self.ground.at(east_m, north_m), dtype=np.float64)
        raw = np.asarray(self.raw.at(east_m, north_m), dtype=np.float64)
        east_slope, north_slope = self.slopes(east_m, north_m)
        slope = np.hypot(east_slope, north_slope)
        shift_m = SHIFT_CELLS * self.model.terrain.source_cell_m
        sd = np.sqrt(
            self.lens_height_sd_m**2
            + GROUND_SD_M**2
            + (shift_m * slope) ** 2
            + (0.75 * (raw - smooth)) ** 2
            + self._doubt_at(east_m, north_m) ** 2
        )
        if self.over_water:
            level, sd = self._water(east_m, north_m, raw)
            return level, np.hypot(sd, self.lens_height_sd_m)
        return 0.5 * (smooth + raw), sd

    def _doubt_at(self, east_m: Array, north_m: Array) -> Array:
        """Return the doubt that changed ground brings at places [m]."""
        if self.doubt is None:
            return np.zeros(np.shape(east_m))
        return np.nan_to_num(self.doubt.at(east_m, north_m).astype(np.float64))

    def _water(self, east_m: Array, north_m: Array, raw: Array) -> tuple[Array, Array]:
        """Return the water's level and its doubt [m]; NaN where there is land."""
        terrain = self.model.terrain
        on_water = np.abs(raw) < TIDE_SD_M
        if terrain.water is not None:
            rows, columns = terrain.water.shape
            column = np.rint((east_m - terrain.west_m) / terrain.cell_m).astype(int)
            row = np.rint((north_m - terrain.south_m) / terrain.cell_m).astype(int)
            on_water |= terrain.water[
                np.clip(row, 0, rows - 1), np.clip(column, 0, columns - 1)
            ]
        return np.where(on_water, raw, np.nan), np.full_like(raw, TIDE_SD_M)

    def slopes(self, east_m: Array, north_m: Array) -> tuple[Array, Array]:
        """Return how the ground rises to the east and to the north, no unit."""
        if self.over_water:
            return np.zeros_like(east_m), np.zeros_like(east_m)
        step = max(20.0, 0.5 * self.model.terrain.source_cell_m)
        at = self.ground.at
        east = (at(east_m + step, north_m) - at(east_m - step, north_m)) / (2 * step)
        north = (at(east_m, north_m + step) - at(east_m, north_m - step)) / (2 * step)
        return np.nan_to_num(np.asarray(east)), np.nan_to_num(np.asarray(north))

    @cached_property
    def _sure(self) -> NDArray[np.bool_]:
        """Nodes with known ground for some cells all round."""
        terrain = self.model.terrain
        reach = EDGE_CELLS * terrain.source_cell_m / terrain.cell_m
        size = 2 * math.ceil(reach) + 1
        known = np.isfinite(terrain.elevation_m)
        return np.asarray(minimum_filter(known, size, mode="constant", cval=False))

    def _known(
        self, east_m: Array, north_m: Array, azimuth: Array, distance_m: Array
    ) -> NDArray[np.bool_]:
        """Say where the horizon is sure: not by the model's edge or a hole in it."""
        terrain, sure = self.model.terrain, self._sure
        rows, columns = sure.shape
        seen = np.isfinite(distance_m)
        reach_m = np.where(seen, distance_m, 0.0)
        east = east_m[:, None] + reach_m * np.sin(azimuth) - terrain.west_m
        north = north_m[:, None] + reach_m * np.cos(azimuth) - terrain.south_m
        column = np.clip(np.rint(east / terrain.cell_m).astype(int), 0, columns - 1)
        row = np.clip(np.rint(north / terrain.cell_m).astype(int), 0, rows - 1)
        return np.asarray(seen & sure[row, column])

    def _horizon_doubt(
        self, east_m: Array, north_m: Array, azimuth: Array, distance_m: Array
    ) -> Array:
        """Return the doubt of the ground that each horizon stands on [m]."""
        if self.doubt is None:
            return np.zeros(distance_m.shape)
        reach_m = np.nan_to_num(distance_m)
        return self._doubt_at(
            east_m[:, None] + reach_m * np.sin(azimuth),
            north_m[:, None] + reach_m * np.cos(azimuth),
        )

    def without_horizon(self, east_m: Array, north_m: Array) -> Profiles:
        """Return stations whose horizon nothing asks for: their ground alone."""
        ground, ground_sd = self.heights(east_m, north_m)
        return Profiles(np.ones((len(east_m), 4, 5)), ground, ground_sd)

    def make(
        self,
        east_m: Array,
        north_m: Array,
    ) -> Profiles:
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
        # Where a nearer ridge takes over when all the far ground is raised, the
        # skyline depends on that ridge's error, not the far one's.
        seen, raised = self.model.horizons_and_raised(
            east_m,
            north_m,
            lens,
            azimuth,
            lift_m=LIFT_M,
            lift_from_m=max(start, LIFT_FROM_M),
            nearest_m=start,
            farthest_m=self.farthest_m,
        )
        tangent, distance = seen.tangent, seen.distance_m
        known = self._known(east_m, north_m, azimuth, distance)
        doubt = self._horizon_doubt(east_m, north_m, azimuth, distance)
        known &= doubt <= MOST_DOUBT_M
        distance = np.where(known, distance, start)
        tangent = np.where(known, tangent, 0.0)
        noise = LIFT_M / np.maximum(np.where(known, raised, 0.0) - tangent, 1e-9)
        noise = np.clip(noise, start, distance)
        noise /= np.sqrt(1.0 + (doubt / USUAL_DOUBT_M) ** 2)
        # An odd number of bearings: an even one would turn the horizon by half a step.
        size = 2 * max(0, round((self.window_rad / azimuth[1] - 1.0) / 2.0)) + 1

        def averaged(values: Array) -> Array:
            """Average the known bearings within a strip's width."""
            held = uniform_filter1d(values * known, size, axis=1, mode="wrap")
            return np.asarray(held / np.maximum(share, 1e-9))

        # A strip of the skyline is an average, and so is all that goes with it:
        # unsmoothed, ridges of other distances flicker in and out as a camera turns.
        share = uniform_filter1d(known.astype(np.float64), size, axis=1, mode="wrap")
        some = share >= LEAST_KNOWN
        tangent = _filled(averaged(tangent), some, azimuth)
        distance = np.where(some, 1.0 / np.maximum(averaged(1.0 / distance), 1e-9), 1e3)
        noise = 1.0 / np.maximum(averaged(1.0 / noise), 1e-9)
        noise = np.where(some, noise, UNKNOWN_M)
        turn = (np.roll(tangent, -1, axis=1) - np.roll(tangent, 1, axis=1)) / (
            2.0 * azimuth[1]
        )
        kappa = self.model.curvature_per_m
        east_slope, north_slope = self.slopes(east_m, north_m)
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
