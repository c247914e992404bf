"""Tell what a plate's sun was found to be: as words, and as a record."""

from __future__ import annotations

import math
from typing import Any

from wherestood.dating.sun_clock import sun_clock
from wherestood.daybook.sun_of_plate import SunTold
from wherestood.record.date_form import sun_form
from wherestood.record.page import Section
from wherestood.record.plain import rounded
from wherestood.record.sun_words import bearing_words, sun_words

__all__ = ["clock_of", "sun_told_form", "sun_told_words"]


def sun_told_words(told: SunTold, zone_hours: float | None = None) -> list[Section]:
    """Return the page of words."""
    where = told.by.where
    sections = sun_words(told.by.directions, told.fit, where, zone_hours)
    if told.bearing is not None:
        sections.append(bearing_words(told.bearing))
    if told.notes:
        sections.append(Section("What must be known of the sun", told.notes))
    return sections


def sun_told_form(told: SunTold) -> dict[str, Any]:
    """Return the record, each shadow with its item's key."""
    form = sun_form(told.by.directions, told.fit)
    for (key, _), shadow in zip(told.by.marked.shadows, form["shadows"], strict=True):
        shadow["key"] = key
    bearing = told.bearing
    form["bearing"] = None
    if bearing is not None:
        form["bearing"] = {
            "turn_deg": rounded(math.degrees(bearing.turn_rad), 2),
            "sd_deg": rounded(math.degrees(bearing.sd_rad), 2),
            "fix_sd_deg": rounded(math.degrees(bearing.fix_sd_rad), 2),
            "sun_bearing_deg": rounded(math.degrees(bearing.sun_bearing_rad), 2),
            "sun_elevation_deg": rounded(math.degrees(bearing.sun_elevation_rad), 2),
            "agrees": bearing.off < 2.0,
        }
    form["notes"] = [*told.notes]
    return form


def clock_of(told: SunTold) -> dict[str, Any]:
    """Return the lines of days by hours on which the sun stood as shown."""
    by = told.by
    drawn = sun_clock(
        by.seen, by.where, told.fit.year, told.day_weights, told.minute_weights
    )
    return {
        "rise_and_set": drawn.rise_and_set,
        "over_hills": drawn.over_hills,
        "bearings": drawn.bearings,
        "heights": drawn.heights,
        "by_shadows_half": drawn.by_shadows[0.5],
        "by_shadows_nine_tenths": drawn.by_shadows[0.9],
        "with_date_half": drawn.with_date[0.5],
        "with_date_nine_tenths": drawn.with_date[0.9],
    }
