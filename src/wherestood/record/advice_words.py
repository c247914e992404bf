"""Say in words what to look for next, and which elevation is missing."""

from __future__ import annotations

import math

from wherestood.fix.checked import Advice, MissingGround
from wherestood.fix.result import Fix
from wherestood.record.doubt import (
    area_in_words,
    compass_words,
    coordinates,
    distance_in_words,
)
from wherestood.record.inputs import FixInputs
from wherestood.record.item_words import thing_name
from wherestood.record.page import Section
from wherestood.record.sureness import asked

__all__ = ["advice_in_words", "advice_section"]

#: Coordinates of ground are told to this [m].
GROUND_M = 20.0


def advice_section(fix: Fix, inputs: FixInputs) -> Section:
    """Return what would shrink the ground that holds the camera most."""
    heading = "What to look for next"
    advice = fix.checks.advice
    lines = [_missing(one, fix) for one in fix.checks.missing_ground]
    if advice:
        now = area_in_words(advice[0].area_before_m2)
        enough = (
            f"The answer is as near as was asked, {asked(fix)}. To know it better still"
            if fix.verdict == "located"
            else "What would help most"
        )
        lines.append(
            f"{enough}: the 9-in-10 ground is {now} now; beside each stands what it "
            "would be on average. What is found may also contradict the answer."
        )
    rows = tuple(
        (str(number), _what(one, inputs), area_in_words(one.area_after_m2))
        for number, one in enumerate(advice, start=1)
    )
    head = ("", "find out", "ground then")
    return Section(heading, tuple(lines), (head, *rows) if rows else ())


def _what(one: Advice, inputs: FixInputs) -> str:
    """Say what to find out, as a person can act on it."""
    names = [thing_name(inputs.evidence, name) for name in one.subjects]
    if one.what == "place":
        mark, thing = names
        return f"where {thing} (mark {mark}) stood, to {distance_in_words(one.to)}"
    if one.what == "identity":
        mark, *things = names
        either = f"{', '.join(things[:-1])} or {things[-1]}"
        return f"which of them mark {mark} is: {either}"
    if one.what == "detail":
        to = distance_in_words(one.to)
        return f"what {names[0]} on the plate is, and where it stood, to {to}"
    if one.what == "mark":
        return f"where {names[0]} shows on the plate, if it does ({_way(one)})"
    if one.what == "summit":
        return (
            f"where the summit of {one.height_m:.0f} m shows on the plate "
            f"({_way(one)}, at {coordinates(one.lon_deg, one.lat_deg, GROUND_M)})"
        )
    if one.what == "crossing":
        return (
            "where one ridge goes behind another on the plate "
            f"({_way(one)}, at {coordinates(one.lon_deg, one.lat_deg, GROUND_M)})"
        )
    if one.what == "in line":
        return (
            f"how far {names[0]} stands beside {names[1]} on the plate, to "
            f"{one.to:g}° side to side"
        )
    return {
        "lens": f"how far the lens was from the plate, to {one.to:.0%}",
        "plate size": "how large the plate was, to 1%: then its lens tells",
        "trim": "how much was cut off the plate on either side",
    }[one.what]


def _way(one: Advice) -> str:
    way = compass_words(one.bearing_deg)
    return f"{distance_in_words(one.distance_m)} to the {way}"


def _missing(one: MissingGround, fix: Fix) -> str:
    """Say which elevation to get."""
    whose = "" if fix.verdict == "located" else ", seen from the likeliest point"
    # At or below the model's zero no hill is needed: a height would mislead.
    hill = f"one of {one.hill_m:.0f} m" if one.hill_m > 0 else "land of any height"
    return (
        f"Your elevation ends {distance_in_words(one.ends_m)} to the "
        f"{compass_words(one.bearing_deg)}{whose}; hills beyond would matter: "
        f"{hill} at its edge would stand above the skyline, over "
        f"{max(1.0, math.floor(one.wide_deg)):.0f}° of the picture."
    )


def advice_in_words(fix: Fix, inputs: FixInputs) -> list[str]:
    """Return each piece of advice as a sentence, for a notebook."""
    return [
        f"Find out {_what(one, inputs)}: region from "
        f"{area_in_words(one.area_before_m2)} to {area_in_words(one.area_after_m2)}."
        for one in fix.checks.advice
    ]
