"""Hold what plates are told to share: things, a maker's habits, an outing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["GroundHeights", "Habit", "Link", "Outing", "Thing"]

Array = NDArray[np.float64]
#: Heights of the ground at places [m]; NaN where it is not known.
GroundHeights = Callable[[Array, Array], Array]


@dataclass(frozen=True)
class Thing:
    """Be something that plates show.

    Attributes
    ----------
    name : str
        What it is called.
    place_m : (float, float, float) or None
        East, north and height, if somebody knows [m].
    sd_m : (float, float, float) or None
        Their standard errors [m].
    above_ground_m, above_ground_sd_m : float or None
        How high above the ground it stands, if it is known to stand on it [m].
    """

    name: str
    place_m: tuple[float, float, float] | None = None
    sd_m: tuple[float, float, float] | None = None
    above_ground_m: float | None = None
    above_ground_sd_m: float = 5.0


@dataclass(frozen=True)
class Link:
    """Be a thing's mark on one plate.

    Attributes
    ----------
    plate, thing : int
        Their numbers in the lists given, from 0.
    x_px, y_px : float
        On the scan [px].
    sd_px : float
        How far off it may be, along one axis; more on a sketch [px].
    """

    plate: int
    thing: int
    x_px: float
    y_px: float
    sd_px: float = 2.0


@dataclass(frozen=True)
class Habit:
    """Be something that one maker's plates have alike, each about a common value.

    Attributes
    ----------
    unknown : str
        One of `wherestood.ground.together.UNKNOWNS`: ``log_distance`` for one lens,
        ``rise_px`` for a habit of rise.
    plates : tuple of int
        Which plates.
    sd : float
        How far a plate strays from the common value, in the unknown's own unit.
    """

    unknown: str
    plates: tuple[int, ...]
    sd: float


@dataclass(frozen=True)
class Outing:
    """Be two plates exposed one after the other, as numbers or one day tell.

    Attributes
    ----------
    plates : (int, int)
    sd_m : float
        How far a person carries a camera between them, along one axis [m].
    """

    plates: tuple[int, int]
    sd_m: float
