"""Draw shaded tiles of a terrain for a map.

Tones are black and white of some transparency, so that they lie on light and dark
paper alike. Light from the north-west at 45 degrees: common practice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from wherestood.terrain.model import Terrain
from wherestood.terrain.resample import sample_bilinear

__all__ = ["MapTiles"]

Tile = NDArray[np.uint8]

_SUN_FROM_RAD, _SUN_UP_RAD = math.radians(315.0), math.radians(45.0)
STEEPEST_DEG = 60.0
LOWEST = 190.0  # of 255, how dark the lowest ground is
DARKEST, LIGHTEST = 120.0, 90.0  # of 255
SEA = (110, 106, 98, 56)
#: Gentle ground is exaggerated up to so much, steep ground left alone.
MOST_EXAGGERATION, WANTED_RELIEF = 4.0, 0.4


@dataclass
class MapTiles:
    """Be a terrain that tiles are drawn of.

    Attributes
    ----------
    terrain : Terrain
    tile_px : int
        Side of a tile [px].
    resolutions_m : sequence of float
        Metres a pixel by level, each half of the one before [m].
    """

    terrain: Terrain
    tile_px: int
    resolutions_m: tuple[float, ...]
    _levels: list[NDArray[np.float32]] = field(default_factory=list)
    _exaggeration: float = 0.0
    _span_m: tuple[float, float] | None = None

    def hillshade(self, level: int, column: int, row: int) -> Tile:
        """Return shaded hills; columns count east, rows south from the north-west.

        Returns
        -------
        (tile_px, tile_px, 4) uint8 array
            Red, green, blue, opacity; unknown ground is clear.
        """
        heights_m = self._heights(level, column, row)
        east, south = _slopes(heights_m, self.resolutions_m[level])
        if not self._exaggeration:
            self._exaggeration = self._fitting_exaggeration()
        east, north = east * self._exaggeration, -south * self._exaggeration
        steep = np.sqrt(1.0 + east**2 + north**2)
        towards = math.sin(_SUN_FROM_RAD) * east + math.cos(_SUN_FROM_RAD) * north
        light = math.sin(_SUN_UP_RAD) - math.cos(_SUN_UP_RAD) * towards
        level_light = math.sin(_SUN_UP_RAD)
        over = np.nan_to_num((light / steep - level_light) / level_light)
        tile = np.zeros((*over.shape, 4), dtype=np.uint8)
        tile[over > 0, :3] = 255
        dark = np.clip(-over, 0.0, 1.0) * DARKEST
        bright = np.clip(over / (1.0 / level_light - 1.0), 0.0, 1.0) * LIGHTEST
        tile[..., 3] = np.where(over > 0, bright, dark)
        tile[self._sea(level, column, row)] = SEA
        tile[np.isnan(heights_m[1:-1, 1:-1]), 3] = 0
        return tile

    def slope(self, level: int, column: int, row: int) -> Tile:
        """Return how steep the ground is, darker where steeper."""
        heights_m = self._heights(level, column, row)
        east, south = _slopes(heights_m, self.resolutions_m[level])
        steep_deg = np.degrees(np.arctan(np.hypot(east, south)))
        tile = np.zeros((*steep_deg.shape, 4), dtype=np.uint8)
        share = np.clip(np.nan_to_num(steep_deg) / STEEPEST_DEG, 0.0, 1.0)
        tile[..., 3] = share * 200.0
        return tile

    def height(self, level: int, column: int, row: int) -> Tile:
        """Return how high the ground is, darker where lower."""
        heights_m = self._heights(level, column, row)[1:-1, 1:-1]
        low_m, high_m = self._lowest_highest()
        below = (high_m - heights_m) / max(high_m - low_m, 1.0)
        tile = np.zeros((*heights_m.shape, 4), dtype=np.uint8)
        tile[..., 3] = np.clip(np.nan_to_num(below), 0.0, 1.0) * LOWEST
        return tile

    def _heights(self, level: int, column: int, row: int) -> NDArray[np.float32]:
        """Return heights at a tile's pixels, with one more all round."""
        terrain = self.terrain
        east_m, north_m = self._pixels(level, column, row, 1)
        # Coarse tiles are drawn of means, so that single cells do not flicker.
        coarser = max(0, round(math.log2(self.resolutions_m[level] / terrain.cell_m)))
        heights_m = self._halved(coarser)
        cell_m = terrain.cell_m * 2**coarser
        first_m = (2**coarser - 1) * terrain.cell_m / 2.0  # middle of a block
        across = (east_m - terrain.west_m - first_m) / cell_m
        up = (north_m - terrain.south_m - first_m) / cell_m
        return sample_bilinear(heights_m, *np.meshgrid(across, up))

    def _sea(self, level: int, column: int, row: int) -> NDArray[np.bool_]:
        terrain = self.terrain
        east_m, north_m = self._pixels(level, column, row, 0)
        if terrain.water is None:
            return np.zeros((self.tile_px, self.tile_px), dtype=np.bool_)
        rows, columns = terrain.water.shape
        across = np.rint((east_m - terrain.west_m) / terrain.cell_m).astype(int)
        up = np.rint((north_m - terrain.south_m) / terrain.cell_m).astype(int)
        inside = ((up >= 0) & (up < rows))[:, None] & (
            (across >= 0) & (across < columns)
        )[None, :]
        picked = terrain.water[
            np.clip(up, 0, rows - 1)[:, None], np.clip(across, 0, columns - 1)[None, :]
        ]
        return np.asarray(picked & inside)

    def _pixels(
        self, level: int, column: int, row: int, more: int
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return where a tile's pixels lie, with some more all round."""
        terrain = self.terrain
        step_m = self.resolutions_m[level]
        top_m = terrain.south_m + (terrain.elevation_m.shape[0] - 1) * terrain.cell_m
        index = np.arange(-more, self.tile_px + more) + 0.5
        east_m = terrain.west_m + (column * self.tile_px + index) * step_m
        north_m = top_m - (row * self.tile_px + index) * step_m
        return east_m.astype(np.float64), north_m.astype(np.float64)

    def _halved(self, times: int) -> NDArray[np.float32]:
        if not self._levels:
            self._levels.append(self.terrain.elevation_m)
        while len(self._levels) <= times:
            self._levels.append(_half(self._levels[-1]))
        return self._levels[times]

    def _lowest_highest(self) -> tuple[float, float]:
        if self._span_m is None:
            heights_m = self.terrain.elevation_m
            known = heights_m[np.isfinite(heights_m)]
            self._span_m = (
                (float(known.min()), float(known.max())) if known.size else (0.0, 0.0)
            )
        return self._span_m

    def _fitting_exaggeration(self) -> float:
        """Return by how much heights are multiplied so that the hills can be read."""
        heights_m = self.terrain.elevation_m
        stride = max(1, max(heights_m.shape) // 500)
        sample = heights_m[::stride, ::stride]
        if min(sample.shape) < 2:
            return 1.0
        slopes = np.abs(np.diff(sample, axis=1)) / (stride * self.terrain.cell_m)
        known = slopes[np.isfinite(slopes)]
        relief = float(np.percentile(known, 98)) if known.size else 1.0
        return float(np.clip(WANTED_RELIEF / max(relief, 1e-3), 1.0, MOST_EXAGGERATION))


def _half(heights_m: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return means of blocks of 2 x 2; unknown where any of them is."""
    rows, columns = heights_m.shape
    if min(rows, columns) < 2:
        return heights_m
    even = heights_m[: rows // 2 * 2, : columns // 2 * 2]
    blocks = even.reshape(rows // 2, 2, columns // 2, 2)
    return np.asarray(blocks.mean(axis=(1, 3)), dtype=np.float32)


def _slopes(
    heights_m: NDArray[np.float32], step_m: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return slopes eastwards and southwards, without the rim."""
    heights = heights_m.astype(np.float64)
    east = (heights[1:-1, 2:] - heights[1:-1, :-2]) / (2.0 * step_m)
    south = (heights[2:, 1:-1] - heights[:-2, 1:-1]) / (2.0 * step_m)
    return east, south
