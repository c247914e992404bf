"""Find the dark border of bare glass above a sky."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

__all__ = ["border_depth"]

#: How deep a border may reach, of the shorter side: what is dark farther down is
#: land, or a stain.
DEEPEST_SHARE = 0.06
#: As dark as bare glass: under this share of what parts dark from bright. A stain
#: is paler, and the sky beneath it is followed.
BARE_SHARE = 0.5


def border_depth(blocks: NDArray[np.float64], split: float) -> NDArray[np.int64]:
    """Return how far down the dark border reaches at the top of each column.

    Parameters
    ----------
    blocks : (rows, columns) float64 array
        Median tone of each block, 0 about the darkest on the plate.
    split : float
        Tone that parts dark from bright.

    Returns
    -------
    (columns,) int64 array
        Rows of blocks, 0 everywhere if there is no border.

    Notes
    -----
    Film that stops short of the glass leaves a rim as dark as land, above the sky.
    It ends where the column turns bright. Where land follows it at once, its end
    cannot be seen: it is as deep there as in the nearest column where it can.
    """
    deepest = max(1, round(DEEPEST_SHARE * min(blocks.shape)))
    dark = blocks[: deepest + 1] < split
    bare = blocks[0] < BARE_SHARE * split
    unseen = bare & dark.all(axis=0)
    depth = np.where(bare & ~unseen, np.argmin(dark, axis=0), 0)
    if unseen.all():
        return depth
    nearest = ndimage.distance_transform_edt(
        unseen, return_distances=False, return_indices=True
    )[0]
    return np.asarray(depth[nearest], dtype=np.int64)
