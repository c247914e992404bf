"""Grade what a plate is worth for mapping, before anyone draws on it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from wherestood.ground.mapping import Mapping
from wherestood.ground.points import GRAZING, ground_points
from wherestood.terrain.meet import GROUND, SKY

__all__ = ["MappingWorth", "mapping_worth"]

Array = NDArray[np.float64]
Grade = Literal["good", "in part", "poor"]
#: Points asked, across and down.
_ACROSS, _DOWN = 24, 18
#: Rays that meet the ground at this map it well: 10 degrees make an error of pointing
#: six times as long as it is wide. Our own bounds, no trade's.
_STEEP_RAD = np.radians(10.0)
_GOOD, _IN_PART = 0.6, 0.25


@dataclass(frozen=True)
class MappingWorth:
    """Hold what of a plate can be carried to the map.

    Attributes
    ----------
    grade : {"good", "in part", "poor"}
        Good: 60% or more of the land shown can be placed. In part: 25% or more.
    land : float
        Share of the frame that is not sky.
    placed, steep, grazing : float
        Shares of the land that can be placed, that are met at over 10 degrees, and
        that are met too flatly to be placed.
    doubt_m : float
        Half the length of the ellipse that holds 9 in 10, in the middle of all points
        placed [m]; NaN where none is.
    angle_deg : float
        Angle to the ground, in the middle of them [deg].
    nearest_m, farthest_m : float
        Between these they lie [m].
    """

    grade: Grade
    land: float
    placed: float
    steep: float
    grazing: float
    doubt_m: float
    angle_deg: float
    nearest_m: float
    farthest_m: float


def mapping_worth(mapping: Mapping, rng: np.random.Generator) -> MappingWorth:
    """Return what of the plate can be carried to the map, over a grid of its points."""
    width, height = mapping.scan_px
    x, y = np.meshgrid(
        (np.arange(_ACROSS) + 0.5) * width / _ACROSS,
        (np.arange(_DOWN) + 0.5) * height / _DOWN,
    )
    found = ground_points(mapping, x.ravel(), y.ravel(), rng)
    on = found.what == GROUND
    land = found.what != SKY
    count = max(int(land.sum()), 1)
    placed = float(on.sum()) / count
    steep = float((on & (found.angle_rad > _STEEP_RAD)).sum()) / count
    grade: Grade = (
        "good" if placed >= _GOOD else "in part" if placed >= _IN_PART else "poor"
    )

    def middle(values: Array, share: float = 0.5) -> float:
        return float(np.quantile(values[on], share)) if on.any() else float("nan")

    return MappingWorth(
        grade,
        float(land.mean()),
        placed,
        steep,
        float((found.what == GRAZING).sum()) / count,
        middle(found.ellipses.major_m),
        float(np.degrees(middle(found.angle_rad))),
        middle(found.distance_m, 0.0),
        middle(found.distance_m, 1.0),
    )
