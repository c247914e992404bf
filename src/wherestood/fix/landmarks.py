"""Find points of the terrain that a person could know again on a plate."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter, uniform_filter

from wherestood.evidence.placed import TERRAIN_SD_M, Candidates
from wherestood.evidence.stations import Stations
from wherestood.evidence.visibility import in_sight
from wherestood.fix.answers import Chosen
from wherestood.fix.problem import Problem
from wherestood.terrain.horizon import nearest_start_m
from wherestood.terrain.model import Terrain

__all__ = ["Landmarks", "find_landmarks"]

Array = NDArray[np.float64]

#: A summit is the highest ground within this of it [m].
SUMMIT_REACH_M = 400.0
#: ... and stands so much above the mean of the ground there [m].
PROMINENT_M = 15.0
#: Nearer than this a summit is no landmark: the model knows near ground badly [m].
NEAREST_M = 300.0
#: Standard error of a summit's place, at least, and as a share of the cell.
SUMMIT_SD_M, SUMMIT_CELLS = 5.0, 0.5
#: ... and of where one ridge goes behind another [m].
CROSSING_SD_M = 20.0
#: A ridge goes behind another where the horizon's distance jumps by this factor.
CROSSING_JUMP = 1.35
#: A point is in sight with this probability.
IN_SIGHT = 0.8
#: What stands this near the horizon is part of the skyline [tangent].
ON_SKYLINE = 0.004
MOST_SUMMITS, MOST_CROSSINGS = 16, 8
_BEARINGS = 800


@dataclass(frozen=True)
class Landmarks:
    """Hold points of the terrain in sight.

    Attributes
    ----------
    kinds : tuple of {"summit", "crossing"}
    points : Candidates
        Where they are; weights are 1.
    """

    kinds: tuple[str, ...]
    points: Candidates

    def point(self, number: int) -> Candidates:
        """Return one of the points."""
        which, points = slice(number, number + 1), self.points
        return Candidates(
            points.feature_ids[which],
            points.plan_ids[which],
            points.east_m[which],
            points.north_m[which],
            points.height_m[which],
            np.ones(1),
            points.sd_m[which],
            points.shift_sd_m[which],
            points.height_sd_m[which],
            points.slope_east[which],
            points.slope_north[which],
        )


def find_landmarks(problem: Problem, chosen: Chosen) -> Landmarks:
    """Return summits and crossings of ridges that a camera would show.

    Notes
    -----
    What is part of a skyline that counts already tells nothing new, and is left out:
    with a skyline only summits below it, and no crossings.
    """
    east, north = _summits(problem, chosen)
    kinds = ["summit"] * len(east)
    if not problem.has_skyline:
        more_east, more_north = _crossings(problem, chosen)
        kinds += ["crossing"] * len(more_east)
        east = np.concatenate((east, more_east))
        north = np.concatenate((north, more_north))
    return Landmarks(tuple(kinds), _candidates(problem, tuple(kinds), east, north))


def _field(problem: Problem, chosen: Chosen) -> tuple[float, float]:
    """Return the grid bearing of the picture's middle and half its field [rad]."""
    samples = problem.hands[chosen.hand].samples
    c = math.exp(chosen.theta[1])
    half = 0.5 * samples.width_px / samples.diagonal_px
    low = math.atan2(chosen.theta[5] - half, c)
    high = math.atan2(chosen.theta[5] + half, c)
    return float(chosen.theta[0]) + 0.5 * (low + high), 0.5 * (high - low)


def _summits(problem: Problem, chosen: Chosen) -> tuple[Array, Array]:
    terrain = problem.terrain
    cells = max(1, math.ceil(SUMMIT_REACH_M / terrain.cell_m))
    heights = np.nan_to_num(terrain.elevation_m, nan=-1e4)
    highest = maximum_filter(heights, 2 * cells + 1, mode="nearest")
    inner = np.zeros(heights.shape, dtype=bool)
    inner[cells:-cells, cells:-cells] = True
    above = heights - uniform_filter(heights, 2 * cells + 1, mode="nearest")
    row, column = np.nonzero((heights >= highest) & inner & (above > PROMINENT_M))
    east = np.asarray(terrain.west_m + column * terrain.cell_m, dtype=np.float64)
    north = np.asarray(terrain.south_m + row * terrain.cell_m, dtype=np.float64)
    shown = _in_field(problem, chosen, east, north)
    east, north, height = east[shown], north[shown], heights[row, column][shown]
    # Of many those that look largest: height over distance.
    away = np.hypot(east - chosen.cell_m[0], north - chosen.cell_m[1])
    order = np.argsort(-(height - chosen.cell_m[2]) / away, kind="stable")
    order = order[: 4 * MOST_SUMMITS]
    seen = _seen(problem, chosen, east[order], north[order])
    order = order[seen][:MOST_SUMMITS]
    return east[order], north[order]


def _in_field(
    problem: Problem, chosen: Chosen, east: Array, north: Array
) -> NDArray[np.bool_]:
    middle, half = _field(problem, chosen)
    off_east, off_north = east - chosen.cell_m[0], north - chosen.cell_m[1]
    turn = np.arctan2(off_east, off_north) - middle
    turn = (turn + np.pi) % (2.0 * np.pi) - np.pi
    away = np.hypot(off_east, off_north)
    near = (away > NEAREST_M) & (away < problem.settings.horizon_radius_m)
    return np.asarray(near & (np.abs(turn) < half))


def _seen(
    problem: Problem, chosen: Chosen, east: Array, north: Array
) -> NDArray[np.bool_]:
    """Say which points are in sight, and not part of a skyline that counts."""
    if not len(east):
        return np.zeros(0, dtype=bool)
    points = _candidates(problem, ("summit",) * len(east), east, north)
    here = _station(problem, chosen)
    model = problem.maker.model
    chance = in_sight(model, here, points)[0]
    seen = np.asarray(chance >= IN_SIGHT)
    if not problem.has_skyline:
        return seen
    off_east, off_north = east - chosen.cell_m[0], north - chosen.cell_m[1]
    turn = np.arctan2(off_east, off_north)
    away = np.hypot(off_east, off_north)
    order = np.argsort(turn)
    horizon = np.empty(len(east))
    east_m, north_m, lens_m = chosen.cell_m[:, None]
    horizon[order] = model.horizons(
        east_m,
        north_m,
        lens_m,
        turn[order],
        nearest_m=nearest_start_m(problem.terrain.source_cell_m),
        farthest_m=problem.settings.horizon_radius_m,
    ).tangent[0]
    tangent = (points.height_m - chosen.cell_m[2]) / away
    tangent = tangent - problem.curvature_per_m * away
    return np.asarray(seen & (tangent < horizon - ON_SKYLINE))


def _crossings(problem: Problem, chosen: Chosen) -> tuple[Array, Array]:
    """Return where, on the horizon, one ridge goes behind a nearer one."""
    middle, half = _field(problem, chosen)
    bearing = middle + np.linspace(-half, half, _BEARINGS)
    east_m, north_m, lens_m = chosen.cell_m[:, None]
    seen = problem.maker.model.horizons(
        east_m,
        north_m,
        lens_m,
        bearing,
        nearest_m=nearest_start_m(problem.terrain.source_cell_m),
        farthest_m=problem.settings.horizon_radius_m,
    )
    distance = seen.distance_m[0]
    with np.errstate(invalid="ignore", divide="ignore"):
        jump = np.abs(np.diff(np.log(distance)))
    jump = np.nan_to_num(jump)
    at = np.flatnonzero(jump > math.log(CROSSING_JUMP))
    at = np.sort(at[np.argsort(-jump[at], kind="stable")[:MOST_CROSSINGS]])
    near = np.where(distance[at] < distance[at + 1], at, at + 1)
    near = near[distance[near] > NEAREST_M]
    east = chosen.cell_m[0] + distance[near] * np.sin(bearing[near])
    north = chosen.cell_m[1] + distance[near] * np.cos(bearing[near])
    return east, north


def _candidates(
    problem: Problem, kinds: tuple[str, ...], east: Array, north: Array
) -> Candidates:
    terrain = problem.terrain
    count = len(east)
    sd = max(SUMMIT_SD_M, SUMMIT_CELLS * terrain.source_cell_m)
    level = np.zeros(count)
    return Candidates(
        kinds,
        ("",) * count,
        np.asarray(east, dtype=np.float64),
        np.asarray(north, dtype=np.float64),
        _heights(terrain, east, north),
        np.ones(count),
        np.array([sd if kind == "summit" else CROSSING_SD_M for kind in kinds]),
        level,
        np.full(count, TERRAIN_SD_M),
        level,
        level,
    )


def _heights(terrain: Terrain, east: Array, north: Array) -> Array:
    rows, columns = terrain.elevation_m.shape
    column = np.rint((east - terrain.west_m) / terrain.cell_m).astype(int)
    row = np.rint((north - terrain.south_m) / terrain.cell_m).astype(int)
    return np.asarray(
        terrain.elevation_m[np.clip(row, 0, rows - 1), np.clip(column, 0, columns - 1)],
        dtype=np.float64,
    )


def _station(problem: Problem, chosen: Chosen) -> Stations:
    return Stations(
        chosen.cell_m[:1],
        chosen.cell_m[1:2],
        chosen.cell_m[2:3],
        radius_m=(1.0 - problem.terrain.refraction) / (2.0 * problem.curvature_per_m),
        refraction=problem.terrain.refraction,
    )
