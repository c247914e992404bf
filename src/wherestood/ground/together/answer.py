"""Hold what several plates tell together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.fix.camera_draws import CameraDraws
from wherestood.ground.together.plate_prior import PlatePrior, as_draws
from wherestood.ground.together.told import Link, Thing

__all__ = [
    "USUALLY_WRONG", "PlateTogether", "ThingTogether", "Together", "area90_m2",
]  # fmt: skip

Array = NDArray[np.float64]
#: 90% point of a plane's normal scatter, chi-square of 2 degrees of freedom.
_HELD = -2.0 * np.log(0.1)
#: One mark in so many is of another thing: common practice.
USUALLY_WRONG = 0.03
#: Farther from what chance leaves over than this, in standard errors, is no chance.
_CHANCE_SDS = 6.0


def area90_m2(covariance_m2: Array) -> float:
    """Return the area of the ellipse that holds 9 in 10 of a plane's scatter [m^2]."""
    return float(np.pi * _HELD * np.sqrt(max(np.linalg.det(covariance_m2), 0.0)))


@dataclass(frozen=True)
class PlateTogether:
    """Hold a plate as all plates together have it.

    Attributes
    ----------
    own : PlatePrior
        As its own fix has it.
    mean : (13,) float64 array
    covariance : (13, 13) float64 array
        In the order of `UNKNOWNS`.
    """

    own: PlatePrior
    mean: Array
    covariance: Array

    @property
    def station_m(self) -> tuple[float, float]:
        """Return east and north of its station [m]."""
        return float(self.mean[0]), float(self.mean[1])

    @property
    def area90_m2(self) -> float:
        """Return the area of its joint 90% region [m^2]."""
        return area90_m2(self.covariance[:2, :2])

    @property
    def own_area90_m2(self) -> float:
        """Return the area of the region that its own fix gives it [m^2]."""
        return area90_m2(self.own.covariance[:2, :2])

    @property
    def moved_m(self) -> float:
        """Return how far its station moved [m]."""
        return float(np.hypot(*(self.mean - self.own.mean)[:2]))

    @property
    def moved_sds(self) -> float:
        """Return how far it moved in standard errors of its own fix."""
        off = (self.mean - self.own.mean)[:2]
        size = off @ np.linalg.solve(self.own.covariance[:2, :2], off)
        return float(np.sqrt(size))

    def holds(self, east_m: float, north_m: float) -> bool:
        """Say whether a place lies in the joint 90% region."""
        off = np.array([east_m, north_m]) - self.mean[:2]
        inside = off @ np.linalg.solve(self.covariance[:2, :2], off) <= _HELD
        return bool(inside)

    def draws(self, rng: np.random.Generator, count: int = 300) -> CameraDraws:
        """Draw cameras as all plates together leave them possible."""
        sd = np.sqrt(np.diag(self.covariance))
        values, axes = np.linalg.eigh(self.covariance / np.outer(sd, sd))
        root = (axes * np.sqrt(np.maximum(values, 0.0))).T * sd
        normal = rng.standard_normal((count, len(self.mean)))
        return as_draws(self.mean + normal @ root, mirrored=self.own.reversed)


@dataclass(frozen=True)
class ThingTogether:
    """Hold the place that all plates together give a thing.

    Attributes
    ----------
    thing : Thing
        As it was told.
    place_m : (3,) float64 array
        East, north and height [m].
    covariance_m2 : (3, 3) float64 array
    plates : tuple of int
        Which plates show it.
    """

    thing: Thing
    place_m: Array
    covariance_m2: Array
    plates: tuple[int, ...]

    @property
    def area90_m2(self) -> float:
        """Return the area of its 90% region on the map [m^2]."""
        return area90_m2(self.covariance_m2[:2, :2])

    def holds(self, east_m: float, north_m: float) -> bool:
        """Say whether a place lies in its 90% region on the map."""
        off = np.array([east_m, north_m]) - self.place_m[:2]
        inside = off @ np.linalg.solve(self.covariance_m2[:2, :2], off) <= _HELD
        return bool(inside)


@dataclass(frozen=True)
class Together:
    """Hold what several plates tell together.

    Attributes
    ----------
    plates : tuple of PlateTogether
    things : tuple of ThingTogether
    links : tuple of Link
    off_px : (links, 2) float64 array
        Each mark less where the answer shows its thing [px].
    wrong : (links,) float64 array
        How probable it is that a mark is of another thing.
    rounds : int
        Of the solver.
    settled : bool
        Whether it came to rest.
    left_over, freedom : float
        What marks that fit and the plates' own fixes leave over, squared, in their
        standard errors, and what chance leaves of it in the mean.
    """

    plates: tuple[PlateTogether, ...]
    things: tuple[ThingTogether, ...]
    links: tuple[Link, ...]
    off_px: Array
    wrong: Array
    rounds: int
    settled: bool
    left_over: float
    freedom: float

    @property
    def sound(self) -> bool:
        """Say whether it leaves over no more than chance does.

        Plates that folded into one another rest as well as others do; but their marks
        do not fit, or only by cameras that no fix believes.
        """
        most = self.freedom + _CHANCE_SDS * np.sqrt(2.0 * max(self.freedom, 1.0))
        share, count = USUALLY_WRONG, max(len(self.links), 1)
        wrong = share + _CHANCE_SDS * np.sqrt(share * (1.0 - share) / count)
        return bool(
            self.settled and self.left_over <= most and self.wrong.mean() <= wrong
        )
