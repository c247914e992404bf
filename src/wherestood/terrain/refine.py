"""Refine a coarse elevation model by cubic interpolation.

The bilinear surface of a coarse grid has facets and creases that look like crests
from below; a cubic surface through the same heights has none.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from scipy import ndimage
from scipy.interpolate import RectBivariateSpline

from wherestood.terrain.model import Terrain

__all__ = ["refined"]

#: A refined grid has at most this many nodes.
MOST_NODES = 40_000_000


def refined(terrain: Terrain, cell_m: float) -> Terrain:
    """Return a terrain of cells no larger than asked, cubic between the old nodes.

    Parameters
    ----------
    terrain : Terrain
        The model; its nodes stay nodes.
    cell_m : float
        Greatest cell size wanted [m].

    Returns
    -------
    Terrain
        Unknown nodes stay unknown; ``source_cell_m`` keeps the old cell size.
    """
    heights = terrain.elevation_m
    factor = math.ceil(terrain.cell_m / cell_m)
    largest = int(math.sqrt(MOST_NODES / heights.size))
    factor = min(factor, max(largest, 1))
    if factor <= 1 or min(heights.shape) < 4:
        return terrain
    unknown = ~np.isfinite(heights)
    filled = heights.astype(np.float64)
    if unknown.any():
        nearest = ndimage.distance_transform_edt(
            unknown, return_distances=False, return_indices=True
        )
        filled = filled[tuple(nearest)]
    rows, columns = heights.shape
    spline = RectBivariateSpline(
        np.arange(rows), np.arange(columns), filled, kx=3, ky=3
    )
    fine_rows = np.arange((rows - 1) * factor + 1) / factor
    fine_columns = np.arange((columns - 1) * factor + 1) / factor
    fine = spline(fine_rows, fine_columns).astype(np.float32)
    near = np.ix_(np.round(fine_rows).astype(int), np.round(fine_columns).astype(int))
    fine[unknown[near]] = np.nan
    water = terrain.water
    if water is not None:
        water = water[near]
        fine[water] = np.maximum(fine[water], 0.0)
    return replace(
        terrain,
        elevation_m=fine,
        cell_m=terrain.cell_m / factor,
        source_cell_m=terrain.source_cell_m or terrain.cell_m,
        water=water,
    )
