"""Say in plain words where the camera stood, from a fix in its published form."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pyproj
from numpy.typing import NDArray

from wherestood.record.doubt import (
    compass_words,
    coordinates,
    distance_in_words,
    give_or_take,
    odds_in_words,
)
from wherestood.record.page import Section

__all__ = [
    "CONDITION",
    "answer_lines",
    "cameras_of",
    "looking",
    "nine_in_ten_m",
    "section_lines",
]

_WGS84 = pyproj.Geod(ellps="WGS84")
CONDITION = (
    "if the camera stood inside the ground searched, and the hills then were as assumed"
)
_NINE = 0.9


def answer_lines(
    form: Mapping[str, Any], sections: Sequence[Section]
) -> tuple[str, ...]:
    """Return the answer in a few plain sentences, the first of them the whole of it.

    Parameters
    ----------
    form : mapping
        The fix in its published form.
    sections : sequence of Section
        Its page of words, whose own words are kept where the place is not settled.
    """
    if form["verdict"] == "located":
        return (_located(form), *_chance_of_none(form))
    where = section_lines(sections, "Where")
    if where:
        return (*where, *_chance_of_none(form))
    return (_not_located(form), *_chance_of_none(form))


def section_lines(sections: Sequence[Section], *headings: str) -> tuple[str, ...]:
    """Return the lines of sections by their headings."""
    return tuple(
        line
        for heading in headings
        for one in sections
        if one.heading == heading
        for line in one.lines
    )


def cameras_of(form: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Return the fix's camera, or each of a panorama."""
    return [form["camera"]] if "camera" in form else list(form["cameras"])


def looking(form: Mapping[str, Any]) -> str:
    """Return which way the camera looked, in words."""
    told = []
    for camera in cameras_of(form):
        sight = camera["sight"]["bearing_deg"]
        sd = camera["sd"].get("sight_bearing_deg")
        degrees = give_or_take(sight % 360, math.nan if sd is None else sd, "°")
        told.append(f"{compass_words(sight)} ({degrees} from true north)")
    return " and ".join(told)


def nine_in_ten_m(form: Mapping[str, Any]) -> float:
    """Return how far from the station the camera stood at most, 9 times in 10 [m].

    Of the cameras drawn from the answer nine in ten lie that near; of a fix that
    keeps none, all of its 9-in-10 region does.
    """
    station = form["station"]
    draws = form.get("draws")
    if draws:
        away = _away_m(station, np.array([draws["lon"], draws["lat"]]).T)
        return float(np.quantile(away, _NINE, method="inverted_cdf"))
    corners = [
        point
        for region in form["regions"]["features"]
        if region["properties"]["probability"] == _NINE
        for polygon in region["geometry"]["coordinates"]
        for point in polygon[0]
    ]
    return float(_away_m(station, np.array(corners)[:, :2]).max())


def _away_m(
    station: Mapping[str, Any], lonlat_deg: NDArray[np.float64]
) -> NDArray[np.float64]:
    count = len(lonlat_deg)
    _, _, away = _WGS84.inv(
        np.full(count, station["lon"]), np.full(count, station["lat"]),
        lonlat_deg[:, 0], lonlat_deg[:, 1],
    )  # fmt: skip
    return np.asarray(away, dtype=np.float64)


def _located(form: Mapping[str, Any]) -> str:
    station = form["station"]
    radius_m = nine_in_ten_m(form)
    # Two thirds lie within some 0.7 of the circle that holds nine in ten.
    place = coordinates(station["lon"], station["lat"], 0.7 * radius_m)
    return (
        f"The camera stood within {distance_in_words(radius_m)} of {place}, looking "
        f"{looking(form)}; nine chances in ten, {CONDITION}."
    )


def _not_located(form: Mapping[str, Any]) -> str:
    near = form["near_enough_m"]
    if form["verdict"] == "several places":
        count = 1 + len(form["alternatives"])
        return f"Several places remain: {count}, each told to {near:g} m."
    return f"Where the camera stood is not determined to {near:g} m."


def _chance_of_none(form: Mapping[str, Any]) -> tuple[str, ...]:
    odds = odds_in_words(float(form["elsewhere"]))
    return (f"That it stood in none of the places named here: {odds}.",)
