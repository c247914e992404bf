"""Tell where a fainter ridge may stand above the traced line."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from wherestood.plate.best_path import cheapest_line
from wherestood.plate.line_costs import edges_over_unrest

__all__ = ["ridge_above"]

CLEAR_PX = 14  # the line's own edge and its second-difference shoulder
RIM_SHARE = 0.06
WINDOW_SHARE = 0.06
FULL_SD = 6.0
STEP_COST = 0.6
JUMP_COST = 10.0
LEAST_MEAN_SD = 2.5
OVER_CHANCE = 1.25


def ridge_above(
    clean: NDArray[np.float32], line: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Mark the columns where a ridge seems to stand above the line.

    Parameters
    ----------
    clean : (height, width) float32 array
        Upright positive, without dust.
    line : (width,) float64 array
        The traced line [px].

    Returns
    -------
    (width,) bool array

    Notes
    -----
    The best line of darkening edges through the sky is compared with the best line
    of brightening edges: cloud, grain and stains make both alike, a ridge only the
    first. Its mean strength over 6% of the width must beat the strongest such mean
    of the second by a quarter.
    """
    depth = np.maximum(line - CLEAR_PX, 0.0)
    seen = _along_best(clean, depth)
    chance = _along_best(-clean, depth)
    doubtful = seen > max(LEAST_MEAN_SD, OVER_CHANCE * float(chance.max()))
    span = round(WINDOW_SHARE * line.size / 2)
    marked: NDArray[np.bool_] = ndimage.binary_dilation(doubtful, iterations=span)
    return marked


def _along_best(
    clean: NDArray[np.float32], depth: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the running mean edge along the best line above `depth`."""
    height, width = clean.shape
    rim = round(RIM_SHARE * width)
    over = edges_over_unrest(clean, depth.astype(np.float32))
    over = np.clip(over, 0.0, FULL_SD)
    over[:rim] = 0.0
    over[:, :rim] = 0.0
    over[:, width - rim :] = 0.0
    over[np.arange(height)[:, None] >= depth[None, :]] = 0.0
    best = cheapest_line(np.ascontiguousarray(-over.T), STEP_COST, JUMP_COST)
    strength = over[best, np.arange(width)].astype(np.float64)
    mean: NDArray[np.float64] = ndimage.uniform_filter1d(
        strength, max(3, round(WINDOW_SHARE * width))
    )
    return mean
