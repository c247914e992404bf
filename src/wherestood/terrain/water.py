"""Tell the sea in an elevation model."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

__all__ = ["sea_mask"]

# A harbour of 10 ha at the edge of the data, a square kilometre anywhere.
_LARGE_M2 = 1.0e6
_LARGE_AT_EDGE_M2 = 1.0e5
# The lowest dry ground on earth is some 430 m below the sea.
_SURELY_SEA_FLOOR_M = -450.0
_COUNTED_IN_BLOCKS = 16


def sea_mask(heights_m: NDArray[np.float32], cell_m: float) -> NDArray[np.bool_]:
    """Tell which nodes are sea.

    Parameters
    ----------
    heights_m : (rows, columns) float32 array
        Heights [m]; NaN where unknown.
    cell_m : float
        Cell size [m].

    Returns
    -------
    (rows, columns) bool array
        True on connected nodes at exactly 0 m that cover a square kilometre, or
        10 ha where they reach the edge of the data; on flat ground below 0 m that
        reaches the edge and covers a square kilometre; on ground below 0 m that
        goes down with a sea floor.

    Notes
    -----
    Low ground stored in whole metres, such as a polder, can be flat and at 0 m:
    then it is told as sea.
    """
    sea = np.zeros(heights_m.shape, dtype=np.bool_)
    if not (heights_m <= 0.0).any():
        return sea
    edge = _edge_of_data(heights_m)
    large, large_at_edge = _LARGE_M2 / cell_m**2, _LARGE_AT_EDGE_M2 / cell_m**2
    sea |= _parts(heights_m == 0.0, large, edge, large_at_edge)
    sea |= _parts(_flat_below_zero(heights_m), math.inf, edge, large)
    if (heights_m < _SURELY_SEA_FLOOR_M).any():
        deep = heights_m < _SURELY_SEA_FLOOR_M
        sea |= _parts(heights_m < 0.0, math.inf, deep, 1.0)
    return sea


def _parts(
    mask: NDArray[np.bool_],
    cells: float,
    touched: NDArray[np.bool_],
    cells_if_touching: float,
) -> NDArray[np.bool_]:
    """Keep connected parts of so many cells, or of fewer that meet another mask."""
    if not mask.any():
        return mask
    labels, count = ndimage.label(mask)
    sizes = np.zeros(count + 1, dtype=np.int64)
    for block in np.array_split(labels, _COUNTED_IN_BLOCKS):
        # Counting the whole at once would copy it to 64 bits.
        sizes += np.bincount(block.ravel(), minlength=count + 1)
    meets = np.zeros(count + 1, dtype=np.bool_)
    meets[np.unique(labels[touched])] = True
    kept = (sizes >= cells) | (meets & (sizes >= cells_if_touching))
    kept[0] = False
    return np.asarray(kept[labels])


def _flat_below_zero(heights_m: NDArray[np.float32]) -> NDArray[np.bool_]:
    below = heights_m < 0.0
    if not below.any():
        return below
    # A comparison with NaN is false, so ground beside a hole is never flat.
    highest = ndimage.maximum_filter(heights_m, 3, mode="nearest")
    lowest = ndimage.minimum_filter(heights_m, 3, mode="nearest")
    return np.asarray(below & (highest == lowest))


def _edge_of_data(heights_m: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Return known nodes on the grid's border or beside unknown ones."""
    known = np.isfinite(heights_m)
    inner = ndimage.binary_erosion(known, np.ones((3, 3)), border_value=0)
    return np.asarray(known & ~inner)
