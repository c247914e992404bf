"""Build an invented true world that the fit never sees."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from wherestood.demo.canopy import grow_canopy
from wherestood.demo.fields import fractal_field
from wherestood.demo.ground import GroundGrid, mean_radius_m
from wherestood.demo.mesh import RayMesh
from wherestood.demo.settings import WorldSettings

__all__ = ["World", "build_world"]

Array = NDArray[np.float64]

_SMOOTH_SHORE_M = 15.0  # below this above the water, detail fades
_RIPPLE_M = 0.02
_SHORE_M = 0.5  # trees keep this far above the water


@dataclass(frozen=True)
class World:
    """Hold a true world: finer than any model of it, with its trees.

    Attributes
    ----------
    bare_m, canopy_m : (rows, columns) float64 array
        True ground, and tree height above it [m], row 0 the southernmost.
    open_m : (rows, columns) float64 array
        Distance to the nearest tree [m].
    west_m, south_m, cell_m : float
        Position of node ``[0, 0]`` and node spacing [m].
    mesh : RayMesh
        Ground with trees, as rays see it.
    ground : GroundGrid
        What it grew from.
    settings : WorldSettings
        How it was made.
    """

    bare_m: Array
    canopy_m: Array
    open_m: Array
    west_m: float
    south_m: float
    cell_m: float
    mesh: RayMesh
    ground: GroundGrid
    settings: WorldSettings


def build_world(
    ground: GroundGrid,
    rng: np.random.Generator,
    settings: WorldSettings,
    *,
    cleared_m: Sequence[tuple[float, float, float]] = (),
) -> World:
    """Refine a ground grid, roughen it, grow its forest and triangulate it.

    Parameters
    ----------
    ground : GroundGrid
        What the world grows from.
    rng : numpy.random.Generator
        Source of randomness.
    settings : WorldSettings
        How it is made.
    cleared_m : sequence of (float, float, float)
        East, north and radius of discs where no tree is left [m].

    Notes
    -----
    A million and a half nodes take about 5 s on one core; any number of stations
    can then share the world.
    """
    cell_m = _mesh_cell_m(ground, settings)
    bare_m = refine_ground(ground, cell_m)
    detail_m = _detail_m(bare_m, cell_m, ground.cell_m, settings, rng)
    if ground.water_level_m is not None:
        above_m = bare_m - ground.water_level_m
        detail_m *= np.clip(above_m / _SMOOTH_SHORE_M, 0.0, 1.0)
    bare_m += detail_m
    canopy_m = grow_canopy(bare_m, cell_m, settings.forest, rng)
    if ground.water_level_m is not None:
        # Interpolation leaves ripples of some 1e-15 m on level water.
        drowned = bare_m < ground.water_level_m + _RIPPLE_M
        bare_m = np.where(drowned, ground.water_level_m, bare_m)
        canopy_m[bare_m < ground.water_level_m + _SHORE_M] = 0.0
    for east_m, north_m, reach_m in cleared_m:
        canopy_m[_within(bare_m.shape, ground, cell_m, east_m, north_m, reach_m)] = 0.0
    mesh = RayMesh(
        bare_m + canopy_m,
        ground.west_m,
        ground.south_m,
        cell_m,
        radius_m=mean_radius_m(ground.latitude_deg),
        refraction=settings.refraction,
    )
    return World(
        bare_m,
        canopy_m,
        _distance_to_trees_m(canopy_m, cell_m),
        ground.west_m,
        ground.south_m,
        cell_m,
        mesh,
        ground,
        settings,
    )


def refine_ground(ground: GroundGrid, cell_m: float) -> Array:
    """Return ground heights at a finer spacing by cubic interpolation [m]."""
    rows = np.arange(0.0, ground.depth_m + 1e-6, cell_m) / ground.cell_m
    columns = np.arange(0.0, ground.width_m + 1e-6, cell_m) / ground.cell_m
    nodes = np.meshgrid(rows, columns, indexing="ij")
    return np.asarray(
        ndimage.map_coordinates(
            ground.elevation_m.astype(np.float64), nodes, order=3, mode="nearest"
        )
    )


def _within(
    shape: tuple[int, ...],
    ground: GroundGrid,
    cell_m: float,
    east_m: float,
    north_m: float,
    reach_m: float,
) -> NDArray[np.bool_]:
    """Return which nodes lie within a disc."""
    rows, columns = np.ogrid[: shape[0], : shape[1]]
    away_east_m = ground.west_m + columns * cell_m - east_m
    away_north_m = ground.south_m + rows * cell_m - north_m
    return np.asarray(np.hypot(away_east_m, away_north_m) < reach_m)


def _mesh_cell_m(ground: GroundGrid, settings: WorldSettings) -> float:
    affordable_m = np.sqrt(ground.width_m * ground.depth_m / settings.most_nodes)
    return float(max(settings.mesh_cell_m, affordable_m))


def _detail_m(
    bare_m: Array,
    cell_m: float,
    ground_cell_m: float,
    settings: WorldSettings,
    rng: np.random.Generator,
) -> Array:
    """Return fractal detail that the grid is too coarse to hold [m].

    Its rms grows with the slope of the ground: plains are smooth, crags rough.
    Water, dead level ground, gets none.
    """
    longest_cells = settings.detail_longest_cells * ground_cell_m / cell_m
    field = fractal_field(bare_m.shape, longest_cells, rng)
    reach_cells = ground_cell_m / cell_m
    smooth_m = ndimage.gaussian_filter(bare_m, reach_cells)
    slope = np.hypot(*np.gradient(smooth_m, cell_m))
    rms_m = settings.detail_m * np.clip(0.15 + slope / 0.35, 0.0, 2.5)
    return np.asarray(np.where(slope < 1e-4, 0.0, rms_m * field))


def _distance_to_trees_m(canopy_m: Array, cell_m: float) -> Array:
    if not (canopy_m > 0.0).any():
        return np.full(canopy_m.shape, np.inf)
    return np.asarray(ndimage.distance_transform_edt(canopy_m == 0.0) * cell_m)
