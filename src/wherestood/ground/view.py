"""Compute what a camera at a place would show: horizon, ridges, named things.

Symbols: t tangent of elevation at the lens; d distance [m]; k the drop by curvature
less refraction over d squared [1/m].
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.camera.model import Camera, bearing_elevation, project
from wherestood.evidence.ridge_lines import FARTHER_BY, HIGHER_BY, MOST_RIDGES, SAME
from wherestood.ground.place import FARTHEST_M, Place, frame_bearings_rad
from wherestood.plate.skyline import Skyline
from wherestood.terrain.ground import height_m
from wherestood.terrain.horizon import nearest_start_m
from wherestood.terrain.ridges import ridge_lines

__all__ = [
    "Known",
    "NamedSeen",
    "difference_px",
    "horizon_px",
    "named_in_view",
    "ridges_px",
    "unrolled",
]

Array = NDArray[np.float64]
_BEARINGS = 1600
_RIDGE_BEARINGS = 500
_MARGIN_RAD = 0.01
#: Ground so much nearer than a thing does not hide it: it may be its own slope.
_OWN_GROUND_M = 60.0
HEIGHT_KNOWN_CELLS = 0.25


@dataclass(frozen=True)
class Known:
    """Hold a thing on the ground.

    Attributes
    ----------
    id, name : str
    east_m, north_m : float
        Frame coordinates [m].
    foot_m : float or None
        Height of its foot [m]; the terrain's if not known.
    top_m : float
        Its top above its foot [m].
    """

    id: str
    name: str
    east_m: float
    north_m: float
    foot_m: float | None = None
    top_m: float = 0.0


@dataclass(frozen=True)
class NamedSeen:
    """Hold where a thing shows on the plate.

    Attributes
    ----------
    known : Known
    x_px, y_px : float
        Where its top shows [px].
    distance_m, bearing_deg, elevation_deg : float
        From the lens; the bearing is true.
    height_m : float
        Height of its top [m].
    hidden_by_m : float
        How far the ground before it stands above its top, at its distance; below 0
        where it shows [m].
    cell_m : float
        Cell of the terrain [m].
    """

    known: Known
    x_px: float
    y_px: float
    distance_m: float
    bearing_deg: float
    elevation_deg: float
    height_m: float
    hidden_by_m: float
    cell_m: float

    @property
    def seen(self) -> bool:
        """Say whether it shows, as far as the terrain can tell.

        A summit lies behind its own round shoulder by less than the model's nodes
        know: a quarter of a cell, which is what ground of usual slope changes by
        within half of one.
        """
        return self.hidden_by_m <= HEIGHT_KNOWN_CELLS * self.cell_m


def horizon_px(place: Place, camera: Camera) -> tuple[Array, Array]:
    """Return the horizon as a camera shows it, and its distance.

    Returns
    -------
    pixels : (n, 2) float64 array
        Scan pixels, left to right in the world; NaN where nothing is known.
    distance_m : (n,) float64 array
    """
    bearing_rad = _across(camera, _BEARINGS)
    tangent, distance_m = place.horizon(bearing_rad)
    return _pixels(camera, bearing_rad, tangent), distance_m


def ridges_px(place: Place, camera: Camera) -> Array:
    """Return short stretches of the ridges below the horizon.

    Returns
    -------
    (n, 4) float64 array
        x and y of one end and of the other [px].

    Notes
    -----
    Ridges are joined from one bearing to the next as
    `wherestood.fix.picture.computed_ridges` does.
    """
    bearing_rad = _across(camera, _RIDGE_BEARINGS)
    found = ridge_lines(
        place.model,
        np.array([place.east_m]),
        np.array([place.north_m]),
        np.array([place.lens_m]),
        bearing_rad,
        most=MOST_RIDGES,
        farther_by=FARTHER_BY,
        higher_by=HIGHER_BY,
        nearest_m=nearest_start_m(place.model.terrain.source_cell_m),
        farthest_m=FARTHEST_M,
    )
    distance_m, tangent = found.distance_m[0], found.tangent[0]
    points = np.stack(
        [_pixels(camera, bearing_rad, tangent[:, j]) for j in range(MOST_RIDGES)],
        axis=1,
    )
    with np.errstate(invalid="ignore"):
        apart = np.abs(np.log(distance_m[1:, None, :] / distance_m[:-1, :, None]))
    apart = np.where(np.isfinite(apart), apart, np.inf)
    following = apart.argmin(axis=2)
    row, ridge = np.nonzero(apart.min(axis=2) < SAME)
    ends = np.concatenate(
        (points[row, ridge], points[row + 1, following[row, ridge]]), axis=1
    )
    return np.asarray(ends[np.isfinite(ends).all(axis=1)])


def named_in_view(
    place: Place, camera: Camera, known: Sequence[Known]
) -> list[NamedSeen]:
    """Return the things that stand before a camera, the nearest first.

    A thing counts where its top lies within the frame's width; whether anything
    stands before it is told, not filtered.
    """
    terrain = place.model.terrain
    seen = []
    for thing in known:
        east, north = thing.east_m - place.east_m, thing.north_m - place.north_m
        distance_m = float(np.hypot(east, north))
        if distance_m < 1.0:
            continue
        foot_m = thing.foot_m
        if foot_m is None:
            at = np.array([thing.east_m]), np.array([thing.north_m])
            foot_m = float(height_m(terrain, *at)[0])
        if not np.isfinite(foot_m):
            continue
        drop_m = place.model.curvature_per_m * distance_m**2
        tangent = (foot_m + thing.top_m - place.lens_m - drop_m) / distance_m
        x_px, y_px = project(camera, [east, north, tangent * distance_m])
        if not (0.0 <= float(x_px) <= camera.width_px):
            continue
        bearing_rad = float(np.arctan2(east, north))
        before_m = distance_m - max(_OWN_GROUND_M, 1.5 * terrain.cell_m)
        hidden_by_m = -np.inf
        if before_m > nearest_start_m(terrain.source_cell_m):
            highest, _ = place.horizon(np.array([bearing_rad]), before_m)
            if np.isfinite(highest[0]):
                hidden_by_m = (highest[0] - tangent) * distance_m
        seen.append(
            NamedSeen(
                thing,
                float(x_px),
                float(y_px),
                distance_m,
                (np.degrees(bearing_rad) + place.turn_deg) % 360.0,
                float(np.degrees(np.arctan(tangent))),
                foot_m + thing.top_m,
                float(hidden_by_m),
                terrain.source_cell_m or terrain.cell_m,
            )
        )
    return sorted(seen, key=lambda one: one.distance_m)


def difference_px(skyline: Skyline, pixels: Array) -> tuple[Array, Array]:
    """Return how far a traced skyline lies above the computed one.

    Parameters
    ----------
    skyline : Skyline
        As traced.
    pixels : (n, 2) float64 array
        As `horizon_px` gives them.

    Returns
    -------
    x_px, up_px : (m,) float64 arrays
        At each sample of the traced line; NaN where nothing is computed [px].
    """
    known = np.isfinite(pixels).all(axis=1)
    if known.sum() < 2:
        return skyline.x_px, np.full(skyline.x_px.shape, np.nan)
    order = np.argsort(pixels[known, 0])
    computed = np.interp(
        skyline.x_px,
        pixels[known, 0][order],
        pixels[known, 1][order],
        left=np.nan,
        right=np.nan,
    )
    return skyline.x_px, np.asarray(computed - skyline.y_px)


def unrolled(camera: Camera, x_px: Array, y_px: Array) -> tuple[Array, Array]:
    """Return bearing and elevation of points on the scan [deg].

    Bearings go on past 360 rather than jump: each lies within half a turn of the
    frame's middle.
    """
    bearing_rad, elevation_rad = bearing_elevation(camera, x_px, y_px)
    middle = float(
        bearing_elevation(camera, camera.width_px / 2.0, camera.height_px / 2.0)[0]
    )
    off = (bearing_rad - middle + np.pi) % (2.0 * np.pi) - np.pi
    return np.degrees(middle + off), np.degrees(elevation_rad)


def _across(camera: Camera, count: int) -> Array:
    left, right = frame_bearings_rad(camera)
    return np.linspace(left - _MARGIN_RAD, right + _MARGIN_RAD, count)


def _pixels(camera: Camera, bearing_rad: Array, tangent: Array) -> Array:
    directions = np.stack((np.sin(bearing_rad), np.cos(bearing_rad), tangent), axis=-1)
    return np.stack(project(camera, directions), axis=-1)
