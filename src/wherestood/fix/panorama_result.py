"""Hold the fix of several plates from one station."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from wherestood.fix.result import Fix

__all__ = ["OneStation", "Panorama", "TieTold"]


@dataclass(frozen=True)
class OneStation:
    """Say whether one plate of a panorama shares the station of the others.

    Attributes
    ----------
    plate : int
        Which, counted from 0 in the order given.
    probability : float
        That it does.
    apart_m, least_m, most_m : float
        How far away its own station would lie if it does not and is near: likeliest,
        and 9 times in 10 between [m].
    anywhere : float
        If it does not, the probability that it is from another place altogether.
    ties : int
        Tie marks that were asked.
    """

    plate: int
    probability: float
    apart_m: float
    least_m: float
    most_m: float
    anywhere: float
    ties: int


@dataclass(frozen=True)
class TieTold:
    """Hold what became of a tie mark at the cameras found.

    Attributes
    ----------
    id : str
    plates : (int, int)
        Which plates it joins, counted from 0 in the order given.
    blunder_log_odds : float
        Log odds that it joins two different things.
    off_px : float
        How far apart the two plates have it, on the first of them [px].
    """

    id: str
    plates: tuple[int, int]
    blunder_log_odds: float
    off_px: float


@dataclass(frozen=True)
class Panorama:
    """Hold the fix of several plates from one station.

    Attributes
    ----------
    fixes : tuple of Fix
        The fix as each plate sees it, in the order given: station, regions and verdict
        are the same in all, camera, skyline and evidence each plate's own.
    order : tuple of int
        How they hang, left to right, counted from 0 in the order given.
    order_probability : float
        That they hang so.
    turns_deg, turns_sd_deg : tuple of float
        Turn from the middle of each plate to that of the next in that order, and its
        standard error [deg].
    one_station : tuple of OneStation
        One a plate, in the order given.
    ties : tuple of TieTold
    one_lens : bool
        Whether one lens was taken for all.
    assumptions : dict
        What was assumed of the plates together.
    """

    fixes: tuple[Fix, ...]
    order: tuple[int, ...]
    order_probability: float
    turns_deg: tuple[float, ...]
    turns_sd_deg: tuple[float, ...]
    one_station: tuple[OneStation, ...]
    ties: tuple[TieTold, ...]
    one_lens: bool
    assumptions: dict[str, Any] = field(default_factory=dict)
