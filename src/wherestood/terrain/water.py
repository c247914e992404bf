"""Tell the sea in an elevation model."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

__all__ = ["sea_mask"]

# A harbour of 10 ha at the edge of the data, a square kilometre anywhere.
_LARGE_M2 = 1.0e6
_LARGE_AT_EDGE_M2 = 1.0e5
# The lowest dry ground on earth is some 430 m below the sea.
_SURELY_SEA_FLOOR_M = -450.0


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
    for mask, large_m2, needs_edge in (
        (heights_m == 0.0, _LARGE_M2, False),
        (heights_m == 0.0, _LARGE_AT_EDGE_M2, True),
        (_flat_below_zero(heights_m), _LARGE_M2, True),
    ):
        sea |= _large_parts(mask, edge if needs_edge else None, large_m2 / cell_m**2)
    if (heights_m < _SURELY_SEA_FLOOR_M).any():
        sea |= _large_parts(heights_m < 0.0, heights_m < _SURELY_SEA_FLOOR_M, 1.0)
    return sea


def _large_parts(
    mask: NDArray[np.bool_], touched: NDArray[np.bool_] | None, cells: float
) -> NDArray[np.bool_]:
    """Keep the connected parts of so many cells that meet another mask."""
    if not mask.any():
        return mask
    labels, count = ndimage.label(mask)
    sizes = np.bincount(labels.ravel(), minlength=count + 1)
    kept = sizes >= cells
    if touched is not None:
        meets = np.zeros(count + 1, dtype=np.bool_)
        meets[np.unique(labels[touched])] = True
        kept &= meets
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
