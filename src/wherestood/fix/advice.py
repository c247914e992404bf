"""Say what to look for next: what would shrink the ground that holds a station most.

Each thing that could be found out is a reading that the likely cameras expect
differently; `fix.learned` says what it would leave of the ground.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.items import Evidence, Feature, Mark
from wherestood.evidence.items.on_plate import MARK_SD_PX
from wherestood.evidence.placed import Candidates, Placement, place_evidence
from wherestood.evidence.unknowns import COUNT
from wherestood.fix.answers import INDEX, Chosen
from wherestood.fix.checked import Advice
from wherestood.fix.detail_places import places_of_detail
from wherestood.fix.foretold import Foretold, foretell
from wherestood.fix.kept_ground import Weighing, shift_reach_m
from wherestood.fix.landmarks import find_landmarks
from wherestood.fix.learned import (
    DRAWS,
    Ground,
    Reading,
    after_choice,
    after_each,
    after_reading,
)
from wherestood.fix.likely_cameras import LikelyCameras, likely_cameras
from wherestood.fix.problem import Problem

__all__ = ["MOST_ADVICE", "advise"]

Array = NDArray[np.float64]

MOST_ADVICE = 10
#: What leaves more of the ground than this is no advice.
LEAST_GAIN = 0.95
#: A place that somebody finds out is then known to this share of what is near enough
#: (5 m of 125 m), within limits [m], or three times as well as now where that is less.
PLACE_SHARE = 0.04
BEST_PLACE_M, WORST_PLACE_M = 0.5, 50.0
THIRD = 1.0 / 3.0
#: A lens or a plate that somebody finds out, as a share.
LENS_SHARE = 0.01
#: A spacing between two things side by side, as read off the plate [deg].
SPACING_DEG = 0.1
#: Two things are compared where they stand no farther apart than this [deg].
MOST_SPACING_DEG = 8.0
#: A feature that may be marked is in the picture from cameras that hold so much.
IN_PICTURE = 0.5
#: Of many features the nearest are tried.
MOST_FEATURES = 40


@dataclass(frozen=True)
class _Asked:
    """Hold all that candidates are worked out from."""

    problem: Problem
    evidence: Evidence
    chosen: Chosen
    cameras: LikelyCameras
    ground: Ground
    placement: Placement
    rng: np.random.Generator


def advise(
    problem: Problem,
    evidence: Evidence,
    chosen: Chosen,
    weighing: Weighing,
    rng: np.random.Generator,
    held_m2: float | None = None,
) -> tuple[Advice, ...]:
    """Return what would shrink the ground most, the best first.

    Parameters
    ----------
    evidence : Evidence
        All that was given: features nothing speaks of yet, marks of nothing.
    chosen : Chosen
        The likeliest place's answer.
    weighing : Weighing
        Of the kept ground by all evidence.
    held_m2 : float, optional
        Ground that the answer says holds 90% [m2]; that of the kept ground without it.
    """
    reach_m = shift_reach_m(problem)
    # The doubt of a shift of the model stays whatever is read: it is put on after.
    cameras = likely_cameras(problem, weighing, averaged=False)
    ground = Ground.of(cameras, weighing, reach_m)
    before = ground.held_m2(cameras.weight)
    # Of what the answer itself says; here the likeliest cameras stand for it.
    whole = weighing.held_m2() if held_m2 is None else held_m2
    terrain = problem.terrain
    asked = _Asked(
        problem,
        evidence,
        chosen,
        cameras,
        ground,
        place_evidence(evidence, terrain.frame, terrain),
        rng,
    )
    found = []
    for advice, after in _tried(asked):
        share = after / before
        if share < LEAST_GAIN:
            found.append(
                replace(advice, area_before_m2=whole, area_after_m2=share * whole)
            )
    found.sort(key=lambda one: one.area_after_m2)
    return tuple(found[:MOST_ADVICE])


def _tried(asked: _Asked) -> Iterator[tuple[Advice, float]]:
    """Give everything that could be found out, with the ground it would leave."""
    yield from _marked(asked)
    yield from _unmarked(asked)
    yield from _details(asked)
    yield from _landmarks(asked)
    yield from _camera(asked)
    yield from _side_by_side(asked)


def _marked(asked: _Asked) -> Iterator[tuple[Advice, float]]:
    """Give places of marked features, and which of several a mark is."""
    table = asked.problem.marks
    if table.placement is None:
        return
    for mark in table.marks:
        points = table.placement.candidates(mark.id, mark.at)
        told = foretell(asked.problem, asked.cameras, points)
        names = sorted(set(points.feature_ids))
        if len(names) > 1:
            advice = _of("identity", (mark.id, *names), math.nan, asked)
            chance = _which(mark, points, told, names)
            yield advice, after_choice(asked.ground, chance, asked.rng)
        if points.count != 1:
            continue
        to_m = min(_place_m(asked), float(points.sd_m[0]))
        if points.sd_m[0] <= _place_m(asked):
            to_m = THIRD * float(points.sd_m[0])
        reading = _place_reading(mark, told, float(points.sd_m[0]), to_m)
        advice = _of("place", (mark.id, names[0]), to_m, asked, points)
        yield advice, after_reading(asked.ground, reading, asked.rng)


def _place_m(asked: _Asked) -> float:
    """Return how well a place is found out [m]."""
    near_m = asked.problem.settings.near_enough_m
    return min(max(PLACE_SHARE * near_m, BEST_PLACE_M), WORST_PLACE_M)


def _which(mark: Mark, points: Candidates, told: Foretold, names: list[str]) -> Array:
    """Return how likely a mark is each of its features, from each camera."""
    off = told.point_px - np.array((mark.x_px, mark.y_px))
    total = told.camera_px2 + told.feature_px2 + mark.sd_px**2 * np.eye(2)
    total = np.nan_to_num(total) + 1e-9 * np.eye(2)
    off = np.nan_to_num(off, nan=1e6)
    square = np.einsum(
        "nkp,nkp->nk", off, np.linalg.solve(total, off[..., None])[..., 0]
    )
    log = -0.5 * (square + np.linalg.slogdet(total)[1]) + np.log(points.weight)
    each = np.stack(
        [
            np.logaddexp.reduce(log[:, [f == name for f in points.feature_ids]], axis=1)
            for name in names
        ],
        axis=1,
    )
    each = np.exp(each - each.max(axis=1, keepdims=True))
    return np.asarray(each / each.sum(axis=1, keepdims=True))


def _place_reading(mark: Mark, told: Foretold, sd_m: float, to_m: float) -> Reading:
    """Return where each camera expects a marked feature to be found, off its place.

    Symbols: D how the picture moves as the feature does [px/m]; r how far the mark is
    from where the feature is shown [px]; K = s^2 D' (s^2 D D' + p^2)^-1. The feature
    is then K r off, less K G times what the camera is off.
    """
    moves = told.by_place_px[:, 0]
    off = np.nan_to_num(np.array((mark.x_px, mark.y_px)) - told.point_px[:, 0])
    transposed = np.swapaxes(moves, 1, 2)
    seen = sd_m**2 * moves @ transposed + mark.sd_px**2 * np.eye(2)
    gain = sd_m**2 * transposed @ np.linalg.inv(np.nan_to_num(seen) + 1e-9 * np.eye(2))
    left = sd_m**2 * (np.eye(2) - gain @ moves)
    value = (gain @ off[..., None])[..., 0]
    gradient = -gain @ told.by_camera_px[:, 0]
    shown = np.isfinite(told.point_px[:, 0]).all(axis=1, keepdims=True)
    value = np.where(shown, value, np.nan)
    return Reading(value, gradient, left + to_m**2 * np.eye(2))


def _unmarked(asked: _Asked) -> Iterator[tuple[Advice, float]]:
    """Give features that could be marked on the plate, and marks held back."""
    marked = {
        name
        for mark in asked.evidence.marks
        if not mark.held_back
        for name in mark.speaks_of()
    }
    for feature in _nearest(asked, marked):
        points = asked.placement.candidates(feature.id, "ground")
        if points.count == 1:
            yield from _mark_it("mark", (feature.id,), points, asked)


def _nearest(asked: _Asked, marked: set[str]) -> list[Feature]:
    """Return the nearest features of those that no mark is of."""
    station = asked.chosen.station

    def away(feature: Feature) -> float:
        place = asked.placement.features[feature.id]
        return math.hypot(
            float(place.east_m.mean()) - station.east_m,
            float(place.north_m.mean()) - station.north_m,
        )

    left = [one for one in asked.evidence.features if one.id not in marked]
    return sorted(left, key=away)[:MOST_FEATURES]


def _mark_it(
    what: str, subjects: tuple[str, ...], points: Candidates, asked: _Asked
) -> Iterator[tuple[Advice, float]]:
    """Give one point that could be marked, if the picture takes it in."""
    told = foretell(asked.problem, asked.cameras, points)
    samples = asked.problem.hands[0].samples
    y = told.point_px[:, 0]
    with np.errstate(invalid="ignore"):
        inside = (
            (y > 0.0).all(axis=1)
            & (y[:, 0] < samples.width_px)
            & (y[:, 1] < samples.height_px)
        )
    if float(asked.cameras.weight @ inside) < IN_PICTURE:
        return
    error = told.feature_px2[:, 0] + MARK_SD_PX**2 * np.eye(2)
    reading = Reading(y, told.by_camera_px[:, 0], error)
    advice = _of(what, subjects, math.nan, asked, points)
    yield advice, after_reading(asked.ground, reading, asked.rng)


def _details(asked: _Asked) -> Iterator[tuple[Advice, float]]:
    """Give details on the plate whose place nobody knows."""
    for mark in asked.evidence.marks:
        if mark.identities:
            continue
        weight = asked.cameras.weight
        drawn = asked.rng.choice(asked.cameras.count, DRAWS, p=weight)
        points = places_of_detail(
            asked.problem, asked.cameras, drawn, mark, _place_m(asked)
        )
        told = foretell(asked.problem, asked.cameras, points)
        seen = np.array((mark.x_px, mark.y_px))
        readings = [
            (
                int(camera),
                Reading(
                    told.point_px[:, n],
                    told.by_camera_px[:, n],
                    told.feature_px2[:, n] + mark.sd_px**2 * np.eye(2),
                ),
            )
            for n, camera in enumerate(drawn)
        ]
        advice = _of("detail", (mark.id,), _place_m(asked), asked)
        yield advice, after_each(asked.ground, readings, seen)


def _landmarks(asked: _Asked) -> Iterator[tuple[Advice, float]]:
    """Give summits and crossings of ridges that could be marked."""
    found = find_landmarks(asked.problem, asked.chosen)
    for number, kind in enumerate(found.kinds):
        point = found.point(number)
        # One that is a feature already is advised as such.
        if not _is_feature(asked, point):
            yield from _mark_it(kind, (), point, asked)


def _is_feature(asked: _Asked, point: Candidates) -> bool:
    """Say whether a point of the terrain lies where a feature is."""
    return any(
        float(np.hypot(one.east_m - point.east_m, one.north_m - point.north_m).min())
        < point.sd_m[0] + 3.0 * one.sd_m
        for one in asked.placement.features.values()
    )


def _camera(asked: _Asked) -> Iterator[tuple[Advice, float]]:
    """Give the lens, the size of the plate, and what was cut off it."""
    problem, cameras = asked.problem, asked.cameras
    settings = problem.settings
    known = settings.principal_distance_mm
    if problem.px_per_mm is None and known is not None:
        share = math.hypot(
            LENS_SHARE, (settings.principal_distance_sd_mm or 0.0) / known
        )
        what = "plate size"
    else:
        share, what = LENS_SHARE, "lens"
    names = ["log_distance"]
    errors = [share]
    yield (
        _of(what, (), share, asked),
        after_reading(asked.ground, _unknowns(cameras, names, errors), asked.rng),
    )
    if problem.trimmed:
        # As well as the middle of a whole plate is known.
        samples = problem.hands[0].samples
        across = 0.005 * samples.width_px / samples.diagonal_px
        reading = _unknowns(cameras, ["cross"], [across])
        yield (
            _of("trim", (), math.nan, asked),
            after_reading(asked.ground, reading, asked.rng),
        )


def _unknowns(cameras: LikelyCameras, names: list[str], errors: list[float]) -> Reading:
    """Return the reading of some unknowns of the camera themselves."""
    which = [INDEX[name] for name in names]
    gradient = np.zeros((cameras.count, len(which), COUNT))
    for row, unknown in enumerate(which):
        gradient[:, row, unknown] = 1.0
    error = np.broadcast_to(
        np.diag(np.square(errors)), (cameras.count, len(which), len(which))
    )
    return Reading(cameras.theta[:, which], gradient, error)


def _side_by_side(asked: _Asked) -> Iterator[tuple[Advice, float]]:
    """Give pairs of features whose spacing could be read."""
    marked = {name for mark in asked.evidence.marks for name in mark.speaks_of()}
    names = [
        feature.id
        for feature in _nearest(asked, set())[:12]
        if asked.placement.candidates(feature.id).count == 1
    ]
    said = {frozenset(item.speaks_of()) for item in asked.evidence.in_lines}
    for one, other in combinations(names, 2):
        if {one, other} <= marked or frozenset((one, other)) in said:
            continue
        ways = [
            asked.cameras.directions(asked.problem, asked.placement.candidates(name))
            for name in (one, other)
        ]
        value = ways[1].azimuth_rad - ways[0].azimuth_rad
        value = (value + np.pi) % (2.0 * np.pi) - np.pi
        typical = abs(float(asked.cameras.weight @ value[:, 0]))
        if typical > math.radians(MOST_SPACING_DEG):
            continue
        gradient = np.zeros((asked.cameras.count, 1, COUNT))
        gradient[:, :, -2] = ways[1].azimuth_by_east - ways[0].azimuth_by_east
        gradient[:, :, -1] = ways[1].azimuth_by_north - ways[0].azimuth_by_north
        error = ways[0].sd_azimuth_rad ** 2 + ways[1].sd_azimuth_rad ** 2
        error = error[..., None] + math.radians(SPACING_DEG) ** 2
        advice = _of("in line", (one, other), SPACING_DEG, asked)
        reading = Reading(value, gradient, error)
        yield advice, after_reading(asked.ground, reading, asked.rng)


def _of(
    what: str,
    subjects: tuple[str, ...],
    to: float,
    asked: _Asked,
    points: Candidates | None = None,
) -> Advice:
    """Return advice without its areas; of one point with where it is."""
    advice = Advice(what, subjects, to, math.nan, math.nan)
    if points is None:
        return advice
    east, north = float(points.east_m[0]), float(points.north_m[0])
    frame = asked.problem.terrain.frame
    lon, lat = frame.to_lonlat(points.east_m[:1], points.north_m[:1])
    station = asked.chosen.station
    off = (east - station.east_m, north - station.north_m)
    grid_deg = math.degrees(math.atan2(*off))
    turn = frame.convergence_deg(station.lon_deg, station.lat_deg)
    return replace(
        advice,
        lon_deg=float(lon[0]),
        lat_deg=float(lat[0]),
        height_m=float(points.height_m[0]),
        distance_m=math.hypot(*off),
        bearing_deg=(grid_deg + turn) % 360.0,
    )
