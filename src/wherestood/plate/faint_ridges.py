"""Tell where a fainter ridge may stand above the traced line."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from wherestood.plate.best_path import cheapest_line
from wherestood.plate.line_costs import edges_over_unrest

__all__ = ["FaintRidge", "ridge_above"]

Grey = NDArray[np.float32]
Line = NDArray[np.float64]
Mask = NDArray[np.bool_]

CLEAR_PX = 14  # the line's own edge and its second-difference shoulder
TOP_SHARE = 0.06  # stains and mounts gather at the rim
SIDE_SHARE = 0.02
WINDOW_SHARE = 0.06
ADOPT_SHARE = 0.01
LOW_SHARE = 0.1
CHANCE_SHARE = 0.3
FULL_SD = 6.0
STEP_COST = 0.6
JUMP_COST = 10.0
LEAST_MEAN_SD = 1.7
SURE_MEAN_SD = 2.5
OVER_CHANCE = 1.25
SURELY_OVER_CHANCE = 1.5


@dataclass(frozen=True)
class FaintRidge:
    """Hold the best line of darkening edges above a traced line.

    Attributes
    ----------
    y_px : (width,) float64 array
        Where it runs [px].
    doubtful : (width,) bool array
        Where it is strong enough for a ridge, so that the traced line may be a
        nearer hill's.
    sure : (width,) bool array
        Where it is so strong that it is the skyline.
    """

    y_px: Line
    doubtful: Mask
    sure: Mask


def ridge_above(clean: Grey, line: Line) -> FaintRidge:
    """Look for a ridge above the line.

    Parameters
    ----------
    clean : (height, width) float32 array
        Upright positive, without dust.
    line : (width,) float64 array
        The traced line [px].

    Returns
    -------
    FaintRidge

    Notes
    -----
    The best line of darkening edges through the sky is compared with the best line
    of brightening edges: cloud, grain and stains make both alike, a ridge only the
    first. Its mean strength over 6% of the width must beat the strongest such mean
    of the second by a quarter to cast doubt, by half to be taken for the skyline. The
    doubt is looked for twice: in the whole sky, and up to a tenth of the width above
    the line, where clouds are small and ridges stand.
    """
    depth = np.maximum(line - CLEAR_PX, 0.0)
    dark, bright = _edges(clean, depth), _edges(-clean, depth)
    whole = _compared(dark, bright, depth, math.inf)
    low = _compared(dark, bright, depth, LOW_SHARE * line.size)
    doubtful = whole.doubtful | low.doubtful
    rim = max(1, round(SIDE_SHARE * line.size))
    span = round(WINDOW_SHARE * line.size / 2)
    # Nothing is looked for at the rims: what goes for their neighbours goes for them.
    doubtful[:rim] = doubtful[rim : rim + span].any()
    doubtful[-rim:] = doubtful[-rim - span : -rim].any()
    doubtful = ndimage.binary_dilation(doubtful, iterations=span)
    return FaintRidge(whole.y_px, doubtful, whole.sure)


def _edges(clean: Grey, depth: Line) -> Grey:
    """Return the darkening edges above `depth`, over the sky's own unrest."""
    height, width = clean.shape
    rim = max(1, round(SIDE_SHARE * width))
    over = edges_over_unrest(clean, depth.astype(np.float32))
    over = np.clip(over, 0.0, FULL_SD)
    over[: round(TOP_SHARE * width)] = 0.0
    over[:, :rim] = 0.0
    over[:, width - rim :] = 0.0
    over[np.arange(height)[:, None] >= depth[None, :]] = 0.0
    return over


def _compared(dark: Grey, bright: Grey, depth: Line, reach_px: float) -> FaintRidge:
    """Compare darkening with brightening edges up to a height above `depth`."""
    best, strength = _best(dark, depth, reach_px)
    seen = _mean_over(strength, WINDOW_SHARE)
    chance = _mean_over(_best(bright, depth, reach_px)[1], WINDOW_SHARE)
    if math.isfinite(reach_px):
        # Low down, clouds differ from one side of the sky to the other.
        span = max(3, round(CHANCE_SHARE * depth.size))
        chance = ndimage.maximum_filter1d(chance, span)
    else:
        chance = np.full(depth.size, chance.max())
    sure = seen > np.maximum(SURE_MEAN_SD, SURELY_OVER_CHANCE * chance)
    # The window reaches past the ridge's ends, where the line itself is right.
    sure &= _mean_over(strength, ADOPT_SHARE) > LEAST_MEAN_SD
    doubtful = seen > np.maximum(LEAST_MEAN_SD, OVER_CHANCE * chance)
    return FaintRidge(best, doubtful, sure)


def _best(edges: Grey, depth: Line, reach_px: float) -> tuple[Line, Line]:
    """Return the best line of edges within reach above `depth`, and its edges."""
    if math.isfinite(reach_px):
        row = np.arange(edges.shape[0])[:, None]
        edges = np.where(row < depth[None, :] - reach_px, np.float32(0.0), edges)
    best = cheapest_line(np.ascontiguousarray(-edges.T), STEP_COST, JUMP_COST)
    along = edges[best, np.arange(depth.size)]
    return best.astype(np.float64), along.astype(np.float64)


def _mean_over(strength: Line, share: float) -> Line:
    """Return the running mean over a share of the width."""
    mean: Line = ndimage.uniform_filter1d(
        strength, max(3, round(share * strength.size))
    )
    return mean
