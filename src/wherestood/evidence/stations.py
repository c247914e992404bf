"""Hold the stations for which evidence is weighed."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wherestood.earth.curvature import DEFAULT_REFRACTION, MEAN_RADIUS_M
from wherestood.evidence.lens_height import LensHeight

__all__ = ["Stations"]

Array = NDArray[np.float64]

#: Where the lens is, against the model's ground and a usual stand [m].
LENS_SD_M = 3.0


@dataclass(frozen=True)
class Stations:
    """Hold stations in the frame.

    Attributes
    ----------
    east_m, north_m, lens_m : (stations,) float64 array
        Where the lens is, its height in the elevation model's datum [m].
    radius_m : float
        Mean radius of curvature R of the earth [m].
    refraction : float
        Refraction coefficient k, no unit.
    lens_sd_m : float
        Standard error of the lens's height [m].
    side_m : float
        Side of the square cell that each stands for [m]: it is averaged over, as
        another error of the place. 0 for points.
    lens_height : LensHeight or None
        What is marked on the plate shares of that error; None for ``lens_sd_m``.
    """

    east_m: Array
    north_m: Array
    lens_m: Array
    radius_m: float = MEAN_RADIUS_M
    refraction: float = DEFAULT_REFRACTION
    lens_sd_m: float = LENS_SD_M
    side_m: float = 0.0
    lens_height: LensHeight | None = None

    @property
    def height_error(self) -> LensHeight:
        """Return the error of the lens's height that all on the plate share."""
        if self.lens_height is not None:
            return self.lens_height
        return LensHeight.alone(np.full(self.count, self.lens_sd_m))

    @property
    def count(self) -> int:
        """Return how many stations there are."""
        return len(self.east_m)

    @property
    def curvature_per_m(self) -> float:
        """Return the drop over distance squared, ``(1 - k) / 2R`` [1/m]."""
        return (1.0 - self.refraction) / (2.0 * self.radius_m)

    @property
    def cell_sd_m(self) -> float:
        """Return the standard deviation of a place in the cell, along each axis."""
        return self.side_m / math.sqrt(12.0)

    def part(self, which: slice) -> Stations:
        """Return some of the stations."""
        return replace(
            self,
            east_m=self.east_m[which],
            north_m=self.north_m[which],
            lens_m=self.lens_m[which],
            lens_height=self.lens_height and self.lens_height.part(which),
        )
