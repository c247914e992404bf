"""Say a fix in plain words."""

from __future__ import annotations

import math
from pathlib import PurePath

import pyproj

from wherestood.fix.result import CameraAnswer, Fix, StationAnswer
from wherestood.record.advice_words import advice_section
from wherestood.record.changed_ground import changed_ground_lines, leaning_lines
from wherestood.record.checks_words import (
    agreement_section,
    held_back_section,
    indeterminate_lines,
    left_out_section,
    statements_section,
)
from wherestood.record.doubt import (
    compass_words,
    coordinates,
    distance_in_words,
    give_or_take,
    odds_in_words,
)
from wherestood.record.evidence_words import evidence_section, table_section
from wherestood.record.fix_json import skyline_gaps
from wherestood.record.ground_words import beyond_the_edge, ground_warnings
from wherestood.record.inputs import FixInputs
from wherestood.record.item_words import two_digits
from wherestood.record.lens_words import NOT_LEARNED, lens_given, lens_lines
from wherestood.record.page import Section
from wherestood.record.proposed_words import proposed_section, side_by_side_section
from wherestood.record.ridge_words import ridges_sentence
from wherestood.record.settled import (
    long_region_words,
    regions_sentence,
    settled_lines,
)
from wherestood.record.shares import shares_lines
from wherestood.record.sureness import (
    GIVE_OR_TAKE,
    asked,
    chance_sentence,
    doubled_sentence,
    elsewhere_sentence,
    evidence_words,
    has_skyline,
    verdict_in_words,
    within_sentence,
)

__all__ = [
    "FIELD_CARE",
    "agreement_lines",
    "not_learned_lines",
    "place_in_words",
    "plain_words",
    "position_in_words",
]

# A place's spread near that of an even circle (0.7 of its radius) says nothing.
MOST_SPREAD = 0.5  # of the distance asked
FIELD_CARE = (
    "Nothing here says that the place is safe to reach or open to you. Ask the owner "
    "and heed local law first; mind edges, water, tides, old workings, traffic and "
    "fire; stand still to look at a screen, never step backwards to line up a view; "
    "tell someone, and go in pairs."
)
MOST_PLACES = 5
_UNKNOWNS = {
    "bearing_deg": "the bearing of the lens axis",
    "tilt_deg": "the tilt",
    "roll_deg": "the roll",
    "principal_distance_px": "the distance from lens to plate",
    "rise_px": "the rise (or an uneven trim)",
    "cross_px": "the sideways shift (or an uneven trim)",
    "k1": "the bending of lines by the lens",
}
_SURFACES = {
    "ground": "bare ground",
    "top": "the tops of trees and roofs",
    "unknown": "ground or tree tops, not known which",
}
_WGS84 = pyproj.Geod(ellps="WGS84")


def plain_words(fix: Fix, inputs: FixInputs) -> tuple[Section, ...]:
    """Return the answer as a page of short sections.

    Numbers carry their doubt and no more digits than it earns.
    """
    sections = [
        Section("Where", _where(fix, inputs)),
        Section("Which way", _which_way(fix.camera, fix.verdict)),
        Section("The lens", lens_lines(fix, inputs)),
        Section("Left for right", _left_for_right(fix, inputs)),
        Section("How sure", _how_sure(fix, inputs)),
        Section("Other places", _other_places(fix)),
        Section("Places, out of 100%", shares_lines(fix)),
        Section("Why", _why(fix, inputs)),
        left_out_section(fix),
        agreement_section(fix),
        statements_section(fix),
        held_back_section(fix),
        advice_section(fix, inputs),
        proposed_section(fix, inputs),
        side_by_side_section(fix),
        evidence_section(fix, inputs),
        table_section(fix, inputs),
        Section("Ground that changed", changed_ground_lines(fix, inputs)),
        Section("What is assumed", _assumed(fix, inputs)),
        Section("What the plate did not tell", not_learned_lines(fix.camera, inputs)),
        Section("Before anybody goes there", _field_care(fix)),
    ]
    return tuple(section for section in sections if section.lines or section.table)


def place_in_words(station: StationAnswer, near_enough_m: float) -> str:
    """Return a place with its doubt, if the camera stood near it at all.

    A place is a circle as wide as was asked. Where the probability fills it,
    there is no finer doubt to tell.
    """
    sd_m = math.hypot(station.sd_east_m, station.sd_north_m)
    where = coordinates(station.lon_deg, station.lat_deg, sd_m)
    if not math.isfinite(sd_m):
        return where
    if sd_m > MOST_SPREAD * near_enough_m:
        return f"{where} (anywhere within {near_enough_m:g} m of it)"
    return f"{where} (give or take {distance_in_words(sd_m)})"


def position_in_words(fix: Fix, inputs: FixInputs) -> str:
    """Return the likeliest place with its doubt, of long ground length and width."""
    extent = long_region_words(fix, inputs)
    if not extent:
        return place_in_words(fix.station, fix.near_enough_m)
    station = fix.station
    sd_m = min(station.sd_east_m, station.sd_north_m)
    return f"{coordinates(station.lon_deg, station.lat_deg, sd_m)} ({extent})"


def _where(fix: Fix, inputs: FixInputs) -> tuple[str, ...]:
    verdict = verdict_in_words(fix)
    head = f"{verdict[0].upper()}{verdict[1:]}."
    place = place_in_words(fix.station, fix.near_enough_m)
    if fix.verdict == "located":
        place = position_in_words(fix, inputs)
        return (head, f"Camera position: {place}.", _height(fix.station, inputs))
    settled = settled_lines(fix, inputs)
    if fix.verdict == "not determined":
        return (
            f"{head} {evidence_words(fix)} does not settle where the camera stood.",
            *settled,
            f"The likeliest single place, {place}, is not an answer.",
        )
    return (
        f"{head} {evidence_words(fix)} does not choose between them.",
        *settled,
        f"The likeliest camera position is {place}, if it stood there at all.",
    )


def _height(station: StationAnswer, inputs: FixInputs) -> str:
    words = give_or_take(station.height_m, station.sd_height_m, " m")
    datums = {source.vertical_datum for source in inputs.terrain.sources}
    known = datums - {"unknown"}
    datum = ", ".join(sorted(known)) or "the elevation model's own zero"
    return f"Height of the lens: {words} (above {datum})."


def _which_way(camera: CameraAnswer, verdict: str) -> tuple[str, ...]:
    if verdict == "not determined":
        return ()
    sight = give_or_take(
        camera.sight_bearing_deg % 360,
        camera.sd.get("sight_bearing_deg", math.nan),
        "°",
    )
    lead = "Looks" if verdict == "located" else "At the likeliest place, looks"
    return (
        f"{lead} towards {compass_words(camera.sight_bearing_deg)}: the middle of the "
        f"picture bears {sight}, from true north.",
    )


def _left_for_right(fix: Fix, inputs: FixInputs) -> tuple[str, ...]:
    """Say how likely the scan is left for right, whenever both ways were tried."""
    if inputs.settings.reversed is not None:
        return ()
    lines = [
        "Both ways round were tried. Of all that fits inside the ground searched, the "
        "chance that the scan is left for right: "
        f"{odds_in_words(fix.reversed_probability)}."
    ]
    if fix.camera.reversed:
        lines.append("At the likeliest place it is read left for right.")
    return tuple(lines)


def _how_sure(fix: Fix, inputs: FixInputs) -> tuple[str, ...]:
    lines = (
        within_sentence(fix),
        regions_sentence(fix, inputs),
        *indeterminate_lines(fix, inputs),
        elsewhere_sentence(fix),
        *(ground_warnings(fix) if has_skyline(fix) else ()),
        *leaning_lines(fix),
        f"{GIVE_OR_TAKE} That of a place holds only if the camera stood within "
        f"{asked(fix)} of it.",
    )
    return tuple(line for line in lines if line)


def _other_places(fix: Fix) -> tuple[str, ...]:
    lines = []
    for number, other in enumerate(fix.alternatives[:MOST_PLACES], start=2):
        _, _, apart_m = _WGS84.inv(
            fix.station.lon_deg,
            fix.station.lat_deg,
            other.station.lon_deg,
            other.station.lat_deg,
        )
        lines.append(
            f"{number}. {place_in_words(other.station, fix.near_enough_m)}, "
            f"{distance_in_words(apart_m)} from place 1, "
            f"looking {compass_words(other.camera.sight_bearing_deg)}: "
            f"{odds_in_words(other.probability)}."
        )
    left = len(fix.alternatives) - MOST_PLACES
    if left > 0:
        lines.append(f"And {left} more, less likely, in fix.json.")
    return tuple(lines)


def _why(fix: Fix, inputs: FixInputs) -> tuple[str, ...]:
    misfit, ridges, share, *notes = _agreement(fix, inputs)
    tried = (
        chance_sentence(fix),
        # A reason of the verdict may have said it; else it is said here.
        "" if any("doubled" in one for one in fix.reasons) else doubled_sentence(fix),
    )
    lines = (*fix.reasons, misfit, ridges, *tried, share, *notes)
    return tuple(line for line in lines if line)


def agreement_lines(fix: Fix, inputs: FixInputs) -> tuple[str, ...]:
    """Say how the lines traced on a plate agree with the ground."""
    return tuple(line for line in _agreement(fix, inputs) if line)


def _agreement(fix: Fix, inputs: FixInputs) -> tuple[str, ...]:
    misfit = ""
    if inputs.has_skyline and math.isfinite(fix.rms_px):
        misfit = (
            f"The traced skyline lies {two_digits(fix.rms_px)} px from the computed "
            f"one (typical), on a scan {inputs.skyline.width_px} px wide."
        )
    notes = (note for note in inputs.skyline.notes if note.startswith("Two tracings"))
    return misfit, ridges_sentence(fix), _skyline_share(inputs), *notes


def _skyline_share(inputs: FixInputs) -> str:
    if not inputs.has_skyline:
        return "No skyline was used: the answer rests on the other evidence alone."
    gaps = skyline_gaps(inputs.skyline)
    share = 1.0 - sum(b - a for a, b in gaps) / inputs.skyline.width_px
    if not gaps:
        return "The skyline was used over the whole width of the scan."
    count = "1 gap" if len(gaps) == 1 else f"{len(gaps)} gaps"
    return (
        f"The skyline was used over {100 * share:.0f}% of the width; {count} "
        "left open, where something stands before the hills or nothing can be read."
    )


def _assumed(fix: Fix, inputs: FixInputs) -> tuple[str, ...]:
    settings, terrain = inputs.settings, inputs.terrain
    height = settings.lens_height
    lens = give_or_take(height.mean_m, height.sd_m, " m")
    files = ", ".join(PurePath(source.path).name for source in terrain.sources)
    return (
        f"The camera stood inside the ground searched ({inputs.area.source}), its lens "
        f"{lens}, above the {height.over} ({settings.footing}).",
        f"The hills are those of {files or 'the elevation model'} (heights of "
        f"{_SURFACES[terrain.surface]}), with trees and small crests allowed for.",
        _lens(inputs),
        f"Light bends by k = {terrain.refraction:g} of the earth's curvature.",
        *filter(None, (_beyond(fix), _reversal(inputs))),
    )


def _beyond(fix: Fix) -> str:
    return beyond_the_edge(fix) if has_skyline(fix) else ""


def _lens(inputs: FixInputs) -> str:
    mean_mm = inputs.settings.principal_distance_mm
    sd_mm = inputs.settings.principal_distance_sd_mm
    if mean_mm is None or sd_mm is None:
        return "The lens is not known: what was usual in the trade was taken."
    return f"Lens to plate, as given: {give_or_take(mean_mm, sd_mm, ' mm')}."


def _reversal(inputs: FixInputs) -> str:
    known = inputs.settings.reversed
    if known is None:
        return ""
    side = "left for right" if known else "the right way round"
    return f"The scan is {side}, as given."


def not_learned_lines(camera: CameraAnswer, inputs: FixInputs) -> tuple[str, ...]:
    """Say what of a camera was assumed rather than learned."""
    names = [
        words
        for name, words in _UNKNOWNS.items()
        if camera.prior_share.get(name, 0.0) > NOT_LEARNED
        and not (name == "principal_distance_px" and lens_given(inputs))
    ]
    if not names:
        return ()
    listed = ", ".join(names[:-1]) + " and " + names[-1] if len(names) > 1 else names[0]
    return (f"Assumed rather than learned: {listed}.",)


def _field_care(fix: Fix) -> tuple[str, ...]:
    return () if fix.verdict == "not determined" else (FIELD_CARE,)
