"""Price where the skyline may run, from tones above and below it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from wherestood.plate.sky import BLOCK_PX, SkyModel

__all__ = [
    "MOST_DROP",
    "costs_from_levels",
    "costs_from_sky",
    "costs_from_split",
    "edges_over_unrest",
]

Image = NDArray[np.float32]
Costs = NDArray[np.float32]

# All in the currency of one pixel that is clearly not sky, counted as sky.
BRIGHT_GAIN = 0.25
SKY_LIMIT_SD = 2.5
EDGE_REACH_PX = 4
EDGE_GAIN = 20.0
EDGE_FULL_SD = 8.0
CROSSING_WIDTH_PX = 9
CROSSING_SHARE = 0.12
CROSSING_SD = 4.0
CROSSING_FULL_SD = 6.0
CROSSING_COST = 0.6
RIM_SHARE = 0.1
MOST_DROP = 0.1  # of the tonal range


def costs_from_split(
    blocks: NDArray[np.float64], split: float, border: NDArray[np.int64]
) -> Costs:
    """Price each block boundary by a single tone that parts sky from land.

    Parameters
    ----------
    blocks : (rows, columns) float64 array
        Median tone of each block.
    split : float
        Tone that parts dark from bright.
    border : (columns,) int64 array
        Rows of bare glass at the top: neither sky nor land.

    Returns
    -------
    (columns, rows + 1) float32 array
        Cost of the line's running above row 0, 1, ... of blocks.
    """
    spread = max(float(np.std(blocks)), 1e-6)
    sky = np.clip((blocks - split) / (0.5 * spread), -1.0, BRIGHT_GAIN)
    sky[np.arange(blocks.shape[0])[:, None] < border[None, :]] = 0.0
    return _summed(sky.astype(np.float32))


def costs_from_sky(grey: Image, sky: SkyModel) -> Costs:
    """Price each row of each column by how well the sky model explains it.

    Parameters
    ----------
    grey : (height, width) float32 array
        Upright positive.
    sky : SkyModel
        Level and scatter the sky would have.

    Returns
    -------
    (width, height + 1) float32 array
        Cost of the line's running along the top of row 0, 1, ... (the last: along
        the bottom of the image).

    Notes
    -----
    A pixel darker than sky by over 2.5 of the sky's own sd counts against a line
    below it, whatever the land's tone: a faint ridge is no sky though the hill
    before it is darker still. Brighter than sky is no evidence (cloud, snow, a
    bare corner), and neither is the rim, where stains and mounts gather.
    """
    smooth = ndimage.gaussian_filter(grey, 1.0)
    darker_sd = (sky.level - smooth) / sky.scatter
    is_sky = np.clip((SKY_LIMIT_SD - darker_sd) / SKY_LIMIT_SD, -1.0, BRIGHT_GAIN)
    is_sky = np.where(darker_sd < -2.0 * SKY_LIMIT_SD, 0.0, is_sky)
    is_sky *= _rim_weight((grey.shape[0], grey.shape[1]))
    is_sky -= _crossed(grey, sky.depth_px)
    edge = _darkening(grey) / (EDGE_FULL_SD * np.maximum(sky.scatter, 1e-3))
    return _summed(
        is_sky.astype(np.float32),
        (EDGE_GAIN * np.clip(edge, 0.0, 1.0)).astype(np.float32),
    )


def costs_from_levels(
    grey: Image, line: NDArray[np.float64], above: Image, below: Image, reach_px: int
) -> Costs:
    """Price rows near a first line by the tones just above and just below it.

    Parameters
    ----------
    grey : (height, width) float32 array
        Upright positive.
    line : (width,) float64 array
        A first line [px].
    above, below : (width,) float32 array
        Tone just above and just below the line, per column.
    reach_px : int
        How far the new line may lie from the first [px].

    Returns
    -------
    (width, height + 1) float32 array
        Cost; inf beyond the reach.

    Notes
    -----
    Land begins half-way down to the tone below, but never more than a tenth of the
    tonal range under the sky: a pale slope above dark woods is land already.
    """
    drop = np.clip((above - below) / 2.0, 5e-4, MOST_DROP)
    is_sky = np.clip((grey - above + drop) / drop, -1.0, 1.0)
    row = np.arange(grey.shape[0] + 1)
    costs = _summed(is_sky.astype(np.float32))
    costs[np.abs(row[None, :] - line[:, None]) > reach_px] = np.inf
    return costs


def _crossed(grey: Image, depth_px: NDArray[np.float32]) -> Image:
    """Price the edges that a line leaves above it, beyond the sky's own unrest."""
    over = np.clip(
        edges_over_unrest(grey, depth_px) - CROSSING_SD, 0.0, CROSSING_FULL_SD
    )
    price: Image = (CROSSING_COST * over).astype(np.float32)
    return price


def edges_over_unrest(grey: Image, depth_px: NDArray[np.float32]) -> Image:
    """Return the darkening at each row over the sky's own unrest there.

    Parameters
    ----------
    grey : (height, width) float32 array
        Upright positive, without dust.
    depth_px : (width,) float32 array
        Row down to which each column is sky [px].

    Returns
    -------
    (height, width) float32 array
        Sharp darkening from above to below, in standard deviations of the edges
        of the sky nearby.
    """
    wide = ndimage.uniform_filter1d(grey, CROSSING_WIDTH_PX, axis=1)
    darkening = _darkening(wide)
    block = BLOCK_PX
    rows, columns = (side // block for side in darkening.shape)
    parts = np.abs(darkening[: rows * block, : columns * block])
    unrest = parts.reshape(rows, block, columns, block).mean(axis=(1, 3))
    lowest = depth_px[: columns * block : block]
    inside = (np.arange(rows)[:, None] + 1) * block < lowest[None, :]
    spread = CROSSING_SHARE * columns
    top = ndimage.gaussian_filter(unrest * inside, spread, mode="nearest")
    bottom = ndimage.gaussian_filter(inside.astype(np.float32), spread, mode="nearest")
    typical = float(np.median(unrest[inside])) if inside.any() else 1.0
    local = (top + 0.01 * typical) / (bottom + 0.01)
    # The mean absolute deviation of a normal variable is 0.8 sd.
    sd = 1.25 * ndimage.zoom(local, block, order=1, grid_mode=True, mode="nearest")
    pad = [(0, darkening.shape[0] - sd.shape[0]), (0, darkening.shape[1] - sd.shape[1])]
    sd = np.maximum(np.pad(sd, pad, mode="edge"), 1e-3)
    over: Image = (darkening / sd).astype(np.float32)
    return over


def _summed(is_sky: Image, edge: Image | None = None) -> Costs:
    """Add up, from the top, what is lost by calling each pixel sky."""
    height, width = is_sky.shape
    costs = np.zeros((width, height + 1), np.float32)
    np.cumsum(-is_sky.T, axis=1, out=costs[:, 1:])
    if edge is not None:
        costs[:, :-1] -= edge.T
    return costs


def _rim_weight(shape: tuple[int, int]) -> Image:
    height, width = shape
    rim = max(1.0, RIM_SHARE * width)
    x = np.minimum(np.arange(width) + 0.5, width - np.arange(width) - 0.5) / rim
    y = np.minimum(np.arange(height) + 0.5, height - np.arange(height) - 0.5) / rim
    near = np.minimum(np.minimum(x[None, :], y[:, None]), 1.0)
    weight: Image = (0.1 + 0.9 * near**2).astype(np.float32)
    return weight


def _darkening(grey: Image) -> Image:
    """Return how much darker the rows from each one on are than those above.

    The same a little higher or lower is taken off: a stain darkens gradually, an
    edge all at once.
    """
    kernel = np.zeros(2 * EDGE_REACH_PX + 1, np.float32)
    kernel[:EDGE_REACH_PX] = 1.0 / EDGE_REACH_PX
    kernel[EDGE_REACH_PX : 2 * EDGE_REACH_PX] = -1.0 / EDGE_REACH_PX
    step = ndimage.correlate1d(grey, kernel, axis=0, mode="nearest")
    apart = 2 * EDGE_REACH_PX
    padded = np.pad(np.maximum(step, 0.0), ((apart, apart), (0, 0)), mode="edge")
    beside = np.maximum(padded[: -2 * apart], padded[2 * apart :])
    sharp: Image = step - beside
    return sharp
