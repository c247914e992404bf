"""Hold what is believed of the errors between a skyline and a model's horizon."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

__all__ = ["SkylineNoise"]

# Long sd, long length, short sd, short length, white, sideways [m], factor on the
# doubt of the trace. How rough cover and model are is not known beforehand, so every
# station is scored at each level and the levels are mixed: one fixed level makes far
# hills win by default. Where ground is bare and well surveyed a trace is as good as it
# says it is.
_LEVELS = (
    (1.5, 500.0, 0.5, 60.0, 0.2, 8.0, 1.0),
    (3.0, 500.0, 1.0, 60.0, 0.3, 10.0, 1.0),
    (6.0, 500.0, 2.0, 60.0, 0.6, 15.0, 1.0),
    (10.0, 500.0, 4.0, 60.0, 1.0, 20.0, 2.0),
    (18.0, 500.0, 6.0, 60.0, 1.5, 25.0, 2.0),
    (30.0, 500.0, 10.0, 60.0, 2.0, 40.0, 2.0),
)
_MIDDLE = 2

#: Mean and sd of what stands above the model's horizon, by kind of surface [m].
#: From trials on invented plates: bare-ground models lack trees and plane crests.
_COVER_M = {"ground": (8.0, 8.0), "top": (0.0, 10.0), "unknown": (3.0, 10.0)}


@dataclass(frozen=True)
class SkylineNoise:
    """Hold the noise model of a skyline.

    Attributes
    ----------
    levels : (n, 7) float64 array
        As `evidence.whiten.LEVEL`.
    level_log_weight : (n,) float64 array
        Log prior weight of each level.
    middle : int
        The level to climb with.
    cover_mean_m, cover_sd_m : float
        What stands above the model's horizon, on average over the plate [m].
    foreground_log_odds : float
        Log odds a sample that foreground begins: what the model cannot foretell.
    temper : float
        Factor on every log likelihood of a camera; see Notes.
    station_power : float
        Factor on a station's log density, its cameras summed over.
    doubt : float
        How many times as doubtful as usual everything is.

    Notes
    -----
    What the model leaves out (ridges that swap, crests planed off, lenses that
    are not quite so) makes even this likelihood too bold. Two factors, fitted to
    coverage on invented plates and stated in every fix, make up for it: a milder one
    while cameras are compared at one station, and the rest of it once they are summed
    over. A single strong one lets every station find some camera that it half believes.
    """

    levels: NDArray[np.float64]
    level_log_weight: NDArray[np.float64]
    middle: int
    cover_mean_m: float
    cover_sd_m: float
    foreground_log_odds: float = -5.0
    temper: float = 0.6
    station_power: float = 2.0 / 3.0
    doubt: float = 1.0

    @property
    def whole_power(self) -> float:
        """Return the power of the likelihood when stations are compared."""
        return self.temper * self.station_power

    @classmethod
    def usual(cls, surface: str) -> SkylineNoise:
        """Return the noise model for a kind of surface."""
        levels = np.array(_LEVELS)
        weight = np.full(len(levels), -np.log(len(levels)))
        mean_m, sd_m = _COVER_M[surface]
        return cls(levels, weight, _MIDDLE, mean_m, sd_m)

    def doubled(self) -> SkylineNoise:
        """Return it with cover, tracing and correlation lengths twice as large.

        How often foreground comes is no size and stays, and so does the mean cover.
        """
        return replace(
            self,
            levels=self.levels * 2.0,
            cover_sd_m=2.0 * self.cover_sd_m,
            doubt=2.0 * self.doubt,
        )
