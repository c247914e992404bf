"""Choose the one camera that stands for all that a fix leaves possible."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wherestood.ground.mapping import Mapping

__all__ = ["central_camera"]

Array = NDArray[np.float64]
_ACROSS = np.array([0.1, 0.5, 0.9])


def central_camera(mapping: Mapping) -> int:
    """Return which camera stands and looks most in the middle of all.

    Notes
    -----
    Station and lens height, and the directions of nine points of the frame, each in its
    own spread about its median: what makes up for another does not count twice.
    """
    draws = mapping.cameras.draws
    width, height = mapping.scan_px
    x, y = np.meshgrid(width * _ACROSS, height * _ACROSS)
    bearing, tangent = mapping.cameras.directions(x.ravel(), y.ravel())
    turn = bearing - bearing[0]
    turn = (turn + np.pi) % (2.0 * np.pi) - np.pi
    columns = np.column_stack(
        (draws.east_m, draws.north_m, draws.lens_m, turn, np.nan_to_num(tangent))
    )
    off = columns - np.median(columns, axis=0)
    spread = np.median(np.abs(off), axis=0)
    return int(np.argmin(((off / np.maximum(spread, 1e-12)) ** 2).sum(axis=1)))
