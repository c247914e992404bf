"""Draw what is on the map on the plate: where it shows, what hides it, how sure.

Symbols: t tangent of elevation at the lens; d distance [m].
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LinearRing, LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from wherestood.ground.mapping import Mapping
from wherestood.terrain.ground import height_m
from wherestood.terrain.meet import GROUND, meet_ground

__all__ = ["ShownPiece", "shown_on_plate"]

Array = NDArray[np.float64]
#: Cameras that are asked: so many tell a width to a tenth.
_CAMERAS = 100
#: Lines are followed in steps of this share of their distance from the camera.
_STEP_SHARE, _LEAST_STEP_M, _MOST_POINTS = 0.004, 0.5, 4000
#: Ground nearer than a thing by less than this does not hide it: it is its own slope.
_OWN_SHARE, _OWN_CELLS = 0.01, 1.0
#: A thing is drawn as seen where at least half of the cameras see it.
_SEEN = 0.5


@dataclass(frozen=True)
class ShownPiece:
    """Hold a stretch of something, all of it seen or all hidden.

    Attributes
    ----------
    points_px : (n, 2) float64 array
        On the scan; one row for a point.
    seen : bool
        Whether it shows, by at least half of the cameras.
    sd_px : float
        How far it may lie to either side, in the middle of its points: a standard
        error across the line, or along the longer axis of a point [px].
    chance : float
        Share of the cameras that see it, on average.
    """

    points_px: Array
    seen: bool
    sd_px: float
    chance: float


def shown_on_plate(
    mapping: Mapping,
    shape: BaseGeometry,
    rng: np.random.Generator,
    *,
    above_m: float = 0.0,
    sd_m: float = 0.0,
) -> list[ShownPiece]:
    """Return where something on the map shows on the plate.

    Parameters
    ----------
    mapping : Mapping
        Cameras, terrain and doubts.
    shape : shapely geometry
        In frame metres; heights it carries are used, others are the terrain's.
    rng : numpy.random.Generator
        Where chance comes from.
    above_m : float
        How far above the ground it is drawn, for the top of a wall [m].
    sd_m : float
        Standard error of its place on the map, either way [m].

    Returns
    -------
    list of ShownPiece
        Empty if none of it lies within the frame and before the camera.

    Notes
    -----
    As a whole it may be off by its own doubt and the model's height by the model's;
    each camera sees it moved by a draw of both.
    """
    some = np.linspace(0, len(mapping.cameras) - 1, _CAMERAS).round().astype(np.int64)
    asked = mapping.at_cameras(np.unique(some))
    pieces: list[ShownPiece] = []
    for line in _lines(shape):
        points = _followed(asked, line)
        pieces += _pieces(asked, points, rng, above_m, sd_m, len(points) == 1)
    return pieces


def _lines(shape: BaseGeometry) -> list[BaseGeometry]:
    found: list[BaseGeometry] = []
    for part in shapely.get_parts(shape):
        if isinstance(part, Polygon):
            found += [part.exterior, *part.interiors]
        elif isinstance(part, Point | LineString | LinearRing):
            found.append(part)
        elif not part.is_empty:
            found += _lines(part)
    return found


def _followed(mapping: Mapping, line: BaseGeometry) -> Array:
    """Return points along a line (east, north, height), close together when near."""
    draws = mapping.cameras.draws
    at = Point(float(draws.east_m.mean()), float(draws.north_m.mean()))
    if not isinstance(line, Point):
        step = max(_LEAST_STEP_M, _STEP_SHARE * line.distance(at))
        step = max(step, line.length / _MOST_POINTS)
        line = shapely.segmentize(line, step)
    return np.asarray(shapely.get_coordinates(line, include_z=True))


def _pieces(
    mapping: Mapping,
    points: Array,
    rng: np.random.Generator,
    above_m: float,
    sd_m: float,
    alone: bool,
) -> list[ShownPiece]:
    draws, terrain = mapping.cameras.draws, mapping.ground.model.terrain
    count = len(draws)
    moved = rng.normal(0.0, sd_m, (2, count, 1))
    east, north = points[:, 0] + moved[0], points[:, 1] + moved[1]
    ground = height_m(terrain, east, north).astype(np.float64)
    given = np.isfinite(points[:, 2])
    off_east, off_north = east - draws.east_m[:, None], north - draws.north_m[:, None]
    distance = np.hypot(off_east, off_north)
    # One error for the whole line, as it is at its middle.
    raised_m = mapping.ground_off_m(np.median(distance, axis=1, keepdims=True), rng)
    top = np.where(given, points[:, 2], ground + raised_m) + above_m
    drop = mapping.ground.model.curvature_per_m * distance**2
    tangent = (top - draws.lens_m[:, None] - drop) / distance
    bearing = np.arctan2(off_east, off_north)
    x, y = mapping.cameras.pixels(bearing, tangent)
    met = meet_ground(
        mapping.ground,
        draws.east_m[:, None],
        draws.north_m[:, None],
        draws.lens_m[:, None] - raised_m,
        bearing,
        tangent,
        farthest_m=mapping.doubts.farthest_m,
    )
    own = np.maximum(_OWN_SHARE * distance, _OWN_CELLS * terrain.cell_m)
    hidden = (met.what == GROUND) & (met.distance_m < distance - own)
    width, height = mapping.scan_px
    inside = (x >= 0) & (x <= width) & (y >= 0) & (y <= height)
    shows = inside.mean(axis=0) >= _SEEN
    chance = np.mean(~hidden, axis=0)
    seen = chance >= _SEEN
    middle = np.column_stack((_middle(x), _middle(y)))
    sd = _across_px(x, y, middle, alone)
    pieces = []
    for row in _runs(shows, seen):
        if row.size < 2 and not alone:
            continue
        pieces.append(
            ShownPiece(
                middle[row],
                bool(seen[row[0]]),
                float(np.median(sd[row])),
                float(chance[row].mean()),
            )
        )
    return pieces


def _runs(shows: NDArray[np.bool_], seen: NDArray[np.bool_]) -> list[NDArray[np.int64]]:
    """Return stretches of one kind; each begins where the one before ended."""
    runs, begin = [], 0
    while begin < len(shows):
        end = begin + 1
        while (
            end < len(shows) and shows[end] == shows[begin] and seen[end] == seen[begin]
        ):
            end += 1
        if shows[begin]:
            last = min(end + 1, len(shows)) if end < len(shows) and shows[end] else end
            runs.append(np.arange(begin, last))
        begin = end
    return runs


def _middle(values: Array) -> Array:
    ordered = np.sort(values, axis=0)
    count = np.isfinite(ordered).sum(axis=0)
    at = np.maximum(count - 1, 0) // 2
    return np.asarray(ordered[at, np.arange(values.shape[1])])


def _across_px(x: Array, y: Array, middle: Array, alone: bool) -> Array:
    """Return the standard error across a line, or along a point's longer axis."""
    known = np.isfinite(x) & np.isfinite(y)
    count = np.maximum(known.sum(axis=0), 2)
    off_x = np.where(known, x - middle[:, 0], 0.0)
    off_y = np.where(known, y - middle[:, 1], 0.0)
    xx, yy, xy = (
        (a * b).sum(axis=0) / (count - 1)
        for a, b in ((off_x, off_x), (off_y, off_y), (off_x, off_y))
    )
    if alone or len(middle) < 2:
        half = 0.5 * (xx + yy)
        return np.asarray(np.sqrt(half + np.hypot(0.5 * (xx - yy), xy)))
    way = np.gradient(middle, axis=0)
    length = np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-9)
    nx, ny = -way[:, 1] / length, way[:, 0] / length
    return np.asarray(
        np.sqrt(np.maximum(xx * nx**2 + yy * ny**2 + 2 * xy * nx * ny, 0))
    )
