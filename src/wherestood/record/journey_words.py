"""Say in plain words what a maker's plates tell of journeys, and plates of minutes."""

from __future__ import annotations

import math
from collections.abc import Sequence

from wherestood.dating.between_plates import CYCLE_MIN, MinutesBetween
from wherestood.dating.itinerary import KM_A_DAY, Journey
from wherestood.record.doubt import odds_in_words
from wherestood.record.page import Section

__all__ = ["journey_words", "minutes_words"]


def journey_words(
    name: str,
    mode: str,
    stops: Sequence[tuple[str, str, str, bool | None]],
    journeys: Sequence[Journey],
    contradict: Sequence[tuple[Journey, Journey]],
    left_out: Sequence[str],
) -> list[Section]:
    """Return the page of a maker's journeys.

    Parameters
    ----------
    name, mode : str
        The maker's, and how the maker went.
    stops : sequence of (key, title, date, fits)
        In order; ``fits`` a known trip or not, None where none is told.
    journeys, contradict, left_out
        As of `wherestood.daybook.makers_journeys.MakersJourneys`.
    """
    if not stops:
        nothing = (f"No plate of {name} has both a place and a date yet.",)
        return [Section("Plates in order", nothing), *_left(left_out)]
    with_trip = any(fits is not None for *_, fits in stops)
    head = ("plate", "title", "nine in ten")
    rows: list[tuple[str, ...]] = [(*head, "the trip") if with_trip else head]
    for key, title, when, fits in stops:
        row = (key, title, when)
        fit = "fits" if fits else "does not fit"
        rows.append((*row, fit) if with_trip else row)
    sections = [
        Section("Plates in order", (f"{name}'s, by the middle of their days.",),
                tuple(rows)),
        Section(
            "Journeys",
            (f"By {mode}, some {KM_A_DAY[mode]:.0f} km a day, along ways 1.3 times the "
             "crow's (common practice).",
             *(f"{one.words[:1].upper()}{one.words[1:]}." for one in journeys)),
        ),
    ]  # fmt: skip
    if contradict:
        lines = tuple(
            f"{there.start} and {there.end}: {there.km:.0f} km, "
            f"{there.days_needed:.1f} days on the way, and "
            f"{max(there.days_there, back.days_there)} between at most. "
            "A date, a place, the maker or the way of travel is wrong."
            for there, back in contradict
        )
        sections.append(Section("Not both by one traveller", lines))
    return [*sections, *_left(left_out)]


def _left(left_out: Sequence[str]) -> list[Section]:
    return [Section("What does not count", tuple(left_out))] if left_out else []


def minutes_words(
    first: str, second: str, found: MinutesBetween, notes: Sequence[str]
) -> list[Section]:
    """Return the page of the minutes between two plates."""
    mean, sd = found.mean_sd
    if math.isnan(mean):
        lines = ["At no hours of one day did the sun stand as both plates show."]
    else:
        way = "after" if mean >= 0.0 else "before"
        lines = [
            f"{second} was exposed {abs(mean):.0f} minutes {way} {first}, give or take "
            f"{max(sd, 1.0):.0f}.",
            f"Later: {odds_in_words(found.second_later)}.",
            "A wet plate is not begun before the last is developed, "
            f"{CYCLE_MIN[0]:.0f} to {CYCLE_MIN[1]:.0f} minutes from plate to plate "
            "(common practice): "
            f"{odds_in_words(found.within_cycle)} that the gap is such; "
            f"{odds_in_words(found.too_short)} that it is shorter, as only plates "
            "prepared beforehand allow.",
        ]
    sections = [Section("Minutes between", tuple(lines))]
    if notes:
        sections.append(Section("What must be known of it", tuple(notes)))
    return sections
