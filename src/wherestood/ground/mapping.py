"""Hold what it takes to go from a plate to the map: cameras, terrain and their doubts.

A fix that is not located leaves cameras at several places: all of them count, or those
of one place.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wherestood.errors import InputError
from wherestood.evidence.placed import TERRAIN_SD_M
from wherestood.fix.camera_draws import CameraDraws
from wherestood.ground.cameras import PlateCameras
from wherestood.terrain.ground import height_m
from wherestood.terrain.meet import SolidGround

__all__ = ["FEWEST_CAMERAS", "Doubts", "KnownPlace", "Mapping"]

Array = NDArray[np.float64]
#: Fewer drawn cameras than these tell no ellipse.
FEWEST_CAMERAS = 30
#: A point read off a scan by eye: common practice.
READING_SD_PX = 1.5


@dataclass(frozen=True)
class Doubts:
    """Say how far readings and the ground may be off.

    Attributes
    ----------
    reading_sd_px : float
        Standard error of a point read on the scan, across and along [px].
    terrain_sd_m : float
        Standard error of the elevation model's heights where a ray ends [m].
    least_angle_rad : float
        Rays that meet the ground at less than this are flagged, and not guessed [rad].
    farthest_m : float
        Rays are given up there [m].
    correlated_m : float
        Distance over which errors of the model hang together [m].

    Raises
    ------
    InputError
        If one of them cannot be.
    """

    reading_sd_px: float = READING_SD_PX
    terrain_sd_m: float = TERRAIN_SD_M
    least_angle_rad: float = np.radians(2.0)
    farthest_m: float = 30_000.0
    correlated_m: float = 300.0

    def __post_init__(self) -> None:
        """Refuse what cannot be a doubt."""
        for name, unit, value, least in (
            ("reading on the scan", "px", self.reading_sd_px, 0.0),
            ("elevation model", "m", self.terrain_sd_m, 0.0),
            ("least angle to the ground", "rad", self.least_angle_rad, 0.0),
            ("farthest distance", "m", self.farthest_m, 1.0),
            ("reach of the model's errors", "m", self.correlated_m, 1.0),
        ):
            if not (np.isfinite(value) and value >= least):
                raise InputError(
                    f"The {name} has {value:g} {unit}; it must be {least:g} or more.",
                    "Give a number that it can have.",
                )


@dataclass(frozen=True)
class KnownPlace:
    """Hold one place where the camera may have stood.

    Attributes
    ----------
    east_m, north_m : float
        In the frame [m].
    probability : float
        As the fix has it.
    """

    east_m: float
    north_m: float
    probability: float


@dataclass(frozen=True)
class Mapping:
    """Hold a plate's cameras and the terrain before them.

    Attributes
    ----------
    ground : SolidGround
    cameras : PlateCameras
        Equally probable, the doubt of the fix in them.
    scan_px : (int, int)
        Width and height of the scan [px].
    places : tuple of KnownPlace
        Where the fix has the camera, likeliest first.
    verdict : str
        Of the fix.
    doubts : Doubts
    rough : bool
        Whether the fix told of no cameras drawn together, so that they were made up
        from single doubts.
    place : int
        Which place's cameras these are, from 1; 0 for all.
    lens_height_m, lens_height_sd_m : float
        How high the lens stood above the ground under it, and its standard error [m].
    made_up : callable or None
        Makes cameras of one place's single doubts, given its number: for places about
        which the fix kept hardly any.
    scarce : bool
        Whether these are such.
    """

    ground: SolidGround
    cameras: PlateCameras
    scan_px: tuple[int, int]
    places: tuple[KnownPlace, ...]
    verdict: str
    doubts: Doubts = Doubts()
    rough: bool = False
    place: int = 0
    lens_height_m: float = 1.5
    lens_height_sd_m: float = 0.3
    made_up: Callable[[int], CameraDraws] | None = None
    scarce: bool = False

    @property
    def settled(self) -> bool:
        """Say whether the place is."""
        return self.verdict == "located"

    @property
    def mostly_reversed(self) -> bool:
        """Say whether most of the cameras have the scan left for right."""
        return bool(self.cameras.draws.reversed.mean() > 0.5)

    def one_way_round(self) -> Mapping:
        """Return the same with the cameras that have the scan as most have it."""
        alike = self.cameras.draws.reversed == self.mostly_reversed
        return self if alike.all() else self.at_cameras(np.flatnonzero(alike))

    def caution(self) -> str:
        """Return what must stand beside all that comes of it; empty if nothing must."""
        if self.settled:
            return ""
        which = (
            f"if the camera stood at place {self.place}"
            if self.place
            else "over all places where it may have stood"
        )
        rough = (
            " The fix kept hardly any cameras there, so that doubts are rough."
            if self.scarce
            else ""
        )
        return (
            f"The camera's place is not settled ({self.verdict}): this holds {which}."
            f"{rough}"
        )

    def ground_off_m(self, distance_m: Array, rng: np.random.Generator) -> Array:
        """Draw how much higher than the model the ground is before each camera.

        Parameters
        ----------
        distance_m : (cameras, points) float64 array
            From the camera; NaN counts as near [m].

        Returns
        -------
        (cameras, points) float64 array
            Near the camera it is the error under it, so that a tripod stands on its
            own ground; far off it is the model's own [m].
        """
        near = np.exp(-np.nan_to_num(distance_m) / self.doubts.correlated_m)
        own = rng.normal(0.0, self.doubts.terrain_sd_m, distance_m.shape)
        draws = self.cameras.draws
        height = rng.normal(self.lens_height_m, self.lens_height_sd_m, len(draws))
        ground_m = height_m(self.ground.model.terrain, draws.east_m, draws.north_m)
        under = np.nan_to_num(draws.lens_m - ground_m.astype(np.float64) - height)
        return np.asarray(near * under[:, None] + np.sqrt(1.0 - near**2) * own)

    def at_cameras(self, which: NDArray[np.int64]) -> Mapping:
        """Return the same with some of the cameras."""
        return replace(self, cameras=self.cameras.take(which))

    def at_place(self, place: int) -> Mapping:
        """Return what holds if the camera stood at one of the places.

        Parameters
        ----------
        place : int
            From 1, the likeliest; 0 for all.

        Raises
        ------
        InputError
            If there is no such place, or too few cameras were kept there and none can
            be made up.
        """
        if place == 0:
            return self
        if not 1 <= place <= len(self.places):
            raise InputError(
                f"There is no place {place}: the fix has {len(self.places)}.",
                f"Choose from 1 to {len(self.places)}, or 0 for all of them.",
            )
        draws = self.cameras.draws
        away = np.array(
            [
                np.hypot(draws.east_m - one.east_m, draws.north_m - one.north_m)
                for one in self.places
            ]
        )
        which = np.flatnonzero(away.argmin(axis=0) == place - 1)
        if which.size < FEWEST_CAMERAS:
            if self.made_up is not None:
                cameras = replace(self.cameras, draws=self.made_up(place))
                return replace(self, cameras=cameras, place=place, scarce=True)
            raise InputError(
                f"Of the cameras that the fix kept, {which.size} stand about place "
                f"{place}; at least {FEWEST_CAMERAS} are needed to tell a doubt.",
                "Choose a likelier place, or test this one as a proposed position.",
            )
        return replace(self, cameras=self.cameras.take(which), place=place)
