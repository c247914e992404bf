"""Hold how wrong the lens's height may be at stations: one value a plate.

Symbols
-------
delta : what the lens stands higher than it is taken to [m], of variance g^2
m : cover on the horizon [m], of mean mu and variance c^2
u = m - delta : what a skyline alone can tell, and the unknown *cover* of a mode

A skyline is lifted by m and lowered by delta alike; all else on a plate is lowered by
delta alone. Given u, delta is known in part:

    delta = -(g^2 / (g^2 + c^2)) (u - mu) + rest,   var rest = g^2 c^2 / (g^2 + c^2)

Without a skyline nobody tells of u, and the rest is all there is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

__all__ = ["LensHeight"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class LensHeight:
    """Hold the error of the lens's height at stations, shared by all that is seen.

    Attributes
    ----------
    rest_sd_m : (stations,) float64 array
        Standard deviation of what the skyline does not tell of it [m].
    by_cover : (stations,) float64 array
        Its fall for a metre of the unknown *cover*, no unit.
    cover_mean_m : float
        Mean of that unknown [m].
    slope_east, slope_north : (stations,) float64 array
        How the ground, and the lens with it, rises across the cell, no unit.
    """

    rest_sd_m: Array
    by_cover: Array
    cover_mean_m: float
    slope_east: Array
    slope_north: Array

    @classmethod
    def alone(cls, sd_m: Array) -> LensHeight:
        """Return it where no skyline is scored, on level ground."""
        none = np.zeros(len(sd_m))
        return cls(np.asarray(sd_m), none, 0.0, none, none)

    @classmethod
    def beside_cover(
        cls, sd_m: Array, cover_mean_m: float, cover_sd_m: float
    ) -> LensHeight:
        """Return it where a skyline under cover is scored too, on level ground."""
        known = sd_m**2 / (sd_m**2 + cover_sd_m**2)
        none = np.zeros(len(sd_m))
        return cls(np.sqrt(known) * cover_sd_m, known, cover_mean_m, none, none)

    def on_slopes(self, slope_east: Array, slope_north: Array) -> LensHeight:
        """Return the same on ground that rises so across the cells."""
        return replace(self, slope_east=slope_east, slope_north=slope_north)

    def part(self, which: slice) -> LensHeight:
        """Return that of some of the stations."""
        return LensHeight(
            self.rest_sd_m[which],
            self.by_cover[which],
            self.cover_mean_m,
            self.slope_east[which],
            self.slope_north[which],
        )
