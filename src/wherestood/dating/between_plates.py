"""Find how many minutes lie between two plates of a panorama, by their shadows.

Solves for the difference of two hours of one day; many answers, told as a probability
over minutes. What both plates share, the bearing and the lens, falls out of the
difference; so does most of the doubt about the date.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.camera.model import Camera
from wherestood.dating.shadow import Directions, Shadow, directions_of_plates
from wherestood.dating.shadow_points import CameraDoubt
from wherestood.dating.sun_fit import GRID_SD_RAD, clear_of_hills
from wherestood.dating.sun_path import Where, sun_table

__all__ = ["CYCLE_MIN", "MinutesBetween", "minutes_between"]

Array = NDArray[np.float64]

#: A wet plate is coated, sensitised, exposed and developed in some 15 minutes, and the
#: next is not begun before: common practice. From half of that to twice that.
CYCLE_MIN = (8.0, 30.0)
MOST_DAYS = 16
#: Where every shadow is off by more standard errors than this, no hour fits.
MOST_OFF_SDS = 6.0
STEP_MIN = 2


@dataclass(frozen=True)
class MinutesBetween:
    """Hold the probability of every difference.

    Attributes
    ----------
    minutes : NDArray[np.int64]
        (differences,) of the second plate's hour less the first's [min].
    probability : NDArray[np.float64]
        (differences,), adding up to 1; all 0 where no hours fit.
    """

    minutes: NDArray[np.int64]
    probability: Array

    @property
    def mean_sd(self) -> tuple[float, float]:
        """Return mean and standard error of the difference [min]."""
        if not self.probability.any():
            return math.nan, math.nan
        mean = float(self.minutes @ self.probability)
        return mean, math.sqrt(float((self.minutes - mean) ** 2 @ self.probability))

    @property
    def second_later(self) -> float:
        """Return the probability that the second plate was exposed later."""
        at_once = float(self.probability[self.minutes == 0].sum())
        return float(self.probability[self.minutes > 0].sum()) + 0.5 * at_once

    @property
    def within_cycle(self) -> float:
        """Return the probability of a gap as the wet plate's working leaves it."""
        gap = np.abs(self.minutes)
        fits = (gap >= CYCLE_MIN[0]) & (gap <= CYCLE_MIN[1])
        return float(self.probability[fits].sum())

    @property
    def too_short(self) -> float:
        """Return the probability of a gap too short for wet plates."""
        gap = np.abs(self.minutes)
        return float(self.probability[gap < CYCLE_MIN[0]].sum())


def minutes_between(
    first: tuple[Camera, tuple[Shadow, ...]],
    second: tuple[Camera, tuple[Shadow, ...]],
    doubt: CameraDoubt,
    where: Where,
    year: int,
    day_weights: Array,
) -> MinutesBetween:
    """Find how many minutes lie between two plates of one station and day.

    Parameters
    ----------
    first, second : (Camera, tuple of Shadow)
        Each plate's camera, ``bearing_rad`` true, and its shadows.
    doubt : CameraDoubt
        Of both cameras; bearing and principal distance are shared.
    where : Where
        Where the shadows lie; minutes with the sun behind its hills count nothing.
    year : int
        The year reckoned with.
    day_weights : NDArray[np.float64]
        (366,) how probable each day is.

    Returns
    -------
    MinutesBetween

    Raises
    ------
    EvidenceError
        If a shadow cannot be used.
    """
    told = directions_of_plates([first, second], doubt)
    used = told.used
    covariance = told.covariance[np.ix_(used, used)]
    covariance = covariance + GRID_SD_RAD**2 * np.eye(len(used))
    inverse = np.linalg.inv(covariance)
    count = len(told.bearing_rad)
    of_second = (used % count) >= len(first[1])
    minutes = np.arange(0, 1440, STEP_MIN)
    differences = np.arange(-1440, 1441, STEP_MIN)
    found = np.zeros(len(differences))
    days, shares_of_days = _chosen(day_weights)
    table = [sun_table(where, year, np.array([day]), minutes)[0] for day in days]
    best = -math.inf
    for of_day, directions in zip(shares_of_days, table, strict=True):
        shone = _shone(where, directions)
        misses = _misses(told, directions)[:, used]
        one, other = misses[:, ~of_second], misses[:, of_second]
        a = inverse[np.ix_(~of_second, ~of_second)]
        b = inverse[np.ix_(of_second, of_second)]
        cross = inverse[np.ix_(~of_second, of_second)]
        squares = np.einsum("mi,ij,mj->m", one, a, one)[:, None]
        squares = squares + np.einsum("mi,ij,mj->m", other, b, other)[None, :]
        squares = squares + 2.0 * one @ cross @ other.T
        weight = shone[:, None] + shone[None, :] - 0.5 * squares
        most = float(weight.max())
        if not math.isfinite(most):
            continue
        if most > best:
            found *= math.exp(best - most) if math.isfinite(best) else 0.0
            best = most
        shares = np.exp(weight - best) * of_day
        later = (minutes[None, :] - minutes[:, None]) // STEP_MIN + len(minutes)
        found += np.bincount(
            later.ravel(), weights=shares.ravel(), minlength=len(found)
        )
    if best < -0.5 * MOST_OFF_SDS**2 * len(used):
        found[:] = 0.0
    total = found.sum()
    return MinutesBetween(differences, found / total if total > 0.0 else found)


def _shone(where: Where, directions: Array) -> Array:
    """Return how probable it is that the sun shone there, of each minute, as a log."""
    bearing = np.arctan2(directions[:, 0], directions[:, 1])
    elevation = np.arcsin(np.clip(directions[:, 2], -1.0, 1.0))
    clear = np.where(elevation > 0.0, 1.0, 0.0)
    if where.horizon is not None:
        clear = clear * clear_of_hills(where.horizon, bearing, elevation)
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(clear))


def _chosen(day_weights: Array) -> tuple[NDArray[np.int64], Array]:
    """Return days that stand for all, each for as much, and what each stands for."""
    days = np.flatnonzero(day_weights > 0.0) + 1
    if len(days) <= MOST_DAYS:
        return days, day_weights[days - 1]
    held = np.cumsum(day_weights) / day_weights.sum()
    middles = (np.arange(MOST_DAYS) + 0.5) / MOST_DAYS
    at, count = np.unique(np.searchsorted(held, middles), return_counts=True)
    return at + 1, count / MOST_DAYS


def _misses(told: Directions, directions: Array) -> Array:
    """Return what each shadow tells less where the sun stood: (minutes, rows)."""
    bearing = np.arctan2(directions[:, 0], directions[:, 1])
    elevation = np.arcsin(np.clip(directions[:, 2], -1.0, 1.0))
    turns = told.bearing_rad[None, :] - bearing[:, None]
    turns = (turns + np.pi) % (2.0 * np.pi) - np.pi
    ups = told.elevation_rad[None, :] - elevation[:, None]
    return np.concatenate([turns * told.level, ups], axis=1)
