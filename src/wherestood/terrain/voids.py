"""Fill small holes in an elevation model, and only those."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from rasterio.fill import fillnodata
from scipy import ndimage

__all__ = ["SMALL_VOID_CELLS", "fill_small_voids"]

SMALL_VOID_CELLS = 10
"""A hole is small where known ground lies on both sides within so many cells."""

_STRIP_ROWS = 512
_REACH_ROWS = SMALL_VOID_CELLS + 2


def fill_small_voids(heights_m: NDArray[np.float32]) -> int:
    """Fill, in place, holes that known ground brackets closely.

    Parameters
    ----------
    heights_m : (rows, columns) float32 array
        Heights [m]; NaN where unknown. Changed in place.

    Returns
    -------
    int
        How many nodes were filled. Wider holes, and the outside of the data, stay
        NaN.

    Notes
    -----
    A node is filled where a morphological closing of the known ground by a square
    of ``SMALL_VOID_CELLS + 1`` holds it, by inverse-distance weights of the nearest
    known ground in each direction (GDAL's void filler). Bays of a wide hole that
    are narrow enough are filled too.
    """
    unknown = np.isnan(heights_m)
    if not unknown.any() or unknown.all():
        return 0
    fillable = _closed(~unknown) & unknown
    count = int(np.count_nonzero(fillable))
    if count == 0:
        return 0
    _fill(heights_m, unknown, fillable)
    return count


def _fill(
    heights_m: NDArray[np.float32],
    unknown: NDArray[np.bool_],
    fillable: NDArray[np.bool_],
) -> None:
    """Fill nodes strip by strip, since the filler copies what it is given."""
    for first in range(0, heights_m.shape[0], _STRIP_ROWS):
        strip = slice(first, first + _STRIP_ROWS)
        if not fillable[strip].any():
            continue
        around = slice(max(0, first - _REACH_ROWS), first + _STRIP_ROWS + _REACH_ROWS)
        filled = fillnodata(
            # The filler takes NaN for a height, so unknown nodes get a number.
            np.where(unknown[around], np.float32(0.0), heights_m[around]),
            mask=(~unknown[around]).astype(np.uint8),
            max_search_distance=float(SMALL_VOID_CELLS),
            smoothing_iterations=0,
        )
        inner = filled[first - around.start :][:_STRIP_ROWS]
        # Filled nodes stay marked unknown, so the next strip does not build on them.
        heights_m[strip][fillable[strip]] = inner[fillable[strip]]


def _closed(known: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Close a mask by a square; outside the grid nothing is known."""
    size = SMALL_VOID_CELLS + 1
    closed = known.astype(np.uint8)
    for axis in (0, 1):
        closed = ndimage.maximum_filter1d(closed, size, axis, mode="constant", cval=0)
    for axis in (0, 1):
        closed = ndimage.minimum_filter1d(closed, size, axis, mode="constant", cval=0)
    return closed.astype(np.bool_)
