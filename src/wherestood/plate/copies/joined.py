"""Draw all scans of a plate as one picture over their widest extent."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from wherestood.plate.copies.layout import Laid
from wherestood.plate.copies.register import Picture
from wherestood.plate.copies.widest import Extent

__all__ = ["joined_picture"]

Grey = NDArray[np.float32]

_BLANK = 1.0
_STRIP_ROWS = 256


def joined_picture(
    pictures: Mapping[str, Picture],
    laid: Mapping[str, Laid],
    extent: Extent,
    order: Sequence[str],
    longest_px: int = 2000,
) -> Grey:
    """Draw each scan where it lies on the reference, the first of an order on top.

    Parameters
    ----------
    pictures : mapping of str to Picture
        The scans.
    laid : mapping of str to Laid
        Each scan's way to the reference.
    extent : Extent
        What they cover.
    order : sequence of str
        Which lies over which; those that are not laid are left out.
    longest_px : int
        Longest side of the drawing [px].

    Returns
    -------
    (rows, columns) float32 array
        0 (black) to 1 (white); white where no scan shows anything. For looking at:
        tones of the scans are put side by side as they are.
    """
    width = extent.right_px - extent.left_px
    height = extent.bottom_px - extent.top_px
    share = min(1.0, longest_px / max(width, height))
    columns, rows = max(1, round(width * share)), max(1, round(height * share))
    x = extent.left_px + (np.arange(columns) + 0.5) * width / columns
    y = extent.top_px + (np.arange(rows) + 0.5) * height / rows
    drawn = np.full((rows, columns), np.nan, dtype=np.float32)
    for name in order:
        if name not in laid:
            continue
        for first in range(0, rows, _STRIP_ROWS):
            strip = drawn[first : first + _STRIP_ROWS]
            places = np.stack(np.meshgrid(x, y[first : first + _STRIP_ROWS]), axis=-1)
            on_scan, _ = laid[name].carry_back(places.reshape(-1, 2))
            seen = _seen(pictures[name], on_scan.reshape(places.shape))
            blank = np.isnan(strip)
            strip[blank] = seen[blank]
    return np.nan_to_num(drawn, nan=_BLANK)


def _seen(picture: Picture, places_px: NDArray[np.float64]) -> Grey:
    """Return the tones of a picture at places of its whole scan; NaN outside."""
    height, width = picture.grey.shape
    scale = (width / picture.width_px, height / picture.height_px)
    at = (places_px * scale - 0.5).astype(np.float32)
    at[~np.isfinite(at)] = -10.0
    seen = cv2.remap(
        picture.grey,
        at[..., 0],
        at[..., 1],
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=float("nan"),
    )
    return np.asarray(seen, dtype=np.float32)
