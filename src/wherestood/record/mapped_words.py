"""Say in plain words where on the ground points of a plate are."""

from __future__ import annotations

import math
from typing import Any

from wherestood.ground.mapping import Mapping
from wherestood.ground.points import GRAZING, WHAT, GroundPoints
from wherestood.record.doubt import (
    compass_words,
    coordinates,
    distance_in_words,
    give_or_take,
)
from wherestood.terrain.meet import GROUND

__all__ = ["point_forms", "point_sentences"]

#: Half a 90% ellipse's axis over a standard error: the square root of -2 ln 0.1.
_SDS = math.sqrt(-2.0 * math.log(0.1))
_REASONS = {
    "sky": "looks over all ground that the elevation model has: sky.",
    "beyond the terrain": "leaves the elevation model before it meets ground.",
    "nearer than the terrain tells": (
        "meets ground nearer than the elevation model's cells tell: not told."
    ),
    "ground of unknown height": "passes ground of unknown height first: not told.",
    "grazing": "meets the ground too flatly to tell where",
    "the likely cameras differ": (
        "meets ground that the elevation model tells by some of the likely cameras "
        "only: not told. A surer camera position would tell more, or a finer model."
    ),
}


def point_forms(mapping: Mapping, found: GroundPoints) -> list[dict[str, Any]]:
    """Return points as JSON can hold them: bearings true, places in WGS 84."""
    frame = mapping.ground.model.terrain.frame
    lon, lat = frame.to_lonlat(found.east_m, found.north_m)
    forms = []
    for row in range(len(found)):
        form: dict[str, Any] = {
            "x_px": float(found.x_px[row]),
            "y_px": float(found.y_px[row]),
            "what": WHAT[int(found.what[row])],
            "cameras_that_see_ground": round(float(found.met[row]), 3),
        }
        if found.what[row] in (GROUND, GRAZING):
            form |= {
                "nearest_m": round(float(found.nearest_m[row]), 1),
                "farthest_m": round(float(found.farthest_m[row]), 1),
                "angle_deg": round(math.degrees(found.angle_rad[row]), 2),
            }
        if found.what[row] == GROUND:
            turn = frame.convergence_deg(float(lon[row]), float(lat[row]))
            ellipse = found.ellipses
            form |= {
                "lon": round(float(lon[row]), 7),
                "lat": round(float(lat[row]), 7),
                "height_m": round(float(found.height_m[row]), 1),
                "height_sd_m": round(float(found.height_sd_m[row]), 1),
                "distance_m": round(float(found.distance_m[row]), 1),
                "bearing_deg": round(
                    (math.degrees(found.bearing_rad[row]) + turn) % 360.0, 3
                ),
                "ellipse": {
                    "probability": 0.9,
                    "half_length_m": round(float(ellipse.major_m[row]), 1),
                    "half_width_m": round(float(ellipse.minor_m[row]), 1),
                    "bearing_deg": round(
                        (math.degrees(ellipse.turn_rad[row]) + turn) % 180.0, 1
                    ),
                },
                "nearer_or_farther_hill": bool(found.torn[row]),
            }
        forms.append(form)
    return forms


def point_sentences(mapping: Mapping, found: GroundPoints) -> list[str]:
    """Return a sentence or two for each point."""
    sentences = []
    for form in point_forms(mapping, found):
        at = f"{form['x_px']:g}, {form['y_px']:g}"
        if form["what"] == "grazing":
            sentences.append(
                f"{at} {_REASONS['grazing']} ({form['angle_deg']:.1f}°): between "
                f"{distance_in_words(form['nearest_m'])} and "
                f"{distance_in_words(form['farthest_m'])} off, 9 times in 10."
            )
        elif form["what"] != "ground":
            sentences.append(f"{at} {_REASONS[form['what']]}")
        else:
            sentences.append(_placed(at, form))
    return sentences


def _placed(at: str, form: dict[str, Any]) -> str:
    ellipse = form["ellipse"]
    long_m, wide_m = ellipse["half_length_m"], ellipse["half_width_m"]
    along = ellipse["bearing_deg"]
    ways = f"{compass_words(along)} and {compass_words(along + 180.0)}"
    height = give_or_take(form["height_m"], form["height_sd_m"], " m")
    words = (
        f"{at} lies at {coordinates(form['lon'], form['lat'], long_m / _SDS)}, "
        f"{distance_in_words(form['distance_m'])} off, true bearing "
        f"{form['bearing_deg']:.1f}°, height {height}. Nine times in ten within "
        f"{distance_in_words(max(long_m, 0.1))} {ways} and "
        f"{distance_in_words(max(wide_m, 0.1))} across."
    )
    if form["nearer_or_farther_hill"]:
        words += " It may be on a nearer or a farther hill."
    return words
