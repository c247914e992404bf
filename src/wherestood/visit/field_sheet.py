"""Gather what a person needs to stand where the camera stood."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Point

from wherestood.earth.magnetic_north import declination
from wherestood.earth.magnetic_today import declination_today
from wherestood.errors import InputError
from wherestood.ground.central import central_camera
from wherestood.ground.mapping import Mapping
from wherestood.ground.on_plate import shown_on_plate
from wherestood.record.doubt import (
    compass_words,
    coordinates,
    give_or_take,
    round_to_doubt,
)
from wherestood.record.local_grid import local_grid
from wherestood.record.mapped_features import MapFeature
from wherestood.visit.approach import Approach, approach_facts, gentlest_approach
from wherestood.visit.clear_spots import ClearSpot, open_view
from wherestood.visit.ground_facts import ground_facts, view_facts
from wherestood.visit.light_there import light_there
from wherestood.visit.modern_lens import ModernLens, modern_lenses
from wherestood.visit.parallax import ParallaxPair, SeenThing, parallax_pairs

__all__ = ["CAUTIONS", "FieldSheet", "SheetPlace", "field_sheet"]

Array = NDArray[np.float64]
CAUTIONS = (
    "An approach side is not a route: nothing here says that it is safe or permitted.",
    "Cliffs, undercut edges, rivers and tides, old shafts and workings, tailings and "
    "old asbestos, traffic and railways, military ground, fire season, stock and "
    "gates: look for yourself.",
    "Private and culturally restricted land: ask first. Protected sites: disturb "
    "nothing, no pegs, no trimming.",
    "Stand still to look at a screen; never step backwards to line up.",
    "Tell someone where you go, and go in pairs. Local law and local authority come "
    "first.",
)
#: Half of the doubt at which coordinates are told: a metre of a fix is not earned.
_LEAST_SD_M = 0.5


@dataclass(frozen=True)
class SheetPlace:
    """Hold one place where the camera may have stood, as it is told.

    Attributes
    ----------
    number : int
        From 1, the likeliest.
    lon_deg, lat_deg : float
        WGS 84 [deg].
    east_m, north_m : float
        In the frame [m].
    probability : float
    wgs84, grid, height : str
        In words, with their doubt.
    """

    number: int
    lon_deg: float
    lat_deg: float
    east_m: float
    north_m: float
    probability: float
    wgs84: str
    grid: str
    height: str


@dataclass(frozen=True)
class FieldSheet:
    """Hold a field sheet.

    Attributes
    ----------
    plate : str
    caution : str
        That the place is not settled; empty where it is.
    near_enough_m : float
    places : tuple of SheetPlace
        The likeliest first.
    facts : tuple of (str, str)
        What and how much, in the order of need.
    pairs : tuple of ParallaxPair
    gap_sds_rad : tuple of float
        How far each pair's gap may be otherwise, as the camera's place is known.
    lenses : tuple of ModernLens
    notes : tuple of str
        What could not be told, and what to mind.
    day : date
        Of the compass.
    bearings_deg : (float, float)
        Grid bearings of the frame's left and right edge.
    regions : dict
        As the fix has them, GeoJSON.
    light : tuple of str
        When the sun stands again as it did, in sentences; empty where nobody asks.
    visits : tuple of str
        How tripods of visits before stood to the likeliest spot, in sentences.
    spots : tuple of ClearSpot
        Where near by the view is open, if it is not at the spot.
    title, fix : str
        What the plate is called besides, and which answer the sheet goes by; empty if
        nothing is known of them.
    approach : Approach or None
        From which side the ground is gentlest.
    plate_mirrored : bool
        Whether the scan is left for right, so that it must be shown turned.
    """

    plate: str
    caution: str
    near_enough_m: float
    places: tuple[SheetPlace, ...]
    facts: tuple[tuple[str, str], ...]
    pairs: tuple[ParallaxPair, ...]
    gap_sds_rad: tuple[float, ...]
    lenses: tuple[ModernLens, ...]
    notes: tuple[str, ...]
    day: date
    bearings_deg: tuple[float, float]
    regions: dict[str, Any]
    light: tuple[str, ...] = ()
    visits: tuple[str, ...] = ()
    spots: tuple[ClearSpot, ...] = ()
    title: str = ""
    fix: str = ""
    approach: Approach | None = None
    plate_mirrored: bool = False


def field_sheet(
    form: dict[str, Any],
    mapping: Mapping,
    features: Sequence[MapFeature],
    day: date,
    rng: np.random.Generator,
    *,
    feature_sd_m: float = 3.0,
    sun_deg: tuple[float, float] | None = None,
    plate_year: float | None = None,
    visits: Sequence[str] = (),
    plate: str = "",
    title: str = "",
    fix: str = "",
) -> FieldSheet:
    """Return the field sheet of a fix.

    Parameters
    ----------
    form : dict
        The fix in its published form.
    mapping : Mapping
        Its cameras and terrain, at the place that is visited.
    features : sequence of MapFeature
        Points that stand there still: pairs are chosen of those in sight.
    day : date
        Of the visit, for the compass.
    rng : numpy.random.Generator
        Where chance comes from.
    feature_sd_m : float
        How far features may be off that do not say it themselves [m].
    sun_deg : (bearing, elevation), optional
        Where the sun stood for the plate, true [deg].
    plate_year : float, optional
        When it was exposed, for the compass of its day.
    visits : sequence of str
        What visits before came to, in sentences.
    plate, title, fix : str
        What plate and answer are called; the plate as its scan, unless told.
    """
    answers = [form, *form["alternatives"]]
    which = max(mapping.place, 1)
    answer = answers[which - 1]
    places = tuple(
        _place(number, one, form, mapping) for number, one in enumerate(answers, 1)
    )
    here = places[which - 1]
    camera = answer["camera"]
    notes: list[str] = []
    things = _things(mapping, features, rng, feature_sd_m)
    pairs = [
        _with_picture(mapping, pair)
        for pair in parallax_pairs(
            things, (here.east_m, here.north_m), camera["principal_distance_px"]
        )
    ]
    if not pairs:
        notes.append(
            "No pair of near and far things that stand there still is known, so that "
            "nothing tells the last metres. Give features near the camera with "
            "--features; without any the spot is no surer than its region."
        )
    mirrored = bool(camera["reversed"])
    if mirrored:
        notes.append(
            "The scan is left for right by this answer. The sheet shows it as the view "
            "was; the scan itself, or a print of it, does not."
        )
    lenses = modern_lenses(
        *mapping.scan_px,
        camera["principal_distance_px"],
        camera["sd"].get("principal_distance_px") or 0.0,
        camera["rise_px"],
        camera["cross_px"],
    )
    turn = mapping.ground.model.terrain.frame.convergence_deg(
        here.lon_deg, here.lat_deg
    )
    edges = _edges_deg(mapping)
    at = here.east_m, here.north_m
    view = open_view(mapping.ground.model, at, edges)
    approach = gentlest_approach(mapping.ground.model.terrain, at)
    facts = [
        *_bearing_facts(camera, here, edges, turn, day, notes),
        *_old_compass(camera, here, plate_year, notes),
        *ground_facts(mapping, at, notes),
        *approach_facts(approach, turn),
        *view_facts(mapping, view, notes),
    ]
    return FieldSheet(
        plate or str(form["plate"]),
        mapping.caution(),
        float(form["near_enough_m"]),
        (here,) if mapping.place else places,
        tuple(facts),
        tuple(pairs),
        tuple(_gap_sd_rad(mapping, pair) for pair in pairs),
        tuple(lenses),
        tuple(notes),
        day,
        edges,
        form["regions"],
        light_there(mapping, at, (here.lon_deg, here.lat_deg), sun_deg, day)
        if sun_deg is not None
        else (),
        tuple(visits),
        view.spots if view is not None else (),
        title,
        fix,
        approach,
        plate_mirrored=mirrored,
    )


def _with_picture(mapping: Mapping, pair: ParallaxPair) -> ParallaxPair:
    """Return a pair with the picture's own gap, where both things are marked on it."""
    far_px, near_px = pair.far.mark_sd_px, pair.near.mark_sd_px
    if far_px is None or near_px is None:
        return pair
    cameras = mapping.one_way_round().cameras
    x, y = ([pair.far.x_px, pair.near.x_px], [pair.far.y_px, pair.near.y_px])
    bearing, _ = cameras.directions(x, y)
    gap = (bearing[:, 0] - bearing[:, 1] + np.pi) % (2.0 * np.pi) - np.pi
    c_px = float(np.median(cameras.draws.principal_distance_px))
    sd = math.hypot(math.hypot(far_px, near_px) / c_px, float(gap.std()))
    return replace(pair, picture_rad=float(np.median(gap)), picture_sd_rad=sd)


def _gap_sd_rad(mapping: Mapping, pair: ParallaxPair) -> float:
    draws = mapping.cameras.draws
    bearings = [
        np.arctan2(one.east_m - draws.east_m, one.north_m - draws.north_m)
        for one in (pair.far, pair.near)
    ]
    off = bearings[0] - bearings[1] - pair.gap_rad
    return float(np.std((off + np.pi) % (2.0 * np.pi) - np.pi))


def _place(
    number: int, one: dict[str, Any], form: dict[str, Any], mapping: Mapping
) -> SheetPlace:
    station, known = one["station"], mapping.places[number - 1]
    sd_m = max(station["sd_east_m"] or 0.0, station["sd_north_m"] or 0.0, _LEAST_SD_M)
    _, doubt = round_to_doubt(known.east_m, sd_m)
    sources = mapping.ground.model.terrain.sources
    own = sources[0].crs if sources else mapping.ground.model.terrain.frame.crs
    grid = local_grid(station["lon"], station["lat"], sd_m, own)
    grid = grid or "no local grid reaches there"
    datum = form["terrain"]["vertical_datum"]
    height = give_or_take(station["height_m"], station["sd_height_m"] or 1.0, " m")
    return SheetPlace(
        number,
        station["lon"],
        station["lat"],
        known.east_m,
        known.north_m,
        float(one.get("probability", form.get("near_enough_share") or 0.0)),
        f"{coordinates(station['lon'], station['lat'], sd_m)} (WGS 84), give or take "
        f"{doubt} m",
        grid,
        f"lens at {height}; vertical datum {datum}",
    )


def _things(
    mapping: Mapping,
    features: Sequence[MapFeature],
    rng: np.random.Generator,
    sd_m: float,
) -> list[SeenThing]:
    """Return the points that show on the plate."""
    found = []
    for feature in features:
        if not isinstance(feature.shape, Point) or not feature.name:
            continue
        off_m = sd_m if feature.sd_m is None else feature.sd_m
        thing = feature.name, feature.shape.x, feature.shape.y, off_m
        if feature.mark_px is not None:
            # What is marked shows, whatever map and fix say of it.
            found.append(SeenThing(*thing, *feature.mark_px))
            continue
        pieces = shown_on_plate(mapping, feature.shape, rng)
        if pieces and pieces[0].seen:
            x, y = pieces[0].points_px[0]
            found.append(SeenThing(*thing, x, y))
    return found


def _edges_deg(mapping: Mapping) -> tuple[float, float]:
    """Return grid bearings of the middle of the frame's left and right edge [deg]."""
    width, height = mapping.scan_px
    one = mapping.cameras.take(np.array([central_camera(mapping)]))
    bearing, _ = one.directions([0.0, width], [height / 2.0, height / 2.0])
    left, right = np.degrees(bearing[0])
    if one.draws.reversed[0]:
        left, right = right, left
    return float(left % 360.0), float(right % 360.0)


def _bearing_facts(
    camera: dict[str, Any],
    here: SheetPlace,
    edges: tuple[float, float],
    turn: float,
    day: date,
    notes: list[str],
) -> list[tuple[str, str]]:
    sight = camera["sight"]
    true_deg = sight["bearing_deg"]
    sd_deg = camera["sd"].get("sight_bearing_deg") or 0.1
    facts = [
        (
            "Looks towards",
            f"{give_or_take(true_deg, sd_deg, '° true')} "
            f"({compass_words(true_deg)}), {sight['elevation_deg']:+.1f}° above level",
        )
    ]
    left, right = ((edge + turn) % 360.0 for edge in edges)
    facts.append(("Frame", f"from {left:.0f}° to {right:.0f}° true"))
    try:
        north = declination_today(here.lon_deg, here.lat_deg, day)
    except InputError as error:
        notes.append(f"No compass bearing: {error.problem}")
        return facts
    magnetic = (true_deg - north.east_deg) % 360.0
    both = math.hypot(sd_deg, north.sd_deg)
    way = "east" if north.east_deg >= 0.0 else "west"
    facts.append(
        (
            "By compass",
            f"{give_or_take(magnetic, both, '° magnetic')}: north lies "
            f"{abs(north.east_deg):.1f}° {way} ({north.source}); iron near by is not "
            "in it",
        )
    )
    return facts


def _old_compass(
    camera: dict[str, Any], here: SheetPlace, year: float | None, notes: list[str]
) -> list[tuple[str, str]]:
    """Return what a compass of the plate's own year would have read."""
    if year is None:
        return []
    try:
        north = declination(here.lon_deg, here.lat_deg, year)
    except InputError as error:
        notes.append(
            f"No compass bearing of the plate's year: {error.problem} None is better "
            "than a wrong one."
        )
        return []
    magnetic = (camera["sight"]["bearing_deg"] - north.east_deg) % 360.0
    told = give_or_take(magnetic, north.sd_deg, "° magnetic")
    return [(f"By a compass of {year:.0f}", f"{told} ({north.source})")]
