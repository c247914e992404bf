"""Draw the year's days by the day's hours, and on them when the sun stood as shown.

Every line is a list of points (day of the year, minute of local mean time). What fits
lies where the line of a shadow's bearing crosses the line of its height.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from contourpy import contour_generator
from numpy.typing import NDArray

from wherestood.dating.sun_fit import Seen, log_weight
from wherestood.dating.sun_path import Where, sun_table

__all__ = ["SunClock", "sun_clock"]

Array = NDArray[np.float64]
Line = list[tuple[float, float]]

DAYS, DAY_MIN = 365, 1440
#: How finely the sheet is drawn [min], and what a line may be off [day or min / 4].
STEP_MIN, ROUNDING = 4, 0.25
SHARES = (0.5, 0.9)
#: Where what one is told lies this far below the best, nothing is drawn.
FLOOR = -60.0


@dataclass(frozen=True)
class SunClock:
    """Hold the lines of the sheet.

    Attributes
    ----------
    rise_and_set : tuple of list of (day, minute)
        Where the sun stands on the level.
    over_hills : tuple
        Where it comes over the hills and goes behind them; empty without terrain.
    bearings, heights : tuple of tuple
        Of each shadow, where the sun stood in its bearing, and as high.
    by_shadows, with_date : dict of float to tuple
        Outlines that hold a share of what fits: by the marks alone, every day alike,
        and with what is known of date and hour.
    """

    rise_and_set: tuple[Line, ...]
    over_hills: tuple[Line, ...]
    bearings: tuple[tuple[Line, ...], ...]
    heights: tuple[tuple[Line, ...], ...]
    by_shadows: dict[float, tuple[Line, ...]]
    with_date: dict[float, tuple[Line, ...]]


def sun_clock(
    seen: Seen,
    where: Where,
    year: int,
    day_weights: Array,
    minute_weights: Array | None = None,
) -> SunClock:
    """Draw when the sun stood as a plate shows.

    Parameters
    ----------
    seen : Seen
        What the plate shows.
    where : Where
        Where its shadows lie.
    year : int
        The year reckoned with.
    day_weights : NDArray[np.float64]
        (366,) how probable each day is by the date.
    minute_weights : NDArray[np.float64], optional
        (366, 1440) the same of each minute of local mean time.

    Returns
    -------
    SunClock

    Notes
    -----
    Drawn on 365 days by 360 minutes: some 0.2 s of one core.
    """
    days, minutes = np.arange(1, DAYS + 1), np.arange(0, DAY_MIN, STEP_MIN)
    sun = sun_table(where, year, days, minutes)
    bearing = np.arctan2(sun[..., 0], sun[..., 1])
    elevation = np.arcsin(np.clip(sun[..., 2], -1.0, 1.0))
    lines = _Sheet(days, minutes)
    up = np.where(elevation > 0.0, 0.0, math.nan)
    over: tuple[Line, ...] = ()
    if where.horizon is not None:
        hills = np.nan_to_num(where.horizon(bearing.ravel())).reshape(bearing.shape)
        over = lines.at(elevation - np.maximum(hills, 0.0), 0.0)
    bearings, heights = [], []
    if seen.directions is not None:
        told = seen.directions
        for there, high in zip(told.bearing_rad, told.elevation_rad, strict=True):
            ahead = np.cos(bearing - there) > 0.0
            off = np.where(ahead, np.sin(bearing - there) + up, math.nan)
            bearings.append(lines.at(off, 0.0))
            known = not math.isnan(high)
            heights.append(lines.at(elevation - high + up, 0.0) if known else ())
    for normal, _ in seen.edges:
        bearings.append(lines.at(sun @ normal + up, 0.0))
        heights.append(())
    weight, _ = log_weight(seen, sun, where.horizon)
    with np.errstate(divide="ignore"):
        dated = weight + np.log(day_weights[days - 1])[:, None]
        if minute_weights is not None:
            dated = dated + np.log(minute_weights[days - 1][:, minutes])
    return SunClock(
        lines.at(elevation, 0.0), over, tuple(bearings), tuple(heights),
        _holding(lines, weight), _holding(lines, dated),
    )  # fmt: skip


def _holding(lines: _Sheet, log_weights: Array) -> dict[float, tuple[Line, ...]]:
    """Return outlines of the least area that holds each share."""
    most = float(log_weights.max())
    if not math.isfinite(most):
        return dict.fromkeys(SHARES, ())
    level = np.maximum(log_weights - most, FLOOR)
    heaviest = np.sort(level.ravel())[::-1]
    held = np.cumsum(np.exp(heaviest))
    found = {}
    for share in SHARES:
        last = int(np.searchsorted(held, share * held[-1]))
        # Outlines close at the sheet's edges too.
        bordered = np.pad(level, 1, constant_values=FLOOR)
        found[share] = lines.at(bordered, float(heaviest[last]) - 1e-9, border=1)
    return found


@dataclass(frozen=True)
class _Sheet:
    """Draw lines of one value on the days and minutes."""

    days: NDArray[np.int64]
    minutes: NDArray[np.int64]

    def at(self, values: Array, level: float, border: int = 0) -> tuple[Line, ...]:
        """Return the lines on which values are at a level, simplified."""
        day, minute = (
            _widened(axis.astype(np.float64), border)
            for axis in (self.days, self.minutes)
        )
        masked = np.ma.masked_invalid(values.T)
        drawn = contour_generator(day, minute / STEP_MIN, masked).lines(level)
        found = []
        for points in drawn:
            simple = shapely.LineString(points).simplify(ROUNDING)
            line = [
                (round(float(x), 2), round(float(y) * STEP_MIN, 1))
                for x, y in simple.coords
            ]
            found.append(line)
        return tuple(found)


def _widened(axis: Array, border: int) -> Array:
    """Return an axis with a point more at both ends, just outside."""
    if not border:
        return axis
    return np.concatenate([[axis[0] - 0.01], axis, [axis[-1] + 0.01]])
