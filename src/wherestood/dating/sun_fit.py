"""Find the days and hours at which the sun stood as a plate's shadows say.

Solves for day of the year and local mean time, over every day and minute that date and
hour leave. The weight of each is

    p(day) p(minute) exp(-1/2 r' C^-1 r)  prod of edges, of faces, of the horizon

    r   bearings told less the sun's, times the elevation's cosine; elevations told less
        the sun's; C their joint covariance (`wherestood.dating.shadow`)
"""

from __future__ import annotations

import calendar
import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from wherestood.dating.shadow import Directions
from wherestood.dating.sun import seconds_of_day, sun_at
from wherestood.dating.sun_path import Horizon, Where, sun_table

__all__ = [
    "GRID_SD_RAD",
    "Face",
    "Seen",
    "SunFit",
    "clear_of_hills",
    "fit_sun",
    "log_weight",
]

Array = NDArray[np.float64]

DAY_MIN = 1440
#: Hours that fit are two where so much between them does not [min].
APART_MIN = 15
#: What whole minutes, straight lines between nodes and leap years leave open [rad].
GRID_SD_RAD = math.radians(0.08)
#: How sharply hills and the elevation model's errors cut the sun off [rad].
HORIZON_SD_RAD = math.radians(0.3)


@dataclass(frozen=True)
class Face:
    """Say that an upright face is lit by the sun, or is not.

    Attributes
    ----------
    looks_deg : float
        True bearing square to it, outwards [deg].
    lit : bool
        Whether the sun falls on it.
    sd_deg : float
        Standard error of that bearing [deg].
    """

    looks_deg: float
    lit: bool
    sd_deg: float = 2.0


@dataclass(frozen=True)
class Seen:
    """Be all that a plate shows of the sun.

    Attributes
    ----------
    directions : Directions or None
        Shadows of upright things.
    edges : tuple of (normal, covariance)
        Planes that hold the sun (`wherestood.dating.shadow_edge.edge_normal`).
    faces : tuple of Face
        Faces lit and not lit.
    """

    directions: Directions | None = None
    edges: tuple[tuple[Array, Array], ...] = ()
    faces: tuple[Face, ...] = ()


@dataclass(frozen=True)
class SunFit:
    """Hold the probability of every day and minute considered.

    Attributes
    ----------
    days : NDArray[np.int64]
        (days,) day of the year, 1 to 366.
    minutes : NDArray[np.int64]
        (minutes,) of local mean time after midnight.
    probability : NDArray[np.float64]
        (days, minutes), adding up to 1; all 0 where the sun never stood so.
    best_misfit : float
        Least sum of squares over the number of angles told, no unit; NaN without
        shadows. Far above 1 the shadows fit no day and hour well.
    equation_of_time_s : NDArray[np.float64]
        (days,) at noon [s].
    year : int
        The year reckoned with.
    """

    days: NDArray[np.int64]
    minutes: NDArray[np.int64]
    probability: Array
    best_misfit: float
    equation_of_time_s: Array
    year: int

    @property
    def possible(self) -> bool:
        """Return whether any day and hour fits."""
        return bool(self.probability.any())

    @cached_property
    def by_minute(self) -> Array:
        """Return the probability of every minute: (minutes,) array."""
        return np.asarray(self.probability.sum(axis=0))

    @cached_property
    def by_day(self) -> Array:
        """Return the probability of every day: (days,) array."""
        return np.asarray(self.probability.sum(axis=1))

    @property
    def hour_min(self) -> tuple[float, float]:
        """Return mean and standard error of local mean time [min].

        The mean lies within the day; where several hours fit it may lie between them
        (`spans`).
        """
        mean, sd = _mean_sd(*self._unrolled)
        return mean % DAY_MIN, sd

    def hours(self, share: float) -> tuple[float, float]:
        """Return the narrowest span of local mean time holding a share [min].

        Where it runs over midnight, under a sun that does not set, its end is above
        1440.
        """
        return _narrowest(*self._unrolled, share)

    def spans(self, share: float) -> tuple[tuple[float, float, float], ...]:
        """Return the hours that fit best and hold a share: first, last, probability.

        A wall's edge meets the sun's path twice a day: there are two, the likelier
        first. Gaps below `APART_MIN` are none; what holds less than a fiftieth is
        left out. Minutes as of `hours`.
        """
        minutes, weights = self._unrolled
        heaviest = np.argsort(-weights, kind="stable")
        held = np.cumsum(weights[heaviest])
        count = int(np.searchsorted(held, share - 1e-9)) + 1
        chosen = np.sort(heaviest[:count])
        runs = np.split(
            chosen, np.flatnonzero(np.diff(minutes[chosen]) > APART_MIN) + 1
        )
        found = [
            (float(minutes[run[0]]), float(minutes[run[-1]]),
             float(weights[run[0] : run[-1] + 1].sum()))
            for run in runs if run.size
        ]  # fmt: skip
        likely = [one for one in found if one[2] >= 0.02]
        return tuple(sorted(likely, key=lambda one: -one[2]))

    @cached_property
    def _unrolled(self) -> tuple[NDArray[np.int64], Array]:
        """Return minutes and their probability, begun where least lies.

        So that an hour about midnight, under a sun that does not set, is in one piece.
        """
        round_the_day = len(self.minutes) == DAY_MIN
        if not round_the_day or not self.by_minute[0] or not self.by_minute[-1]:
            return self.minutes, self.by_minute
        # Cut the day where the quarter of an hour about it holds least.
        about = np.resize(self.by_minute, DAY_MIN + APART_MIN)
        sums = np.convolve(about, np.ones(APART_MIN), "valid")[:DAY_MIN]
        cut = (int(np.argmin(sums)) + APART_MIN // 2) % DAY_MIN
        return self.minutes[0] + cut + np.arange(DAY_MIN), np.roll(self.by_minute, -cut)

    def windows(self) -> tuple[tuple[float, float, float], ...]:
        """Return the two halves of the year that fit: mean day, sd in days, share.

        The sun takes the same path twice a year, once climbing and once sinking; what
        fits lies in one window each, which meet near a solstice.
        """
        climbs = _climbs(self.days, self.year)
        found = []
        for half in (climbs, ~climbs):
            weights = np.where(half, self.by_day, 0.0)
            share = float(weights.sum())
            if share > 0.0:
                # Counted on from the solstice, so that a window over New Year is one.
                shifted = (self.days - _WINTER_DAY) % _YEAR_DAYS
                mean, sd = _mean_sd(shifted, weights)
                day = 1.0 + (mean + _WINTER_DAY - 1.0) % _YEAR_DAYS
                found.append((day, sd, share))
        return tuple(found)


_WINTER_DAY, _SUMMER_DAY, _YEAR_DAYS = 356, 172, 365


def _climbs(days: NDArray[np.int64], year: int) -> NDArray[np.bool_]:
    """Return on which days the sun's declination rises: December to June."""
    del year  # solstices wander by a day, and there windows meet anyway
    return (days >= _WINTER_DAY) | (days < _SUMMER_DAY)


def fit_sun(
    seen: Seen,
    where: Where,
    year: int,
    day_weights: Array,
    minute_weights: Array | None = None,
) -> SunFit:
    """Find days and hours at which the sun stood as a plate's shadows say.

    Parameters
    ----------
    seen : Seen
        What the plate shows.
    where : Where
        Where its shadows lie.
    year : int
        The year reckoned with; another moves the sun by no more than a quarter of a
        day does.
    day_weights : NDArray[np.float64]
        (366,) how probable each day of the year is, of any sum; the last counts
        nothing in a common year.
    minute_weights : NDArray[np.float64], optional
        (1440,) the same of each minute of local mean time, or (366, 1440) where they
        differ from day to day; else all alike while the sun is up.

    Returns
    -------
    SunFit
        Without any probability where the sun never stood so.
    """
    minute_weights = np.ones(DAY_MIN) if minute_weights is None else minute_weights
    length = 366 if calendar.isleap(year) else 365
    days = _support(day_weights[:length]) + 1
    by_day = np.broadcast_to(np.atleast_2d(minute_weights), (366, DAY_MIN))[days - 1]
    minutes = _support(by_day.max(axis=0, initial=0.0))
    directions = sun_table(where, year, days, minutes)
    weight, misfit = log_weight(seen, directions, where.horizon)
    with np.errstate(divide="ignore"):
        weight = weight + np.log(day_weights[days - 1])[:, None]
        weight = weight + np.log(by_day[:, minutes])
    most = weight.max(initial=-np.inf)
    probability = np.zeros_like(weight)
    if np.isfinite(most):
        probability = np.exp(weight - most)
        probability /= probability.sum()
    begin = seconds_of_day(year, 1, 1) - 240.0 * where.lon_deg
    noon = np.asarray(begin + 86_400.0 * (days - 0.5), dtype=np.float64)
    equation = sun_at(noon, where.lon_deg, where.lat_deg).equation_of_time_s
    return SunFit(days, minutes, probability, misfit, equation, year)


def log_weight(
    seen: Seen, directions: Array, horizon: Horizon | None
) -> tuple[Array, float]:
    """Return how well directions of the sun go with what a plate shows.

    Parameters
    ----------
    seen : Seen
    directions : NDArray[np.float64]
        (..., 3) unit vectors east, north, up.
    horizon : callable or None

    Returns
    -------
    log_weight : (...) float64 array
        Without what is the same for all; minus infinity where the sun is down.
    misfit : float
        Least sum of squares over the number of angles told; NaN without shadows.
    """
    bearing = np.arctan2(directions[..., 0], directions[..., 1])
    elevation = np.arcsin(np.clip(directions[..., 2], -1.0, 1.0))
    weight = np.where(elevation > 0.0, 0.0, -np.inf)
    misfit = math.nan
    if seen.directions is not None and len(seen.directions.bearing_rad):
        squares = _squares(seen.directions, bearing, elevation)
        above = squares[elevation > 0.0]
        count = len(seen.directions.used)
        misfit = float(above.min(initial=np.inf)) / count
        weight = weight - 0.5 * squares
    with np.errstate(divide="ignore"):
        for normal, covariance in seen.edges:
            variance = np.einsum(
                "...i,ij,...j->...", directions, covariance, directions
            )
            off = directions @ normal
            weight = weight - 0.5 * off**2 / variance - 0.5 * np.log(variance)
        for face in seen.faces:
            turn = bearing - math.radians(face.looks_deg)
            inside = np.arcsin(np.cos(turn)) / math.radians(face.sd_deg)
            weight = weight + np.log(ndtr(inside if face.lit else -inside))
        if horizon is not None:
            weight = weight + np.log(clear_of_hills(horizon, bearing, elevation))
    return weight, misfit


def clear_of_hills(horizon: Horizon, bearing: Array, elevation: Array) -> Array:
    """Return how probable it is that the sun stands above the hills."""
    hills = horizon(bearing.ravel()).reshape(bearing.shape)
    return np.asarray(ndtr((elevation - np.nan_to_num(hills)) / HORIZON_SD_RAD))


def _squares(told: Directions, bearing: Array, elevation: Array) -> Array:
    """Return r' C^-1 r for every direction of the sun."""
    used = told.used
    covariance = told.covariance[np.ix_(used, used)] + GRID_SD_RAD**2 * np.eye(
        len(used)
    )
    rows = [
        told.level[i] * _turn(told.bearing_rad[i] - bearing)
        for i in range(len(told.bearing_rad))
    ]
    rows += [up - elevation for up in told.elevation_rad]
    stacked = np.stack([rows[index] for index in used], axis=-1)
    whitened = np.linalg.solve(np.linalg.cholesky(covariance), stacked[..., None])
    return np.asarray((whitened[..., 0] ** 2).sum(axis=-1))


def _turn(angle: Array) -> Array:
    return np.asarray((angle + np.pi) % (2.0 * np.pi) - np.pi)


def _support(weights: Array) -> NDArray[np.int64]:
    """Return the indices from the first to the last that weigh anything."""
    found = np.flatnonzero(weights > 0.0)
    if not found.size:
        return np.empty(0, dtype=np.int64)
    return np.arange(found[0], found[-1] + 1, dtype=np.int64)


def _mean_sd(values: NDArray[np.int64], weights: Array) -> tuple[float, float]:
    total = weights.sum()
    if not total > 0.0:
        return math.nan, math.nan
    mean = float(values @ weights / total)
    return mean, math.sqrt(float((values - mean) ** 2 @ weights / total))


def _narrowest(
    values: NDArray[np.int64], weights: Array, share: float
) -> tuple[float, float]:
    """Return the ends of the narrowest run holding a share; NaN without any."""
    if not weights.any():
        return math.nan, math.nan
    before = np.concatenate([[0.0], np.cumsum(weights)]) / weights.sum()
    ends = np.searchsorted(before, before[:-1] + share - 1e-9)
    starts = np.flatnonzero(ends < len(before))
    if not starts.size:
        return float(values[0]), float(values[-1])
    best = starts[np.argmin(ends[starts] - starts)]
    return float(values[best]), float(values[ends[best] - 1])
