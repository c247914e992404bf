"""Measure the step between two elevation layers where they overlap."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from wherestood.errors import TerrainError
from wherestood.progress import Progress
from wherestood.terrain.ground import height_m
from wherestood.terrain.model import Terrain
from wherestood.terrain.read import open_terrain
from wherestood.terrain.seams import SeamStep, measure_step

__all__ = ["LayerStep", "measure_layer_step", "overlap_of"]

Box = tuple[float, float, float, float]
# Enough to settle a median to a hundredth of the scatter, and quick to read.
_NODES_A_SIDE = 200
_MOST_NODES = 4_000_000
# Farther off than this nothing is learned that the middle does not tell.
_LARGEST_SIDE_M = 20_000.0
_METRES_A_DEGREE = 111_320.0
# Two models of one ground stay within this: terrain/seams.py.
_IMPLAUSIBLE_M = 30.0


@dataclass(frozen=True)
class LayerStep:
    """Hold how one layer stands against another.

    Attributes
    ----------
    step : SeamStep or None
        Coarser minus finer; None where both know no common ground.
    finer_is_first : bool
        Which of the two is the finer.
    box_deg : (west, south, east, north)
        Where it was measured [deg].
    """

    step: SeamStep | None
    finer_is_first: bool
    box_deg: Box

    def sentence(self, first: str, second: str) -> str:
        """Say it in words, with the layers' names."""
        finer, coarser = (first, second) if self.finer_is_first else (second, first)
        if self.step is None:
            return f"{first} and {second} meet, but have no height in common."
        where = "above" if self.step.median_m > 0.0 else "below"
        told = (
            f"{coarser} stands {abs(self.step.median_m):.2f} m {where} {finer} in the "
            f"median, half of it within {self.step.mad_m:.2f} m of that, over "
            f"{self.step.nodes} places."
        )
        if abs(self.step.median_m) > _IMPLAUSIBLE_M:
            return f"Warning: {told} Their vertical datums, units or places differ."
        return told


def overlap_of(first: Box, second: Box) -> Box | None:
    """Return the box that two boxes share [deg]; None where they share none."""
    west, south = max(first[0], second[0]), max(first[1], second[1])
    east, north = min(first[2], second[2]), min(first[3], second[3])
    return (west, south, east, north) if west < east and south < north else None


def measure_layer_step(
    first: Sequence[Path | str],
    second: Sequence[Path | str],
    overlap_deg: Box,
    progress: Progress | None = None,
) -> LayerStep:
    """Measure the step between two layers.

    Parameters
    ----------
    first, second : sequences of paths
        Files of either layer.
    overlap_deg : (west, south, east, north)
        Ground that both cover [deg].
    progress : Progress, optional
        Told how far the reading has come.

    Raises
    ------
    TerrainError
        If a file cannot be used.
    """
    west, south, east, north = overlap_deg
    middle = (west + east) / 2.0, (south + north) / 2.0
    up_m = min((north - south) * _METRES_A_DEGREE, _LARGEST_SIDE_M)
    across = _METRES_A_DEGREE * max(math.cos(math.radians(middle[1])), 0.01)
    across_m = min((east - west) * across, _LARGEST_SIDE_M)
    radius_m = math.hypot(up_m, across_m) / 2.0
    opened = []
    for paths in (first, second):
        opened.append(
            open_terrain(
                list(paths),
                around=middle,
                radius_m=radius_m,
                max_nodes=_MOST_NODES,
                progress=progress,
            )
        )
    lon = middle[0] + np.linspace(-0.5, 0.5, _NODES_A_SIDE) * across_m / across
    lat = middle[1] + np.linspace(-0.5, 0.5, _NODES_A_SIDE) * up_m / _METRES_A_DEGREE
    lons, lats = np.meshgrid(lon, lat)
    heights = [_heights(terrain, lons, lats) for terrain in opened]
    cells = [terrain.source_cell_m for terrain in opened]
    finer_is_first = cells[0] <= cells[1]
    finer, coarser = heights if finer_is_first else heights[::-1]
    spacing_m = math.sqrt(up_m * across_m) / _NODES_A_SIDE
    step = measure_step(finer, coarser, max(1.0, max(cells) / spacing_m))
    box = (float(lon[0]), float(lat[0]), float(lon[-1]), float(lat[-1]))
    return LayerStep(step, finer_is_first, box)


def _heights(
    terrain: Terrain, lon: NDArray[np.float64], lat: NDArray[np.float64]
) -> NDArray[np.float32]:
    east, north = terrain.frame.from_lonlat(lon.ravel(), lat.ravel())
    if not np.isfinite(east).all():
        raise TerrainError(
            "The common ground of two layers lies outside the grid of one of them.",
            "Check their reference systems.",
        )
    return height_m(terrain, east, north).reshape(lon.shape)
