"""Hold a traced skyline, and read and write it as a file."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

__all__ = ["Skyline"]


@dataclass(frozen=True)
class Skyline:
    """Hold the boundary of land and sky, one sample a column at most.

    Coordinates are full-size pixels of the *upright positive* scan: origin at
    the top-left corner, x right, y down, pixel centres at integers + 0.5.

    Attributes
    ----------
    x_px, y_px : (n,) float64 array
        Sample positions [px], x strictly increasing; no NaN: a gap is a run of
        columns without samples.
    sd_px : (n,) float64 array
        Standard error of each sample, vertically [px].
    width_px, height_px : int
        Size of the scan [px].
    break_after : (n,) bool array
        True where the line is broken between this sample and the next.
    blind : bool
        True if traced without sight of the computed horizon.
    source : str
        ``"traced"``, or the name of the file it came from.
    """

    x_px: NDArray[np.float64]
    y_px: NDArray[np.float64]
    sd_px: NDArray[np.float64]
    width_px: int
    height_px: int
    break_after: NDArray[np.bool_]
    blind: bool = True
    source: str = "traced"
    notes: tuple[str, ...] = field(default=())
