"""Ask what the elevation model knows of the ground in a view.

Symbols: c the principal distance over the scan's diagonal; x plate coordinates
from its centre, over the diagonal.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.unknowns import UNKNOWN_M
from wherestood.fix.answers import INDEX, Chosen
from wherestood.fix.problem import Problem
from wherestood.fix.result import GroundInView
from wherestood.terrain.horizon import nearest_start_m

__all__ = ["directions_in_view", "ground_in_view", "known_along"]

Array = NDArray[np.float64]

_DIRECTIONS = 300  # over the width of the plate


def ground_in_view(problem: Problem, chosen: Chosen) -> GroundInView:
    """Return what is not known of the ground that a camera looks over.

    Directions are those of points evenly along the plate's width, on the lens
    axis's level; roll is left out, which moves them by little.
    """
    bearing_rad = directions_in_view(problem, chosen)
    east_m, north_m, lens_m = chosen.cell_m[:, None]
    profile = problem.maker.make(east_m, north_m).table[0]
    index = np.round(bearing_rad / (2.0 * np.pi) * len(profile)).astype(int)
    unknown = profile[index % len(profile), 2] >= UNKNOWN_M
    farthest_m = problem.settings.horizon_radius_m
    nearest_m = nearest_start_m(problem.terrain.source_cell_m)
    seen = problem.maker.model.horizons(
        east_m,
        north_m,
        lens_m,
        bearing_rad,
        nearest_m=nearest_m,
        farthest_m=farthest_m,
    )
    horizon_m = np.nan_to_num(seen.distance_m[0], nan=0.0)
    step_m = problem.terrain.cell_m
    along_m = np.arange(nearest_m, farthest_m + step_m, step_m)
    known = known_along(problem, chosen, bearing_rad, along_m)
    hole = (~known & (along_m < horizon_m[:, None])).any(axis=1) & ~unknown
    last = known.shape[1] - np.argmax(known[:, ::-1], axis=1) - 1
    ends_m = np.where(known.any(axis=1), along_m[last], nearest_m)
    ended = ends_m < farthest_m - 2.0 * step_m
    return GroundInView(
        float(unknown.mean()),
        float(hole.mean()),
        float(ends_m[ended].min()) if ended.any() else math.inf,
    )


def directions_in_view(problem: Problem, chosen: Chosen) -> Array:
    """Return grid bearings [rad] of points evenly along the plate's width."""
    samples = problem.hands[chosen.hand].samples
    half = 0.5 * samples.width_px / samples.diagonal_px
    x = np.linspace(-half, half, _DIRECTIONS) + chosen.theta[INDEX["cross"]]
    c = math.exp(chosen.theta[INDEX["log_distance"]])
    bearing: Array = chosen.theta[0] + np.arctan2(x, c)
    return bearing


def known_along(
    problem: Problem, chosen: Chosen, bearing_rad: Array, along_m: Array
) -> NDArray[np.bool_]:
    """Say where heights are known along rays, as (directions, distances)."""
    terrain = problem.terrain
    rows, columns = terrain.elevation_m.shape
    east = chosen.cell_m[0] + np.outer(np.sin(bearing_rad), along_m) - terrain.west_m
    north = chosen.cell_m[1] + np.outer(np.cos(bearing_rad), along_m) - terrain.south_m
    column = np.rint(east / terrain.cell_m).astype(int)
    row = np.rint(north / terrain.cell_m).astype(int)
    inside = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
    heights = terrain.elevation_m[
        np.clip(row, 0, rows - 1), np.clip(column, 0, columns - 1)
    ]
    return np.asarray(inside & np.isfinite(heights))
