"""Draw contours of a part of a terrain."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from contourpy import contour_generator
from numpy.typing import NDArray

from wherestood.errors import InputError
from wherestood.terrain.model import Terrain

__all__ = ["ContourLine", "contours", "usual_interval_m"]

MOST_LEVELS = 400
MOST_SIDE = 1200  # nodes of the part; where it has more, every other is left out
_INTERVALS_M = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0)
#: So many metres of ground a pixel for each metre of interval: common practice is a
#: 10 m interval on maps at 1:25,000, which on a screen is some 7 m a pixel.
_PX_M_PER_INTERVAL = 0.7
#: Lines are drawn so much below their height [m]: a lake or the sea that lies flat at
#: that very height is then above the line, which would run along its cells otherwise.
_BELOW_M = 1e-3


@dataclass(frozen=True)
class ContourLine:
    """Hold a line of one height [m], as (n, 2) float64 array of east, north [m]."""

    height_m: float
    points_m: NDArray[np.float64]


def usual_interval_m(resolution_m: float) -> float:
    """Return the interval that suits a map of so many metres a pixel [m]."""
    wanted = resolution_m / _PX_M_PER_INTERVAL
    return next((step for step in _INTERVALS_M if step >= wanted), _INTERVALS_M[-1])


def contours(
    terrain: Terrain,
    box_m: tuple[float, float, float, float],
    interval_m: float,
    tolerance_m: float,
) -> list[ContourLine]:
    """Return the contours within a box.

    Parameters
    ----------
    terrain : Terrain
        The elevation model.
    box_m : (west, south, east, north)
        The part wanted, frame coordinates [m].
    interval_m : float
        From one height to the next [m].
    tolerance_m : float
        How far a line may be moved to need fewer points [m].

    Returns
    -------
    list of ContourLine
        Lowest first; none where nothing is known. Ground that is flat at a line's
        own height has no line about it.

    Raises
    ------
    InputError
        If the interval is not above 0, or would need too many lines.
    """
    if not interval_m > 0.0:
        raise InputError(
            f"The interval of contours is {interval_m:g} m; it must be above 0.",
            "Give it in metres.",
        )
    rows, columns = terrain.elevation_m.shape
    west, south, east, north = box_m
    first = _between((west - terrain.west_m) / terrain.cell_m - 1, columns)
    last = _between((east - terrain.west_m) / terrain.cell_m + 2, columns)
    bottom = _between((south - terrain.south_m) / terrain.cell_m - 1, rows)
    top = _between((north - terrain.south_m) / terrain.cell_m + 2, rows)
    stride = max(1, (max(last - first, top - bottom) - 1) // MOST_SIDE + 1)
    heights_m = terrain.elevation_m[bottom:top:stride, first:last:stride]
    known = heights_m[np.isfinite(heights_m)]
    if min(heights_m.shape) < 2 or known.size == 0:
        return []
    lowest = np.ceil(known.min() / interval_m) * interval_m
    levels = np.arange(lowest, known.max(), interval_m)
    if levels.size > MOST_LEVELS:
        raise InputError(
            f"Contours every {interval_m:g} m would be {levels.size} lines high.",
            "Ask for a wider interval.",
        )
    east_m = terrain.west_m + terrain.cell_m * np.arange(first, last, stride)
    north_m = terrain.south_m + terrain.cell_m * np.arange(bottom, top, stride)
    drawn = contour_generator(east_m, north_m, np.ma.masked_invalid(heights_m))
    lines = []
    for level in levels:
        for points in drawn.lines(float(level) - _BELOW_M):
            line = shapely.simplify(shapely.linestrings(points), tolerance_m)
            lines.append(ContourLine(float(level), shapely.get_coordinates(line)))
    return lines


def _between(node: float, count: int) -> int:
    return int(min(max(node, 0), count))
