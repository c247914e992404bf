"""Reckon where the sun stood by what a plate shows, and when that was."""

from __future__ import annotations

import calendar
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from wherestood.dating.behind_hills import behind_hills
from wherestood.dating.clock import local_mean_minutes
from wherestood.dating.items import SunSeason
from wherestood.dating.seen_on_plate import HourKnown
from wherestood.dating.shadow import Directions, Shadow, sun_directions
from wherestood.dating.shadow_edge import Edge, edge_normal
from wherestood.dating.shadow_points import Point
from wherestood.dating.sun import seconds_of_day, sun_at
from wherestood.dating.sun_check import BearingBySun, bearing_by_sun
from wherestood.dating.sun_fit import Face, Seen, SunFit, fit_sun
from wherestood.dating.sun_path import Where
from wherestood.dating.weigh import Weighed
from wherestood.daybook.camera_of_fix import FixedCamera
from wherestood.errors import EvidenceError, WherestoodError
from wherestood.evidence.edtf import Day

__all__ = [
    "BySun", "Marked", "SunTold", "day_weights", "feet_of", "season_by_sun", "tell_sun",
]  # fmt: skip

Array = NDArray[np.float64]
DAYS, MINUTES, MONTHS = 366, 1440, 12
#: From this share on hills are told to have hidden the sun.
HIDDEN_SHARE = 0.5
#: The year reckoned with where the date leaves all of them.
ANY_YEAR = 1880
#: How probable shadows were read right, where nobody said: that of the date's items.
TRUST = 0.9


@dataclass(frozen=True)
class Marked:
    """Be what of a plate tells of the sun, each thing with its key.

    Attributes
    ----------
    shadows : tuple of (str, Shadow)
    edges : tuple of (str, Edge)
    faces : tuple of (str, Face)
    hours : tuple of (str, HourKnown)
        Hours that are known.
    trust : float
        The least that any of them is trusted.
    """

    shadows: tuple[tuple[str, Shadow], ...] = ()
    edges: tuple[tuple[str, Edge], ...] = ()
    faces: tuple[tuple[str, Face], ...] = ()
    hours: tuple[tuple[str, HourKnown], ...] = ()
    trust: float = TRUST

    @property
    def says_anything(self) -> bool:
        """Return whether the sun can be reckoned by it."""
        return bool(self.shadows or self.edges or self.faces)


@dataclass(frozen=True)
class BySun:
    """Hold what the marks say of the sun, before any date.

    Attributes
    ----------
    fixed : FixedCamera
    marked : Marked
        What could be used.
    directions : Directions or None
        The sun's direction by each shadow, in the order of ``marked``.
    seen : Seen
    where : Where
    notes : tuple of str
        What could not be used and why, and what else must be known.
    """

    fixed: FixedCamera
    marked: Marked
    directions: Directions | None
    seen: Seen
    where: Where
    notes: tuple[str, ...]

    @staticmethod
    def of(fixed: FixedCamera, marked: Marked, where: Where) -> BySun:
        """Read the sun's direction off all that was marked.

        What cannot be used is told in the notes, and the rest goes on.
        """
        notes: list[str] = []
        shadows = []
        for key, shadow in marked.shadows:
            try:
                sun_directions(fixed.camera, fixed.doubt, [shadow])
            except EvidenceError as trouble:
                notes.append(f"{key} is left out: {trouble.problem} {trouble.remedy}")
                continue
            shadows.append((key, shadow))
        edges, normals = [], []
        for key, edge in marked.edges:
            try:
                normals.append(edge_normal(fixed.camera, fixed.doubt, edge))
            except EvidenceError as trouble:
                notes.append(f"{key} is left out: {trouble.problem} {trouble.remedy}")
                continue
            edges.append((key, edge))
        used = replace(marked, shadows=tuple(shadows), edges=tuple(edges))
        directions = None
        if shadows:
            only = [shadow for _, shadow in shadows]
            directions = sun_directions(fixed.camera, fixed.doubt, only)
        seen = Seen(directions, tuple(normals), tuple(face for _, face in marked.faces))
        if where.horizon is None:
            notes.append(
                "No terrain is known there, so hills that hide the sun are not "
                "reckoned with."
            )
        return BySun(fixed, used, directions, seen, where, tuple(notes))


@dataclass(frozen=True)
class SunTold:
    """Hold when the sun stood as a plate shows.

    Attributes
    ----------
    by : BySun
    fit : SunFit
        Over the days that the date leaves.
    bearing : BearingBySun or None
        The camera's bearing checked, where day and hour are known.
    notes : tuple of str
        All that must be known of it, a sentence each.
    day_weights : NDArray[np.float64]
        (366,) how probable each day is without the sun.
    minute_weights : NDArray[np.float64] or None
        (366, 1440) the same of each minute, where an hour is known.
    """

    by: BySun
    fit: SunFit
    bearing: BearingBySun | None
    notes: tuple[str, ...]
    day_weights: Array
    minute_weights: Array | None


def feet_of(marked: Marked) -> list[Point]:
    """Return where things that throw shadows stand on the plate [px]."""
    feet = [shadow.foot_px for _, shadow in marked.shadows]
    return feet + [edge.foot_px for _, edge in marked.edges]


def season_by_sun(by: BySun) -> SunSeason | None:
    """Return what the sun's place says of the month, whatever the year.

    Parameters
    ----------
    by : BySun
        What was marked; hours known count.

    Returns
    -------
    SunSeason or None
        None where every month fits alike, or none at all.
    """
    hours = by.marked.hours
    if not (by.directions is not None or by.seen.edges or hours):
        return None
    every_day = np.ones(DAYS)
    minutes = _minute_weights(by, ANY_YEAR, hours)
    fit = fit_sun(by.seen, by.where, ANY_YEAR, every_day, minutes)
    if not fit.possible:
        return None
    before = date(ANY_YEAR, 1, 1).toordinal() - 1
    month = np.array(
        [date.fromordinal(before + int(day)).month - 1 for day in fit.days]
    )
    shares = np.bincount(month, weights=fit.by_day, minlength=MONTHS) / np.bincount(
        month, minlength=MONTHS
    ).clip(1)
    if shares.min() > 0.9 * shares.max():
        return None
    keys = [key for key, _ in (*by.marked.shadows, *by.marked.edges)]
    return SunSeason(
        " + ".join(keys) or "sun", "where the sun stood by its shadows",
        tuple(float(share) for share in shares / shares.max()), trust=by.marked.trust,
    )  # fmt: skip


def day_weights(
    whole: Weighed, exact: Sequence[tuple[Day, float]] = ()
) -> tuple[int, Array]:
    """Return the likeliest year, and the weight of every day of a year.

    Parameters
    ----------
    whole : Weighed
        The date, over months; months of all years are laid over one another.
    exact : sequence of (day, trust)
        Days that somebody names as the exposure's. That its month is right is in
        ``whole`` already: within it such a day holds nearly all.

    Returns
    -------
    year : int
    weights : (366,) float64 array
    """
    years = whole.months // MONTHS
    by_year = np.bincount(years - years[0], weights=whole.probability)
    year = int(years[0] + int(np.argmax(by_year)))
    days = np.zeros(DAYS)
    begin = 0
    for month in range(MONTHS):
        length = calendar.monthrange(year, month + 1)[1]
        ours = whole.months % MONTHS == month
        named = {day[0] for day, _ in exact if day[1] - 1 == month}
        for its_year in named:
            at = whole.months == MONTHS * its_year + month
            ours &= ~at
            within = _within_month(its_year, month, length, exact, len(whole.months))
            days[begin : begin + length] += whole.probability[at].sum() * within
        days[begin : begin + length] += whole.probability[ours].sum() / length
        begin += length
    return year, days


def _within_month(
    year: int,
    month: int,
    length: int,
    exact: Sequence[tuple[Day, float]],
    months: int,
) -> Array:
    """Return how a month of one year lies over its days, by days that are named.

    Who names a wrong day names any of the range as readily.
    """
    within = np.full(length, 1.0 / length)
    for (its_year, its_month, its_day), trust in exact:
        if (its_year, its_month - 1) == (year, month):
            wrong = (1.0 - trust) / (months * DAYS / MONTHS)
            named = np.arange(length) == min(its_day, length) - 1
            within *= np.where(named, trust, wrong)
    total = within.sum()
    return np.asarray(within / total if total > 0.0 else within)


def tell_sun(by: BySun, year: int, days: Array, day: Day | None = None) -> SunTold:
    """Find days and hours at which the sun stood as a plate shows.

    Parameters
    ----------
    by : BySun
        What was marked.
    year : int
        The year reckoned with.
    days : NDArray[np.float64]
        (366,) how probable each day is.
    day : Day, optional
        The day, where that is known.

    Returns
    -------
    SunTold
    """
    hours = by.marked.hours
    day = day or next((hour.day for _, hour in hours if hour.day is not None), None)
    if day is not None:
        year, days = day[0], np.zeros(DAYS)
        days[date(*day).timetuple().tm_yday - 1] = 1.0
    minutes = _minute_weights(by, year, hours)
    fit = fit_sun(by.seen, by.where, year, days, minutes)
    notes = list(by.notes)
    if by.where.horizon is not None:
        open_sky = replace(by.where, horizon=None)
        free = fit_sun(by.seen, open_sky, year, days, minutes)
        hidden = behind_hills(free, by.where)
        if hidden >= HIDDEN_SHARE:
            notes.append(
                f"Without the hills {100.0 * hidden:.0f}% of what fits has the sun "
                "behind them: look whether the marks, the date and the camera's place "
                "are right. All is kept as written."
            )
    bearing = None
    for key, hour in hours:
        if day is None or not by.marked.shadows:
            break
        found, note = _bearing(by, key, hour, day)
        bearing = bearing or found
        notes += [note] if note else []
    return SunTold(by, fit, bearing, tuple(notes), days, minutes)


def _minute_weights(
    by: BySun, year: int, hours: Sequence[tuple[str, HourKnown]]
) -> Array | None:
    """Return how probable each minute of each day is; None where no hour is known."""
    if not hours:
        return None
    equation = _equation_s(by, year)
    weights = np.ones((DAYS, MINUTES))
    for _, hour in hours:
        known = np.array(
            [local_mean_minutes(hour.minutes, hour.clock, by.where.lon_deg, e,
                                hour.zone_hours) for e in equation]
        )  # fmt: skip
        # A zone's hour can lie a day off by the place's own longitude, as on either
        # side of the date line.
        apart = np.arange(MINUTES)[None, :] - known[:, None] + MINUTES / 2
        off = (apart % MINUTES - MINUTES / 2) / hour.sd_min
        weights *= np.where(np.abs(off) < 4.0, np.exp(-0.5 * off**2), 0.0)
    return weights


def _equation_s(by: BySun, year: int) -> Array:
    begin = seconds_of_day(year, 1, 1) - 240.0 * by.where.lon_deg
    noon = np.asarray(begin + 86_400.0 * (np.arange(DAYS) + 0.5), dtype=np.float64)
    return sun_at(noon, by.where.lon_deg, by.where.lat_deg).equation_of_time_s


def _bearing(
    by: BySun, key: str, hour: HourKnown, day: Day
) -> tuple[BearingBySun | None, str]:
    """Check the camera's bearing by an hour; or say why that cannot be."""
    equation = float(_equation_s(by, day[0])[date(*day).timetuple().tm_yday - 1])
    known = local_mean_minutes(
        hour.minutes, hour.clock, by.where.lon_deg, equation, hour.zone_hours
    )
    shadows = [shadow for _, shadow in by.marked.shadows]
    try:
        found = bearing_by_sun(
            by.fixed.camera, by.fixed.doubt, shadows, by.where, day, known, hour.sd_min
        )
    except WherestoodError as trouble:
        return None, f"{key} is kept as written. {trouble.problem} {trouble.remedy}"
    if by.where.horizon is None:
        return found, ""
    hills = float(by.where.horizon(np.array([found.sun_bearing_rad]))[0])
    if math.isfinite(hills) and found.sun_elevation_rad < hills:
        up, edge = map(math.degrees, (found.sun_elevation_rad, hills))
        return found, (
            f"At that day and hour the sun stood {up:.1f} deg high, behind hills of "
            f"{edge:.1f} deg. {key} is kept as written: check date, hour and clock."
        )
    return found, ""
