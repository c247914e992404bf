"""Hold a fix: the answer, its doubt and what it rests on."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from wherestood.errors import InputError
from wherestood.fix.camera_draws import CameraDraws
from wherestood.fix.checked import Checks, LeftOut

__all__ = [
    "Alternative",
    "CameraAnswer",
    "ChangedGroundTold",
    "Fix",
    "GroundInView",
    "LeftOut",
    "Proposed",
    "ProposedTold",
    "StationAnswer",
    "Verdict",
]

Verdict = Literal["located", "several places", "not determined"]


def _no_ridges() -> NDArray[np.float64]:
    return np.empty((0, 2, 2))


@dataclass(frozen=True)
class StationAnswer:
    """Say where a camera stood: WGS 84 [deg], height in the model's datum [m]."""

    lon_deg: float
    lat_deg: float
    height_m: float
    sd_east_m: float
    sd_north_m: float
    sd_height_m: float
    east_m: float  # frame coordinates
    north_m: float


@dataclass(frozen=True)
class CameraAnswer:
    """Say how a camera was held. Bearings true, clockwise from north [deg].

    ``sd`` and ``prior_share`` have the keys ``bearing_deg, tilt_deg, roll_deg,
    principal_distance_px, rise_px, cross_px, k1, sight_bearing_deg,
    sight_elevation_deg``; ``rise`` and ``cross`` are plate-centre offsets from
    the lens axis (trim included); millimetre values are None where plate size
    or resolution is not known.
    """

    bearing_deg: float
    grid_bearing_deg: float
    tilt_deg: float
    roll_deg: float
    principal_distance_px: float
    principal_distance_mm: float | None
    rise_px: float
    rise_mm: float | None
    cross_px: float
    cross_mm: float | None
    k1: float
    reversed: bool
    sight_bearing_deg: float
    sight_elevation_deg: float
    sd: dict[str, float] = field(default_factory=dict)
    prior_share: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Alternative:
    """Be one separate piece of the probability: its best station, camera and share.

    ``computed_skyline_px``, ``horizon_distance_m``, ``rms_px``, ``evidence`` and
    ``computed_ridges_px`` are as those of `Fix`, for this place's own camera; None,
    NaN or empty where not computed.
    """

    station: StationAnswer
    camera: CameraAnswer
    probability: float
    computed_skyline_px: NDArray[np.float64] | None = None
    horizon_distance_m: NDArray[np.float64] | None = None
    rms_px: float = math.nan
    evidence: tuple[dict[str, Any], ...] = ()
    computed_ridges_px: NDArray[np.float64] = field(default_factory=_no_ridges)


@dataclass(frozen=True)
class GroundInView:
    """Say what the elevation model does not know of the ground in a view.

    Attributes
    ----------
    horizon_unknown : float
        Share of the plate's width where the horizon is not known, by the model's
        edge or a hole in it; it counted for nothing there.
    hole_before : float
        Share of the width where the horizon is known but a hole lies before it;
        it was taken for low ground.
    ends_m : float
        Distance at which the model first ends [m]; infinite where it reaches as
        far everywhere as land was looked for.
    """

    horizon_unknown: float
    hole_before: float
    ends_m: float


@dataclass(frozen=True)
class ChangedGroundTold:
    """Say how a fix leans on ground that was otherwise in the plate's years.

    Attributes
    ----------
    id, change : str
        As the evidence has them.
    chance : float
        Probability, by its dates, that it was so when the plate was exposed.
    why : str
        What makes that doubtful; empty where nothing does.
    skyline_share : float
        Share of the plate's width over which the horizon stands on it, or would if
        the ground were as it is now.
    under_station : bool
        Whether the likeliest camera stands on it.
    reached : int
        Nodes of the elevation model that it changed.
    """

    id: str
    change: str
    chance: float
    why: str
    skyline_share: float
    under_station: bool
    reached: int


@dataclass(frozen=True)
class Proposed:
    """Hold a position that somebody proposed.

    Attributes
    ----------
    name : str
        Whose answer, or the place's name.
    lon_deg, lat_deg : float
        WGS 84 [deg].
    doubt_m : float
        How far off it may be besides what is near enough [m].
    bearing_deg, bearing_sd_deg : float or None, float
        Which way it is said to look, true, from 0 to 360 [deg], and its standard
        error.
    reason : str
        Why they think so.

    Raises
    ------
    InputError
        If it is no place on the earth, or a doubt is none.
    """

    name: str
    lon_deg: float
    lat_deg: float
    doubt_m: float = 0.0
    bearing_deg: float | None = None
    bearing_sd_deg: float = 5.0
    reason: str = ""

    def __post_init__(self) -> None:
        """Refuse what cannot be; bring the bearing between 0 and 360."""
        on_earth = abs(self.lon_deg) <= 360.0 and abs(self.lat_deg) <= 90.0
        if not on_earth:
            raise InputError(
                f"The proposed position {self.name!r} is not on the earth: "
                f"{self.lon_deg:g}, {self.lat_deg:g}.",
                "Give longitude first, then latitude, in WGS 84 degrees.",
            )
        if not (math.isfinite(self.doubt_m) and self.doubt_m >= 0.0):
            raise InputError(
                f"The proposed position {self.name!r} has a doubt of "
                f"{self.doubt_m:g} m; it must be 0 or more.",
                "Say how far off it may be, or leave it out.",
            )
        if self.bearing_deg is None:
            return
        sd_deg = self.bearing_sd_deg
        if not (
            math.isfinite(self.bearing_deg) and math.isfinite(sd_deg) and sd_deg > 0
        ):
            raise InputError(
                f"The bearing of the proposed position {self.name!r} is "
                f"{self.bearing_deg:g}, give or take {sd_deg:g} degrees.",
                "Give degrees from true north, and a doubt above 0.",
            )
        object.__setattr__(self, "bearing_deg", self.bearing_deg % 360.0)


@dataclass(frozen=True)
class ProposedTold:
    """Hold what the evidence says of a proposed position.

    Attributes
    ----------
    proposed : Proposed
    verdict : {"fits", "fits poorly", "impossible"}
    log_ratio : float
        Log probability near enough to it over that of the likeliest place.
    because : tuple of (str, float)
        Each item and how much worse it fares there [log], the worst first.
    bearing_off_sds : float
        How many standard errors the bearing is off; NaN where none was given.
    bearing_off_deg : float
        How far the bearing given lies clockwise of the one that fits there, -180 to
        180 [deg]; NaN where none was given.
    answer : Alternative or None
        The best station and camera near enough to it; None on unknown ground.
    apart_m : float
        From the position proposed to that station [m].
    """

    proposed: Proposed
    verdict: Literal["fits", "fits poorly", "impossible"]
    log_ratio: float
    because: tuple[tuple[str, float], ...]
    bearing_off_sds: float
    bearing_off_deg: float = math.nan
    answer: Alternative | None = None
    apart_m: float = math.nan


@dataclass(frozen=True)
class Fix:
    """Hold the probability over the ground searched and what was concluded.

    Attributes
    ----------
    regions : dict of float to MultiPolygon
        Highest-density regions keyed 0.5, 0.9, 0.99, lon and lat [deg].
    computed_skyline_px : (n, 2) float64 array
        The computed horizon of the best camera in scan pixels, NaN rows outside.
    horizon_distance_m : (n,) float64 array
        Distance of each of those points [m].
    cells : (m, 4) float64 array
        East, north, side [m] and probability of each cell that holds mass.
    alternatives : tuple of Alternative
        The other places, likeliest first (the station itself is not repeated).
    chance : float
        Odds that so good a match arises by chance on ground like this; NaN where the
        elevation model has too little other ground to try it on.
    evidence : tuple of dict
        ``id, kind`` of each item; ``residual, pull`` of the skyline, ``trust,
        log_odds`` of a ridge line (None if it is too short to count).
    assumptions, timing_s : dict
        Every prior and setting used; seconds a stage.
    reasons : tuple of str
        Why the verdict is what it is, in plain words.
    share_when_doubled : float
        Probability near enough to the first place when everything doubtful is
        doubled; NaN where that was not tried.
    reversed_probability : float
        That the scan is left for right; NaN where only one way was tried.
    ground_in_view : GroundInView or None
        What is not known of the ground in the first place's view.
    computed_ridges_px : (k, 2, 2) float64 array
        Short stretches of ridges below the horizon, as the best camera would show
        them: ends in scan pixels.
    left_out : tuple of LeftOut
        What the fix would be without each group of its evidence.
    checks : Checks
        What the other checks found.
    proposed : tuple of ProposedTold
        What the evidence says of positions that somebody proposed.
    changed_ground : tuple of ChangedGroundTold
        How the fix leans on ground that changed.
    draws : CameraDraws or None
        Cameras drawn by their probabilities, each with its place: what goes on from
        the fix rests on these.
    """

    verdict: Verdict
    near_enough_m: float
    station: StationAnswer
    camera: CameraAnswer
    regions: dict[float, MultiPolygon]
    elsewhere: float
    alternatives: tuple[Alternative, ...]
    rms_px: float
    chance: float
    evidence: tuple[dict[str, Any], ...]
    computed_skyline_px: NDArray[np.float64]
    horizon_distance_m: NDArray[np.float64]
    cells: NDArray[np.float64]
    near_enough_share: float
    reasons: tuple[str, ...]
    assumptions: dict[str, Any]
    timing_s: dict[str, float]
    share_when_doubled: float = math.nan
    reversed_probability: float = math.nan
    ground_in_view: GroundInView | None = None
    computed_ridges_px: NDArray[np.float64] = field(default_factory=_no_ridges)
    left_out: tuple[LeftOut, ...] = ()
    checks: Checks = field(default_factory=Checks)
    proposed: tuple[ProposedTold, ...] = ()
    changed_ground: tuple[ChangedGroundTold, ...] = ()
    draws: CameraDraws | None = None
