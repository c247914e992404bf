"""Say in plain words at which hour and on which days the sun stood as a plate shows."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date, timedelta

import numpy as np

from wherestood.dating.clock import Clock, clock_words
from wherestood.dating.shadow import Directions
from wherestood.dating.sun_check import BearingBySun
from wherestood.dating.sun_fit import SunFit
from wherestood.dating.sun_path import Where
from wherestood.record.doubt import give_or_take
from wherestood.record.page import Section

__all__ = ["bearing_words", "sun_words"]

#: Above this misfit no hour fits the shadows well: chi-squared over its freedom.
POOR_FIT = 6.0


def sun_words(
    told: Directions | None, fit: SunFit, where: Where, zone_hours: float | None = None
) -> list[Section]:
    """Return the words for what shadows tell.

    Parameters
    ----------
    told : Directions or None
        The sun's direction by each shadow.
    fit : SunFit
        Days and hours that fit.
    where : Where
        Where the shadows lie.
    zone_hours : float, optional
        A zone's hours ahead of universal time, to tell its time too.
    """
    sections = []
    if told is not None:
        sections.append(Section("The sun by its shadows", tuple(_directions(told))))
    if not fit.possible:
        lines = [
            "On no day and hour that the date leaves did the sun stand so: it was "
            "down, or behind the hills."
        ]
        return [*sections, Section("Hour", tuple(lines))]
    lines = _hours(fit, where, zone_hours)
    if fit.best_misfit > POOR_FIT:
        lines.insert(
            0,
            "No hour fits the shadows well: is a mark wrong, or the ground not as "
            "told, or the scan left for right?",
        )
    sections.append(Section("Hour", tuple(lines)))
    if len(fit.days) > 1:
        sections.append(Section("Days", tuple(_days(fit))))
    return sections


def bearing_words(found: BearingBySun) -> Section:
    """Return how the camera's bearing goes with the sun of a known day and hour."""
    turn, sd = math.degrees(found.turn_rad), math.degrees(found.sd_rad)
    way = "clockwise" if turn >= 0.0 else "anticlockwise"
    lines = [
        f"For its shadows to fit that hour the camera would turn "
        f"{give_or_take(abs(turn), sd, ' deg')}, {way}; the answer's own bearing is "
        f"known to {math.degrees(found.fix_sd_rad):.1f} deg."
    ]
    lines.append(
        "The two agree."
        if found.off < 2.0
        else "That is more than both leave open: hour, day, marks or bearing is wrong."
    )
    return Section("The bearing by the sun", tuple(lines))


def _directions(told: Directions) -> list[str]:
    lines = []
    count = len(told.bearing_rad)
    sds = np.degrees(np.sqrt(np.diag(told.covariance)))
    for index in range(count):
        bearing = math.degrees(told.bearing_rad[index])
        level = max(float(told.level[index]), 1e-3)
        line = f"It stood in {give_or_take(bearing, sds[index] / level, ' deg')}"
        if not math.isnan(told.elevation_rad[index]):
            up = math.degrees(told.elevation_rad[index])
            line += f", and {give_or_take(up, sds[count + index], ' deg')}, high"
        lines.append(f"{line}.")
    return lines


def _hours(fit: SunFit, where: Where, zone_hours: float | None) -> list[str]:
    spans = fit.spans(0.9)
    if len(spans) > 1:
        return _several_hours(spans, where, zone_hours)
    mean, sd = fit.hour_min
    low, high = fit.hours(0.9)
    equation = float(fit.by_day @ fit.equation_of_time_s)
    clock = Clock.of(mean, where.lon_deg, equation, zone_hours)
    lines = [
        f"{clock_words(mean)} local mean time, give or take {max(sd, 0.5):.0f} min; "
        f"nine in ten {clock_words(low)} to {clock_words(high)}.",
        f"That is {clock_words(clock.by_the_sun_min)} by the sun, and "
        f"{clock_words(clock.universal_min)} universal time.",
    ]
    if clock.zone_min is not None:
        lines.append(f"In the zone {zone_hours:+g} h: {clock_words(clock.zone_min)}.")
    return lines


def _several_hours(
    spans: Sequence[tuple[float, float, float]],
    where: Where,
    zone_hours: float | None,
) -> list[str]:
    """Return hours that lie apart; a mean between them would be none of them."""
    lines = [
        f"The sun stood so at {_COUNTED.get(len(spans), 'several')} times of day; "
        "together they hold nine in ten. Local mean time:"
    ]
    lines += [
        f"{clock_words(low)} to {clock_words(high)}: {100 * share:.0f}%."
        for low, high, share in spans
    ]
    if zone_hours is not None:
        ahead = Clock.of(0.0, where.lon_deg, 0.0, zone_hours).zone_min or 0.0
        told = "; ".join(
            f"{clock_words(low + ahead)} to {clock_words(high + ahead)}"
            for low, high, _ in spans
        )
        lines.append(f"In the zone {zone_hours:+g} h: {told}.")
    return lines


_COUNTED = {2: "two", 3: "three"}


def _days(fit: SunFit) -> list[str]:
    lines = []
    for day, sd, share in sorted(fit.windows(), key=lambda each: -each[2]):
        if share < 0.01:
            continue
        when = date(fit.year, 1, 1) + timedelta(days=round(day) - 1)
        lines.append(
            f"About {when.day} {when:%B}, give or take {max(sd, 0.5):.0f} days: "
            f"{100 * share:.0f}%."
        )
    return lines
