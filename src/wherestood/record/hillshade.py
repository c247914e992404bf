"""Draw the ground under a map as shaded hills."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LightSource, to_rgb
from numpy.typing import NDArray

from wherestood.record.palette import GRAPHITE, MOUNT, PENCIL
from wherestood.terrain.model import Terrain

__all__ = ["Extent", "draw_ground"]

Extent = tuple[float, float, float, float]  # west, east, south, north, frame [m]

SHADE = 0.15  # how dark level ground is, of one
STEEPEST_SHADE = 0.42
LARGEST_SIDE = 900  # samples; more would not show in print
SUN = LightSource(azdeg=315, altdeg=45)


def draw_ground(axes: Axes, terrain: Terrain, extent: Extent) -> None:
    """Draw shaded hills, water and the edge of data inside a map window."""
    heights_m, water, box = _window(terrain, extent)
    if heights_m.size == 0 or min(heights_m.shape) < 2:
        return
    step_m = (box[1] - box[0]) / heights_m.shape[1]
    known = np.isfinite(heights_m)
    filled = np.where(known, heights_m, np.nanmean(heights_m) if known.any() else 0.0)
    relief = float(np.percentile(np.abs(np.gradient(filled)), 98)) / step_m
    # Gentle ground is exaggerated, steep ground left alone, so both can be read.
    exaggeration = float(np.clip(0.4 / max(relief, 1e-3), 1.0, 4.0))
    light = SUN.hillshade(
        filled[::-1], vert_exag=exaggeration, dx=step_m, dy=step_m, fraction=1.0
    )[::-1]
    level = float(np.sin(np.radians(45.0)))
    dark = SHADE * np.clip((1.0 - light) / (1.0 - level), 0.0, STEEPEST_SHADE / SHADE)
    picture = np.empty((*heights_m.shape, 4))
    picture[..., :3] = to_rgb(GRAPHITE)
    picture[..., 3] = np.where(known, dark, 0.0)
    if water is not None:
        picture[water] = (*to_rgb(PENCIL), 0.22)
    picture[~known] = (*to_rgb(MOUNT), 1.0)
    axes.imshow(picture, extent=box, origin="lower", interpolation="bilinear", zorder=1)


def _window(
    terrain: Terrain, extent: Extent
) -> tuple[NDArray[np.float64], NDArray[np.bool_] | None, Extent]:
    """Cut and thin the model to a map window; row 0 is the southernmost."""
    rows, columns = terrain.elevation_m.shape
    cell_m = terrain.cell_m
    first_column = max(0, int(np.floor((extent[0] - terrain.west_m) / cell_m)))
    last_column = min(columns, int(np.ceil((extent[1] - terrain.west_m) / cell_m)) + 1)
    first_row = max(0, int(np.floor((extent[2] - terrain.south_m) / cell_m)))
    last_row = min(rows, int(np.ceil((extent[3] - terrain.south_m) / cell_m)) + 1)
    longest = max(last_column - first_column, last_row - first_row)
    step = max(1, longest // LARGEST_SIDE)
    cut = (slice(first_row, last_row, step), slice(first_column, last_column, step))
    heights_m = terrain.elevation_m[cut].astype(np.float64)
    water = None if terrain.water is None else terrain.water[cut]
    size_m = cell_m * step
    west_m = terrain.west_m + first_column * cell_m - size_m / 2
    south_m = terrain.south_m + first_row * cell_m - size_m / 2
    box = (
        west_m,
        west_m + size_m * heights_m.shape[1],
        south_m,
        south_m + size_m * heights_m.shape[0],
    )
    return heights_m, water, box
