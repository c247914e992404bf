"""Say a fix in plain words."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import PurePath

import pyproj
from shapely.geometry import MultiPolygon

from wherestood.fix.result import CameraAnswer, Fix, StationAnswer
from wherestood.record.doubt import (
    area_in_words,
    compass_words,
    coordinates,
    distance_in_words,
    give_or_take,
    odds_in_words,
)
from wherestood.record.fix_json import skyline_gaps
from wherestood.record.inputs import FixInputs

__all__ = ["CONDITION", "FIELD_CARE", "Section", "plain_words", "region_area_m2"]

NOT_LEARNED = 0.7  # share of the first doubt left, above which nothing was learned
MOST_PLACES = 5
CONDITION = (
    "if the camera stood inside the ground searched, and the hills then were as assumed"
)
FIELD_CARE = (
    "Nothing here says that the place is safe to reach or open to you. Ask the owner "
    "and heed local law first; mind edges, water, tides, old workings, traffic and "
    "fire; stand still to look at a screen, never step backwards to line up a view; "
    "tell someone, and go in pairs."
)
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


@dataclass(frozen=True)
class Section:
    """Hold one heading and its sentences."""

    heading: str
    lines: tuple[str, ...]


def plain_words(fix: Fix, inputs: FixInputs) -> tuple[Section, ...]:
    """Return the answer as a page of short sections.

    Numbers carry their doubt and no more digits than it earns.
    """
    sections = [
        Section("Where", _where(fix, inputs)),
        Section("Which way", _which_way(fix.camera, fix.verdict)),
        Section("How sure", _how_sure(fix, inputs)),
        Section("Other places", _other_places(fix)),
        Section("Why", _why(fix, inputs)),
        Section("What is assumed", _assumed(fix, inputs)),
        Section("What the plate did not tell", _not_learned(fix.camera)),
        Section("Before anybody goes there", _field_care(fix)),
    ]
    return tuple(section for section in sections if section.lines)


def region_area_m2(region: MultiPolygon) -> float:
    """Return the area of a region on the ellipsoid [m2]."""
    return abs(float(_WGS84.geometry_area_perimeter(region)[0]))


def _sd_m(station: StationAnswer) -> float:
    return math.hypot(station.sd_east_m, station.sd_north_m)


def _place(station: StationAnswer) -> str:
    sd_m = _sd_m(station)
    where = coordinates(station.lon_deg, station.lat_deg, sd_m)
    if not math.isfinite(sd_m):
        return where
    return f"{where} (give or take {distance_in_words(sd_m)})"


def _where(fix: Fix, inputs: FixInputs) -> tuple[str, ...]:
    place = _place(fix.station)
    if fix.verdict == "not determined":
        return (
            "Not determined: this skyline does not settle where the camera stood.",
            f"The likeliest single place, {place}, is not an answer.",
        )
    if fix.verdict == "several places":
        return (
            "Several places fit, and this skyline does not choose between them.",
            f"The likeliest camera position is {place}.",
        )
    return (f"Camera position: {place}.", _height(fix.station, inputs))


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
    lines = [
        f"Looks towards {compass_words(camera.sight_bearing_deg)}: the middle of the "
        f"picture bears {sight}, from true north."
    ]
    if camera.reversed:
        lines.append("The scan is left for right; everything here allows for that.")
    return tuple(lines)


def _how_sure(fix: Fix, inputs: FixInputs) -> tuple[str, ...]:
    lines = [
        f"Within {fix.near_enough_m:g} m of that point: "
        f"{odds_in_words(fix.near_enough_share)}, {CONDITION}."
    ]
    if 0.9 in fix.regions:
        region_m2 = region_area_m2(fix.regions[0.9])
        pieces = len(fix.regions[0.9].geoms)
        held = f"in {pieces} pieces " if pieces > 1 else ""
        lines.append(
            f"The region that holds it 9 times in 10 covers {area_in_words(region_m2)} "
            f"{held}of the {area_in_words(inputs.area.size_km2 * 1e6)} searched."
        )
    lines.append(
        f"None of these places, or outside the ground searched: "
        f"{odds_in_words(fix.elsewhere)}."
    )
    return tuple(lines)


def _other_places(fix: Fix) -> tuple[str, ...]:
    lines = []
    for number, other in enumerate(fix.alternatives[:MOST_PLACES], start=1):
        _, _, apart_m = _WGS84.inv(
            fix.station.lon_deg,
            fix.station.lat_deg,
            other.station.lon_deg,
            other.station.lat_deg,
        )
        lines.append(
            f"{number}. {_place(other.station)}, {distance_in_words(apart_m)} away, "
            f"looking {compass_words(other.camera.sight_bearing_deg)}: "
            f"{odds_in_words(other.probability)}."
        )
    left = len(fix.alternatives) - MOST_PLACES
    if left > 0:
        lines.append(f"And {left} more, less likely, in fix.json.")
    return tuple(lines)


def _why(fix: Fix, inputs: FixInputs) -> tuple[str, ...]:
    lines = list(fix.reasons)
    if math.isfinite(fix.rms_px):
        lines.append(
            f"The traced skyline lies {fix.rms_px:.2g} px from the computed one "
            f"(typical), on a scan {inputs.skyline.width_px} px wide."
        )
    if math.isfinite(fix.chance):
        lines.append(f"So good a match by chance: {_chance(fix.chance)}.")
    lines.append(_skyline_share(inputs))
    return tuple(lines)


def _chance(chance: float) -> str:
    if 0 < chance < 0.005:
        times = float(f"{1 / chance:.1g}")
        return "less than 1 in a million" if times > 1e6 else f"about 1 in {times:,.0f}"
    return odds_in_words(chance)


def _skyline_share(inputs: FixInputs) -> str:
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
        f"{lens} above the {height.over} ({settings.footing}).",
        f"The hills are those of {files or 'the elevation model'} (heights of "
        f"{_SURFACES[terrain.surface]}), with trees and small crests allowed for.",
        _lens(inputs),
        f"Light bends by k = {terrain.refraction:g} of the earth's curvature.",
        *_reversal(fix, inputs),
    )


def _lens(inputs: FixInputs) -> str:
    mean_mm = inputs.settings.principal_distance_mm
    sd_mm = inputs.settings.principal_distance_sd_mm
    if mean_mm is None or sd_mm is None:
        return "The lens is not known: what was usual in the trade was taken."
    return f"Lens to plate, as given: {give_or_take(mean_mm, sd_mm, ' mm')}."


def _reversal(fix: Fix, inputs: FixInputs) -> tuple[str, ...]:
    known = inputs.settings.reversed
    if known is None:
        return () if fix.camera.reversed else ("Left for right was tried too.",)
    side = "left for right" if known else "the right way round"
    return (f"The scan is {side}, as given.",)


def _not_learned(camera: CameraAnswer) -> tuple[str, ...]:
    names = [
        words
        for name, words in _UNKNOWNS.items()
        if camera.prior_share.get(name, 0.0) > NOT_LEARNED
    ]
    if not names:
        return ()
    listed = ", ".join(names[:-1]) + " and " + names[-1] if len(names) > 1 else names[0]
    return (f"Assumed rather than learned: {listed}.",)


def _field_care(fix: Fix) -> tuple[str, ...]:
    return () if fix.verdict == "not determined" else (FIELD_CARE,)
