"""Model the blank sky of a plate, with its stains."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

__all__ = ["SkyModel", "block_medians", "first_split", "fit_sky"]

Grid = NDArray[np.float64]

BLOCK_PX = 8
MAD_TO_SD = 1.4826
LOCAL_SHARE = 0.03  # of the width: how fast a stain may change
RIM_SHARE = 0.1
SCATTER_SHARE = 0.12
LEAST_SCATTER = 0.012  # of the tonal range: below it, JPEG and grain decide
TUKEY_CUT = 4.0
ROUNDS = 6


@dataclass(frozen=True)
class SkyModel:
    """Hold the level a sky would have everywhere, and its own scatter.

    Attributes
    ----------
    level, scatter : (height, width) float32 array
        Expected tone, and robust standard deviation about it, 0 to 1.
    depth_px : (width,) float32 array
        Row down to which each column was taken for sky [px].
    """

    level: NDArray[np.float32]
    scatter: NDArray[np.float32]
    depth_px: NDArray[np.float32]


def block_medians(grey: NDArray[np.float32]) -> Grid:
    """Return the median of every block of 8 x 8 pixels; the rest is left off."""
    rows, columns = grey.shape[0] // BLOCK_PX, grey.shape[1] // BLOCK_PX
    blocks = grey[: rows * BLOCK_PX, : columns * BLOCK_PX].reshape(
        rows, BLOCK_PX, columns, BLOCK_PX
    )
    medians: Grid = np.median(blocks.swapaxes(1, 2).reshape(rows, columns, -1), axis=2)
    return medians


def first_split(blocks: Grid) -> float:
    """Return the tone that parts dark from bright best (Otsu, 1979)."""
    rim_y, rim_x = blocks.shape[0] // 25, blocks.shape[1] // 25
    inner = blocks[rim_y : blocks.shape[0] - rim_y, rim_x : blocks.shape[1] - rim_x]
    tones = np.sort(inner.ravel())
    count = np.arange(1, tones.size)
    below = np.cumsum(tones)[:-1]
    apart = below / count - (tones.sum() - below) / (tones.size - count)
    between = count * (tones.size - count) * apart**2
    best = int(np.argmax(between))
    return float((tones[best] + tones[best + 1]) / 2.0)


def fit_sky(
    blocks: Grid, is_sky: NDArray[np.bool_], shape: tuple[int, int]
) -> SkyModel:
    """Fit the sky's level and scatter to the blocks thought to be sky.

    Parameters
    ----------
    blocks : (rows, columns) float64 array
        Median tone of each block.
    is_sky : (rows, columns) bool array
        Blocks to fit.
    shape : (int, int)
        Height and width of the image the blocks came from [px].

    Returns
    -------
    SkyModel
        At every pixel, below the skyline by extension.

    Notes
    -----
    First one quadratic surface over the whole sky, by reweighting with Tukey's
    biweight, so that a hazy ridge taken for sky at first is an outlier; then the
    leftover of what fits, spread locally. A stain is smooth and is followed; a
    ridge has an edge and is not.
    """
    basis = _quadratic(blocks.shape)
    sky: Grid = is_sky.astype(np.float64)
    weight = sky
    broad = np.zeros_like(blocks)
    for _ in range(ROUNDS):
        root = np.sqrt(weight).ravel()
        terms = np.linalg.lstsq(
            basis * root[:, None], blocks.ravel() * root, rcond=None
        )[0]
        broad = (basis @ terms).reshape(blocks.shape)
        weight = sky * _biweight(blocks - broad, is_sky)
    left = blocks - broad
    rim = _rim(blocks.shape)
    weight = np.maximum(weight, sky * rim)
    spread = LOCAL_SHARE * blocks.shape[1]
    local = np.zeros_like(blocks)
    for _ in range(2):
        local = _spread(left, weight, spread)
        weight = sky * np.maximum(_biweight(left - local, is_sky), rim)
    off = np.minimum(np.abs(left - local), 3.0 * _scale(left - local, is_sky))
    # The mean absolute deviation of a normal variable is 0.8 sd.
    scatter = 1.25 * _spread(off, sky, SCATTER_SHARE * blocks.shape[1])
    level = _held_below(broad + local, is_sky)
    return SkyModel(
        _enlarged(level, shape),
        _enlarged(np.maximum(_held_below(scatter, is_sky), LEAST_SCATTER), shape),
        _depth_px(is_sky, shape[1]),
    )


def _depth_px(is_sky: NDArray[np.bool_], width: int) -> NDArray[np.float32]:
    depth = np.repeat(is_sky.sum(axis=0) * BLOCK_PX, BLOCK_PX)
    return np.pad(depth, (0, width - depth.size), mode="edge").astype(np.float32)


def _held_below(grid: Grid, is_sky: NDArray[np.bool_]) -> Grid:
    """Hold each column's lowest sky value below it: a surface must not run away.

    A column without sky takes the values of the nearest one with some.
    """
    rows, columns = grid.shape
    depth = np.where(is_sky.any(axis=0), rows - 1 - np.argmax(is_sky[::-1], axis=0), 0)
    lowest = ndimage.percentile_filter(depth, 75, size=9, mode="nearest")
    row = np.minimum(np.arange(rows)[:, None], lowest[None, :])
    held: Grid = grid[row, np.arange(columns)[None, :]]
    without = ~is_sky.any(axis=0)
    if without.all():
        return held
    nearest = ndimage.distance_transform_edt(
        without, return_distances=False, return_indices=True
    )[0]
    return np.asarray(held[:, nearest])


def _quadratic(shape: tuple[int, int]) -> Grid:
    y, x = np.meshgrid(
        np.linspace(-1.0, 1.0, shape[0]),
        np.linspace(-1.0, 1.0, shape[1]),
        indexing="ij",
    )
    columns = [np.ones_like(x), x, y, x * x, x * y, y * y]
    return np.stack([c.ravel() for c in columns], axis=1)


def _rim(shape: tuple[int, int]) -> Grid:
    """Return 1 at the image's edge, falling to 0 inside, where stains are rare."""
    y, x = np.arange(shape[0]) + 0.5, np.arange(shape[1]) + 0.5
    in_y, in_x = np.minimum(y, shape[0] - y), np.minimum(x, shape[1] - x)
    inside = np.minimum(in_y[:, None], in_x[None, :]) / (RIM_SHARE * shape[1])
    rim: Grid = np.clip(1.0 - inside, 0.0, 1.0)
    return rim


def _scale(left: Grid, is_sky: NDArray[np.bool_]) -> float:
    if not is_sky.any():
        return LEAST_SCATTER
    spread = MAD_TO_SD * float(np.median(np.abs(left[is_sky])))
    return max(spread, LEAST_SCATTER)


def _biweight(left: Grid, is_sky: NDArray[np.bool_]) -> Grid:
    ratio = left / (TUKEY_CUT * _scale(left, is_sky))
    weight: Grid = np.where(np.abs(ratio) < 1.0, (1.0 - ratio**2) ** 2, 0.0)
    return weight


def _spread(values: Grid, weight: Grid, sigma: float) -> Grid:
    """Return the weighted local mean, drawn to 0 where there is no weight."""
    top = ndimage.gaussian_filter(values * weight, sigma, mode="nearest")
    bottom = ndimage.gaussian_filter(weight, sigma, mode="nearest")
    spread: Grid = top / (bottom + 1e-3)
    return spread


def _enlarged(grid: Grid, shape: tuple[int, int]) -> NDArray[np.float32]:
    y = (np.arange(shape[0]) + 0.5) / BLOCK_PX - 0.5
    x = (np.arange(shape[1]) + 0.5) / BLOCK_PX - 0.5
    rows = ndimage.map_coordinates(
        grid,
        np.meshgrid(y, np.arange(grid.shape[1]), indexing="ij"),
        order=1,
        mode="nearest",
    )
    enlarged: NDArray[np.float32] = ndimage.map_coordinates(
        rows,
        np.meshgrid(np.arange(shape[0]), x, indexing="ij"),
        order=1,
        mode="nearest",
    ).astype(np.float32)
    return enlarged
