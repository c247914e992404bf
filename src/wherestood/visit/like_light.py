"""Say when the sun will stand again where it stood for a plate."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from wherestood.dating.sun import seconds_of_day, sun_at
from wherestood.errors import InputError
from wherestood.record.doubt import compass_words

__all__ = ["LightDays", "light_sentences", "like_light", "sun_said"]

Array = NDArray[np.float64]
#: The sun's place within this of the one wanted looks the same: some four minutes of a
#: shadow's way [deg].
NEAR_DEG = 1.0
_STEP_S, _DAYS = 600.0, 366
_DAY_S = 86_400.0


@dataclass(frozen=True)
class LightDays:
    """Hold a run of days on which the sun passes where it is wanted.

    Attributes
    ----------
    first, last : date
        Days on which it does, by local mean time.
    best : datetime
        When it comes nearest, universal time.
    off_deg : float
        How near that is [deg].
    """

    first: date
    last: date
    best: datetime
    off_deg: float


#: The sun's own width, and what refraction at the horizon leaves open [deg].
_SUN_DEG = 0.6


def like_light(
    bearing_deg: float,
    elevation_deg: float,
    lon_deg: float,
    lat_deg: float,
    day: date,
    near_deg: float = NEAR_DEG,
) -> list[LightDays]:
    """Return when within a year the sun stands in a direction again.

    Parameters
    ----------
    bearing_deg, elevation_deg : float
        Where it is wanted, true [deg].
    lon_deg, lat_deg : float
        WGS 84 [deg].
    day : date
        From when on.
    near_deg : float
        How near is near enough [deg].

    Returns
    -------
    list of LightDays
        The next first; empty where the sun never comes there.
    """
    # Days of local mean time, so that none is cut in the middle of its light.
    begin = seconds_of_day(day.year, day.month, day.day) - 240.0 * lon_deg
    steps = np.arange(round(_DAY_S / _STEP_S)) * _STEP_S
    when = begin + np.arange(_DAYS)[:, None] * _DAY_S + steps[None, :]
    wanted = _way(np.radians([bearing_deg]), np.radians([elevation_deg]))[0]
    place = sun_at(when.ravel(), lon_deg, lat_deg)
    ways = _way(place.bearing_rad, place.elevation_rad)
    off = np.arccos(np.clip(ways @ wanted, -1.0, 1.0)).reshape(when.shape)
    at = off.argmin(axis=1)
    best_s, best = _between(when, off, at)
    near = np.degrees(best) <= near_deg
    found = []
    edges = np.flatnonzero(np.diff(np.concatenate(([0], near.astype(int), [0]))))
    for first, past in zip(edges[::2], edges[1::2], strict=True):
        one = first + int(best[first:past].argmin())
        found.append(
            LightDays(
                day + timedelta(days=int(first)),
                day + timedelta(days=int(past) - 1),
                datetime.fromtimestamp(float(best_s[one]), UTC),
                float(np.degrees(best[one])),
            )
        )
    return found


def light_sentences(
    bearing_deg: float,
    elevation_deg: float,
    lon_deg: float,
    lat_deg: float,
    day: date,
    hills_deg: float | None = None,
) -> list[str]:
    """Return in words when light like a plate's comes next, three times at most.

    Parameters
    ----------
    bearing_deg, elevation_deg : float
        Where the sun stood, true [deg].
    lon_deg, lat_deg : float
        WGS 84 [deg].
    day : date
        From when on.
    hills_deg : float, optional
        How high hills stand that way from the spot [deg].
    """
    where = (
        f"{bearing_deg:.0f}° true ({compass_words(bearing_deg)}), "
        f"{elevation_deg:.0f}° above level"
    )
    found = like_light(bearing_deg, elevation_deg, lon_deg, lat_deg, day)
    if not found:
        return [
            f"Within a year of {day} the sun never comes within {NEAR_DEG:.0f}° of "
            f"{where}: is that where it stood?"
        ]
    sentences = [f"For light like the plate's the sun stands {where}."]
    if hills_deg is not None:
        sentences.append(_hills_said(hills_deg, elevation_deg))
    for one in found[:3]:
        local = one.best + timedelta(hours=lon_deg / 15.0)
        span = (
            f"on {_said(one.first)}"
            if one.first == one.last
            else f"from {_said(one.first)} to {_said(one.last)}"
        )
        sentences.append(
            f"It comes there {span}; nearest on {_said(local.date())} at "
            f"{one.best:%H:%M} universal time, {local:%H:%M} by the sun's mean time "
            f"there, {one.off_deg:.1f}° off."
        )
    return sentences


def _hills_said(hills_deg: float, elevation_deg: float) -> str:
    high = f"By the elevation model the horizon stands {hills_deg:.0f}° high that way"
    if abs(elevation_deg - hills_deg) < _SUN_DEG:
        return f"{high}: the sun just touches it, seen from the spot."
    if elevation_deg > hills_deg:
        return f"{high}: the sun is clear of it at the spot."
    return (
        f"{high}: the spot itself lies in its shadow then, and only what the plate "
        "shows in light need not."
    )


def _said(day: date) -> str:
    return f"{day.day} {day:%B %Y}"


def _way(bearing: Array, elevation: Array) -> Array:
    flat = np.cos(elevation)
    return np.column_stack(
        (flat * np.sin(bearing), flat * np.cos(bearing), np.sin(elevation))
    )


def _between(when: Array, off: Array, at: NDArray[np.int64]) -> tuple[Array, Array]:
    """Return time and distance of the nearest approach, between the steps [s, rad].

    The square of the distance goes as a parabola in time.
    """
    rows = np.arange(len(at))
    inner = np.clip(at, 1, off.shape[1] - 2)
    before, here, after = (off[rows, inner + k] ** 2 for k in (-1, 0, 1))
    bend = before - 2.0 * here + after
    shift = np.where(bend > 0.0, 0.5 * (before - after) / np.maximum(bend, 1e-12), 0.0)
    shift = np.clip(shift, -1.0, 1.0)
    least = here - 0.25 * (before - after) * shift
    step = when[0, 1] - when[0, 0]
    return when[rows, inner] + shift * step, np.sqrt(np.maximum(least, 0.0))


def sun_said(text: str, lon_deg: float, lat_deg: float) -> tuple[float, float]:
    """Return where the sun stood, as somebody says it: true bearing, elevation [deg].

    Parameters
    ----------
    text : str
        Day and hour by the sun's mean time at the place, as in 1874-06-03T09:40; or
        bearing and elevation, as in 118,53.
    lon_deg, lat_deg : float
        The place, WGS 84 [deg].

    Raises
    ------
    InputError
        If it is neither.
    """
    try:
        bearing, elevation = (float(part) for part in text.split(","))
    except ValueError:
        bearing = elevation = math.nan
    if math.isfinite(bearing + elevation):
        if not (0.0 <= bearing <= 360.0 and -1.0 <= elevation <= 90.0):
            raise InputError(
                f"{text!r} is no place of a sun that shines.",
                "Give its true bearing, 0 to 360, and its elevation, up to 90 degrees.",
            )
        return bearing, elevation
    try:
        when = datetime.fromisoformat(text.strip()).replace(tzinfo=None)
    except ValueError as error:
        raise InputError(
            f"{text!r} is neither a time nor where the sun stood.",
            "Write 1874-06-03T09:40, or bearing and elevation as in 118,53.",
        ) from error
    day_s = seconds_of_day(when.year, when.month, when.day)
    of_day = when.hour * 3600 + when.minute * 60 + when.second
    place = sun_at(np.array([day_s + of_day - 240.0 * lon_deg]), lon_deg, lat_deg)
    return (
        math.degrees(float(place.bearing_rad[0])),
        math.degrees(float(place.elevation_rad[0])),
    )
