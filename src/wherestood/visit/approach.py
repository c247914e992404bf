"""Tell from which side the ground lets a person come to a spot."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wherestood.record.doubt import compass_words
from wherestood.terrain.ground import height_m
from wherestood.terrain.model import Terrain

__all__ = ["Approach", "approach_facts", "gentlest_approach"]

#: How far round a spot sides are looked at [m], and in how many directions.
REACH_M = 150.0
_SIDES = 16
#: A step over which steepness is judged [m]; that of the terrain where it is coarser.
_STEP_M = 10.0
#: Steeper ground is climbed with hands: common practice [deg].
_HANDS_DEG = 30.0


@dataclass(frozen=True)
class Approach:
    """Hold the side from which the ground is gentlest.

    Attributes
    ----------
    bearing_deg : float
        From the spot towards where one comes from, grid [deg].
    steepest_deg : float
        Steepest step of that way [deg].
    reach_m : float
        How far it was looked at [m].
    """

    bearing_deg: float
    steepest_deg: float
    reach_m: float


def gentlest_approach(terrain: Terrain, at_m: tuple[float, float]) -> Approach | None:
    """Return the side whose steepest step is the least steep, and dry.

    Parameters
    ----------
    terrain : Terrain
    at_m : (east, north)
        The spot, frame coordinates [m].

    Returns
    -------
    Approach or None
        None where every side leads over water or unknown ground.
    """
    step_m = max(_STEP_M, terrain.source_cell_m or terrain.cell_m)
    reach_m = max(REACH_M, 3.0 * step_m)
    away = np.arange(0.0, reach_m + 0.5 * step_m, step_m)
    bearing_deg = np.arange(_SIDES) * (360.0 / _SIDES)
    angle = np.radians(bearing_deg)[:, None]
    east, north = at_m[0] + np.sin(angle) * away, at_m[1] + np.cos(angle) * away
    heights = height_m(terrain, east, north).astype(np.float64)
    steep_deg = np.degrees(np.arctan(np.abs(np.diff(heights, axis=1)) / step_m))
    worst = steep_deg.max(axis=1)  # NaN over unknown ground
    if terrain.water is not None:
        rows, columns = terrain.water.shape
        column = np.rint((east - terrain.west_m) / terrain.cell_m).astype(int)
        row = np.rint((north - terrain.south_m) / terrain.cell_m).astype(int)
        wet = terrain.water[row.clip(0, rows - 1), column.clip(0, columns - 1)]
        worst = np.where(wet[:, 1:].any(axis=1), np.nan, worst)
    if not np.isfinite(worst).any():
        return None
    # Of sides that hardly differ, the one that is gentle all the way.
    score = worst + 0.1 * np.nan_to_num(steep_deg).mean(axis=1)
    best = int(np.nanargmin(score))
    return Approach(float(bearing_deg[best]), float(worst[best]), float(away[-1]))


def approach_facts(approach: Approach | None, turn_deg: float) -> list[tuple[str, str]]:
    """Return in words from which side to come, and that it is no route.

    Parameters
    ----------
    approach : Approach or None
    turn_deg : float
        Grid convergence: true bearings are so much larger [deg].
    """
    if approach is None:
        return [("Approach side", "none that the elevation model tells dry")]
    side = compass_words((approach.bearing_deg + turn_deg) % 360.0)
    words = (
        f"from {side}, where the last {approach.reach_m:.0f} m are nowhere steeper "
        f"than {approach.steepest_deg:.0f}° by the elevation model; fences, woods, "
        "bogs and leave to cross are not in it"
    )
    if approach.steepest_deg > _HANDS_DEG:
        words += ". Every side is steep"
    return [("Approach side", words)]
