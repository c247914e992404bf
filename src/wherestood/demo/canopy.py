"""Grow an invented forest over ground."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from wherestood.demo.fields import smooth_field

__all__ = ["ForestSettings", "grow_canopy"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class ForestSettings:
    """Say how an invented forest is.

    Attributes
    ----------
    cover : float
        Share of the ground under trees, 0 to 0.9.
    patch_m : float
        Correlation reach of the patches [m].
    height_m, height_sd_m : float
        Mean height of trees and its smooth variation [m].
    stand_m : float
        Correlation reach of tree height [m].
    rough_sd_m : float
        Unevenness of the canopy from one mesh node to the next [m].
    tree_line_m : float or None
        Height above which nothing grows [m].
    clearings_per_km2 : float
        Clearings cut into the forest, each 45 to 110 m in radius.
    """

    cover: float = 0.5
    patch_m: float = 500.0
    height_m: float = 14.0
    height_sd_m: float = 3.0
    stand_m: float = 400.0
    rough_sd_m: float = 1.5
    tree_line_m: float | None = None
    clearings_per_km2: float = 2.0


def grow_canopy(
    ground_m: Array, cell_m: float, forest: ForestSettings, rng: np.random.Generator
) -> Array:
    """Return canopy height above ground at each node [m], 0 in the open.

    Patches are a smooth random field cut at the level that leaves ``cover`` of
    it, so their edges are walls of trees; heights vary over stands and, a
    little, from node to node, and stay within 4 to 30 m.
    """
    if forest.cover <= 0.0:
        return np.zeros_like(ground_m)
    wooded = _patches(ground_m.shape, cell_m, forest, rng)
    if forest.tree_line_m is not None:
        ragged_m = 25.0 * smooth_field(ground_m.shape, 300.0 / cell_m, rng)
        wooded &= ground_m + ragged_m < forest.tree_line_m
    wooded &= ~_clearings(ground_m.shape, cell_m, forest.clearings_per_km2, rng)
    stand_m = forest.height_sd_m * smooth_field(
        ground_m.shape, forest.stand_m / cell_m, rng
    )
    rough_m = forest.rough_sd_m * rng.standard_normal(ground_m.shape)
    height_m = np.clip(forest.height_m + stand_m + rough_m, 4.0, 30.0)
    return np.where(wooded, height_m, 0.0)


def _patches(
    shape: tuple[int, int],
    cell_m: float,
    forest: ForestSettings,
    rng: np.random.Generator,
) -> NDArray[np.bool_]:
    """Cut a field of large patches with ragged edges at the wanted cover."""
    field = smooth_field(shape, forest.patch_m / cell_m, rng)
    field += 0.35 * smooth_field(shape, max(3.0, forest.patch_m / 5.0 / cell_m), rng)
    return np.asarray(field < np.quantile(field, forest.cover))


def _clearings(
    shape: tuple[int, int], cell_m: float, per_km2: float, rng: np.random.Generator
) -> NDArray[np.bool_]:
    """Return discs at random places, where somebody felled the trees."""
    area_km2 = shape[0] * shape[1] * (cell_m / 1000.0) ** 2
    n = int(rng.poisson(per_km2 * area_km2))
    reach_cells = np.zeros(shape)
    rows, columns = rng.integers(0, shape[0], n), rng.integers(0, shape[1], n)
    reach_cells[rows, columns] = rng.uniform(45.0, 110.0, n) / cell_m
    if n == 0:
        return np.zeros(shape, dtype=bool)
    distance, nearest = ndimage.distance_transform_edt(
        reach_cells == 0.0, return_indices=True
    )
    return np.asarray(distance <= reach_cells[nearest[0], nearest[1]])
