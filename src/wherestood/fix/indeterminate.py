"""Find the ways in which evidence hardly fixes a station.

Symbols
-------
J : change of bearings with the station's east and north, (bearings, 2) [rad/m]
W : their weights, 1 / variance, less what an unknown bearing of the camera takes
    away: ``W = diag(w) - w w' / sum(w)`` [1/rad2]

    information = J' W J    [1/m2]

Angles between features do not change along a circle through the station and two of
them; where the station lies on the circle through all, or sees all in nearly one
direction, the information is all but singular and the station slides along it. In the
plane this is the classical danger of three-point resection.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.directions import directions
from wherestood.evidence.information import INDETERMINATE_RATIO, position_information
from wherestood.evidence.items import InLine
from wherestood.evidence.placed import Candidates, Placement
from wherestood.evidence.stations import Stations
from wherestood.fix.answers import Chosen
from wherestood.fix.checked import Indeterminate
from wherestood.fix.kept_ground import Spread
from wherestood.fix.problem import Problem

__all__ = ["indeterminate"]

Array = NDArray[np.float64]

#: Features within so wide an angle lie in one direction [deg].
ONE_WAY_DEG = 15.0
#: A station nearer to a circle than this share of its radius lies near it.
NEAR_CIRCLE_SHARE = 0.05
#: Of more features than this not every three are tried.
MOST_FEATURES = 12


def indeterminate(
    problem: Problem, chosen: Chosen, spread: Spread
) -> Indeterminate | None:
    """Return in which way a station is hardly fixed, None where it is well enough.

    Parameters
    ----------
    chosen : Chosen
        The likeliest place's answer.
    spread : Spread
        Of the station by all evidence.

    Notes
    -----
    Either the answer itself is over 20 times as long as wide, or, without a skyline,
    what the angles between features tell is: heights may still help, and are much less
    to be trusted than they look.
    """
    values, ways = np.linalg.eigh(spread.covariance)
    long_m, short_m = math.sqrt(values[1]), math.sqrt(max(values[0], 1e-12))
    way = ways[:, 1]
    flagged = long_m > INDETERMINATE_RATIO * short_m
    seen = list(_features(problem))
    if not problem.has_skyline and not flagged:
        parts = [_angles_information(plate, chosen) for plate in problem.plates]
        told = [part for part in parts if part is not None]
        if not told:
            return None
        information = np.sum(told, axis=0)
        values, ways = np.linalg.eigh(information)
        flagged = values[1] > INDETERMINATE_RATIO**2 * max(values[0], 1e-30)
        if flagged:
            # Nothing is sought farther off than the ground searched reaches.
            whole_m = problem.area.in_frame(problem.terrain.frame).length / 4.0
            long_m = min(1.0 / math.sqrt(max(values[0], 1e-12)), whole_m)
            short_m = 1.0 / math.sqrt(values[1])
            way = ways[:, 0]
    if not flagged:
        return None
    bearing = math.degrees(math.atan2(way[0], way[1])) % 180.0
    near_m, circle = _nearest_circle(seen, chosen)
    return Indeterminate(
        long_m, short_m, bearing, near_m, circle, _one_way_deg(seen, chosen)
    )


def _features(problem: Problem) -> Iterator[tuple[str, float, float]]:
    """Give the single points that angles are taken to: name, east and north [m]."""
    given: set[str] = set()
    for placement, name in _aims(problem):
        points = placement.candidates(name)
        if points.count == 1 and points.feature_ids[0] not in given:
            given.add(points.feature_ids[0])
            yield (
                points.feature_ids[0],
                float(points.east_m[0]),
                float(points.north_m[0]),
            )


def _aims(problem: Problem) -> Iterator[tuple[Placement, str]]:
    for plate in problem.plates:
        if plate.marks.placement is not None:
            for mark in plate.marks.marks:
                yield plate.marks.placement, mark.id
        if plate.free is None:
            continue
        for item in plate.free.items:
            if isinstance(item, InLine):
                for name in item.speaks_of():
                    yield plate.free.placement, name


def _angles_information(problem: Problem, chosen: Chosen) -> Array | None:
    """Return what angles tell of the station [1/m2]; None where there are none."""
    here = _station(problem, chosen)
    total = np.zeros((2, 2))
    some = False
    table = problem.marks
    if table.placement is not None and len(table.marks) > 1:
        change, variance = _bearings(problem, chosen, table.placement, here)
        if len(variance) > 1:
            weight = 1.0 / variance
            centred = np.diag(weight) - np.outer(weight, weight) / weight.sum()
            total += change.T @ centred @ change
            some = True
    if problem.free is not None:
        placement = problem.free.placement
        items = [
            item
            for item in problem.free.items
            if isinstance(item, InLine)
            and all(placement.candidates(n).count == 1 for n in item.speaks_of())
        ]
        if items:
            found = position_information(items, placement, here, problem.free.lean)
            total += found.information[0]
            some = True
    return total if some else None


def _bearings(
    problem: Problem, chosen: Chosen, placement: Placement, here: Stations
) -> tuple[Array, Array]:
    """Return how bearings of marks go with the station, and their variances."""
    c_px = chosen.camera.principal_distance_px
    changes, variances = [], []
    for mark in problem.marks.marks:
        points: Candidates = placement.candidates(mark.id)
        if points.count != 1:
            continue
        way = directions(here, points)
        changes.append((way.azimuth_by_east[0, 0], way.azimuth_by_north[0, 0]))
        variances.append(way.sd_azimuth_rad[0, 0] ** 2 + (mark.sd_px / c_px) ** 2)
    return np.array(changes).reshape(-1, 2), np.array(variances)


def _station(problem: Problem, chosen: Chosen) -> Stations:
    return Stations(
        np.array([chosen.station.east_m]),
        np.array([chosen.station.north_m]),
        np.array([chosen.station.height_m]),
        refraction=problem.terrain.refraction,
    )


def _nearest_circle(
    seen: list[tuple[str, float, float]], chosen: Chosen
) -> tuple[float, tuple[str, ...]]:
    """Return how far the station lies from the nearest circle through three features.

    NaN and none where it lies near no circle of them.
    """
    here = np.array((chosen.station.east_m, chosen.station.north_m))
    best = math.nan
    names: tuple[str, ...] = ()
    least = NEAR_CIRCLE_SHARE
    for three in itertools.combinations(seen[:MOST_FEATURES], 3):
        points = np.array([(east, north) for _, east, north in three])
        # A circle: |p|^2 = 2 p . m + k for centre m.
        rows = np.column_stack((2.0 * points, np.ones(3)))
        if abs(np.linalg.det(rows)) < 1e-6 * np.abs(rows).max() ** 2:
            continue
        *middle, k = np.linalg.solve(rows, (points**2).sum(axis=1))
        radius = math.sqrt(max(k + float(np.dot(middle, middle)), 0.0))
        off = abs(float(np.hypot(*(here - middle))) - radius)
        if radius > 0.0 and off / radius < least:
            least = off / radius
            best, names = off, tuple(name for name, _, _ in three)
    return best, names


def _one_way_deg(seen: list[tuple[str, float, float]], chosen: Chosen) -> float:
    """Return within how wide an angle all features lie; NaN where it is wide."""
    if len(seen) < 2:
        return math.nan
    east, north = np.array([(e, n) for _, e, n in seen]).T
    turn = np.degrees(
        np.arctan2(east - chosen.station.east_m, north - chosen.station.north_m)
    )
    # Lines are meant: what lies behind is in line as well.
    turn = np.sort(turn % 180.0)
    gaps = np.diff(np.append(turn, turn[0] + 180.0))
    within = float(180.0 - gaps.max())
    return within if within < ONE_WAY_DEG else math.nan
