"""Find how far a plate reaches over all its scans."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from wherestood.errors import PlateError
from wherestood.plate.copies.layout import Laid
from wherestood.plate.copies.warp import Floats

__all__ = ["Extent", "widest_extent"]

_EDGE_NODES = 9
# A map that draws a copy out over this many references is no map of a picture.
_LARGEST = 20.0


@dataclass(frozen=True)
class Extent:
    """Hold what all scans of a plate cover, in pixels of the reference.

    Attributes
    ----------
    left_px, top_px, right_px, bottom_px : float
        Box about all of them; beyond the reference it is negative or larger than
        its size [px].
    outlines_px : dict of str to (nodes, 2) float64 array
        Each scan's edge [px].
    """

    left_px: float
    top_px: float
    right_px: float
    bottom_px: float
    outlines_px: dict[str, Floats]


def widest_extent(
    sizes_px: Mapping[str, tuple[int, int]], laid: Mapping[str, Laid]
) -> Extent:
    """Return the box that holds every scan, and each scan's outline.

    Parameters
    ----------
    sizes_px : mapping of str to (width, height)
        Size of each scan [px].
    laid : mapping of str to Laid
        Each scan's way to the reference.

    Raises
    ------
    PlateError
        If a map draws a scan out beyond reason.
    """
    outlines = {}
    for name, way in laid.items():
        width, height = sizes_px[name]
        outline, _ = way.carry(_edge(width, height))
        largest = _LARGEST * max(max(size) for size in sizes_px.values())
        if not np.isfinite(outline).all() or np.abs(outline).max() > largest:
            raise PlateError(
                f"The copy '{name}' would reach beyond all bounds on the reference: "
                "its points do not hold the map.",
                "Put points by hand near its corners, and register it again.",
            )
        outlines[name] = outline
    every = np.vstack(list(outlines.values()))
    left, top = every.min(axis=0)
    right, bottom = every.max(axis=0)
    return Extent(float(left), float(top), float(right), float(bottom), outlines)


def _edge(width: int, height: int) -> Floats:
    """Return nodes round a scan's edge, from its top-left corner clockwise [px]."""
    x = np.linspace(0.0, width, _EDGE_NODES)[:-1]
    y = np.linspace(0.0, height, _EDGE_NODES)[:-1]
    zero_x, zero_y = np.zeros_like(x), np.zeros_like(y)
    return np.vstack(
        [
            np.column_stack([x, zero_x]),
            np.column_stack([zero_y + width, y]),
            np.column_stack([width - x, zero_x + height]),
            np.column_stack([zero_y, height - y]),
        ]
    )
