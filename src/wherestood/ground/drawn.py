"""Turn points, lines and outlines drawn on a plate into geometry of the map."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiLineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from wherestood.errors import InputError
from wherestood.ground.mapping import Mapping
from wherestood.ground.points import WHAT, GroundPoints, ground_points
from wherestood.terrain.meet import GROUND, meet_ground

__all__ = ["MappedShape", "map_shape"]

Array = NDArray[np.float64]
#: Lines are followed in steps of this [px], or in so many if that is fewer.
_STEP_PX, _MOST_STEPS = 6.0, 600
#: Neighbouring points whose distances differ by this ratio have hidden ground between.
_HIDDEN = 1.1


@dataclass(frozen=True)
class MappedShape:
    """Hold what something drawn on the plate is on the map.

    Attributes
    ----------
    geometry : shapely geometry or None
        In frame metres, on the ground the camera sees; None where nothing of it can be
        told.
    share : float
        How much of what was drawn could be carried, 0 to 1, by its length on the plate.
    doubt_m, most_doubt_m : float
        Half the length of the ellipse that holds 9 in 10, in the middle of its points
        and at the worst of them [m].
    height_m : float
        Of the ground, in the middle of its points [m].
    nearest_m, farthest_m : float
        Distance from the camera, over its points [m].
    flagged : dict of str to int
        How many of its points could not be placed, by the reason.
    broken : int
        How often ground that the camera does not see lies between two of its points.
    torn : bool
        Whether some of it may be on a nearer or a farther hill.
    """

    geometry: BaseGeometry | None
    share: float
    doubt_m: float
    most_doubt_m: float
    height_m: float
    nearest_m: float
    farthest_m: float
    flagged: dict[str, int]
    broken: int
    torn: bool


def map_shape(
    mapping: Mapping, shape: BaseGeometry, rng: np.random.Generator
) -> MappedShape:
    """Return on the map what was drawn on the plate.

    Parameters
    ----------
    mapping : Mapping
        Cameras, terrain and doubts.
    shape : Point, LineString or Polygon
        In pixels of the scan; of a polygon, its outline.
    rng : numpy.random.Generator
        Where chance comes from.

    Returns
    -------
    MappedShape
        A polygon comes out as one if all of its outline lies on the ground and no
        hidden ground lies across it, and as lines of what can be told otherwise.

    Raises
    ------
    InputError
        If it is of another kind, or empty.

    Notes
    -----
    All points of one shape are carried by one camera, that which puts them most in
    the middles of their ellipses: carried each by its own they would be ragged.
    """
    x, y, closed = _points_on(shape)
    found = ground_points(mapping, x, y, rng)
    east, north = _by_one_camera(mapping, found)
    on = (found.what == GROUND) & np.isfinite(east)
    away = np.hypot(
        east - mapping.cameras.draws.east_m.mean(),
        north - mapping.cameras.draws.north_m.mean(),
    )
    with np.errstate(invalid="ignore"):
        ratio = away[1:] / away[:-1]
        jump = np.maximum(ratio, 1.0 / ratio) > _HIDDEN
    jump &= on[1:] & on[:-1]
    geometry = _geometry(east, north, on, jump, closed)
    reasons = [WHAT[int(kind)] for kind in found.what[~on] if kind != GROUND]
    doubt = found.ellipses.major_m[on]
    torn = bool(found.torn[on].any())

    def middle(values: Array, share: float = 0.5) -> float:
        return float(np.quantile(values[on], share)) if on.any() else np.nan

    return MappedShape(
        geometry,
        float(on.mean()),
        float(np.median(doubt)) if on.any() else np.nan,
        float(doubt.max()) if on.any() else np.nan,
        middle(found.height_m),
        middle(found.distance_m, 0.0),
        middle(found.distance_m, 1.0),
        {reason: reasons.count(reason) for reason in sorted(set(reasons))},
        int(jump.sum()),
        torn,
    )


def _points_on(shape: BaseGeometry) -> tuple[Array, Array, bool]:
    """Return points along a shape, close together, and whether it is an outline."""
    if shape.is_empty or not isinstance(shape, Point | LineString | Polygon):
        raise InputError(
            f"A {shape.geom_type} cannot be carried to the map.",
            "Draw points, lines or outlines, each for itself.",
        )
    if isinstance(shape, Point):
        return np.array([shape.x]), np.array([shape.y]), False
    closed = isinstance(shape, Polygon)
    line = shape.exterior if isinstance(shape, Polygon) else shape
    longest = max(_STEP_PX, line.length / _MOST_STEPS)
    along = shapely.get_coordinates(shapely.segmentize(line, longest))
    return along[:, 0], along[:, 1], closed


def _by_one_camera(mapping: Mapping, found: GroundPoints) -> tuple[Array, Array]:
    """Return places through the camera that is most in the middle of all of them."""
    if len(found) == 1:
        return found.east_m, found.north_m
    draws = mapping.cameras.draws
    bearing, tangent = mapping.cameras.directions(found.x_px, found.y_px)
    met = meet_ground(
        mapping.ground,
        draws.east_m[:, None],
        draws.north_m[:, None],
        draws.lens_m[:, None],
        bearing,
        tangent,
        farthest_m=mapping.doubts.farthest_m,
    )
    east = draws.east_m[:, None] + met.distance_m * np.sin(bearing)
    north = draws.north_m[:, None] + met.distance_m * np.cos(bearing)
    on = found.what == GROUND
    ellipse = found.ellipses
    sine, cosine = np.sin(ellipse.turn_rad), np.cos(ellipse.turn_rad)
    right, ahead = east - ellipse.east_m, north - ellipse.north_m
    off2 = ((right * sine + ahead * cosine) / ellipse.major_m) ** 2
    off2 += ((right * cosine - ahead * sine) / ellipse.minor_m) ** 2
    # What a camera does not see at all counts as outside its ellipse.
    off2 = np.where(np.isfinite(off2), np.minimum(off2, 9.0), 9.0)
    best = int(np.argmin((off2 * on).sum(axis=1)))
    return east[best], north[best]


def _geometry(
    east: Array,
    north: Array,
    on: NDArray[np.bool_],
    jump: NDArray[np.bool_],
    closed: bool,
) -> BaseGeometry | None:
    if not on.any():
        return None
    if len(on) == 1:
        return Point(east[0], north[0])
    points = np.column_stack((east, north))
    if closed and on.all() and not jump.any():
        outline = Polygon(points)
        if outline.is_valid and outline.area > 0.0:
            return outline
    # A new piece begins where the one before ended or hidden ground lies between.
    begins = on & ~np.concatenate(([False], on[:-1] & ~jump))
    number = np.cumsum(begins)
    pieces = []
    for piece in range(1, int(number.max()) + 1):
        row = np.flatnonzero(on & (number == piece))
        if row.size > 1:
            pieces.append(LineString(points[row]))
    if not pieces:
        return Point(points[np.flatnonzero(on)[0]])
    return pieces[0] if len(pieces) == 1 else MultiLineString(pieces)
