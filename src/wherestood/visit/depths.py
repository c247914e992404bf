"""Say how far the things are that a plate shows, through every camera a fix keeps.

Ground met by a ray is as far as the terrain has it. Nearer than the terrain tells, the
ground under the tripod goes on with the terrain's slope.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.ground.mapping import Mapping
from wherestood.terrain.ground import height_m
from wherestood.terrain.meet import GROUND, NEAR, meet_ground, nearest_told_m

__all__ = ["Depths", "depths_of", "view_directions"]

Array = NDArray[np.float64]
_CAMERAS, _WAVES = 150, 24
#: How uneven ground is that no model has: common practice of rough pasture [m], and a
#: share of the distance, up to that share of the model's own error which does not hang
#: together over its reach.
_BUMP_M, _UNEVEN, _LONE_SHARE = 0.15, 0.03, 0.3
#: Slope of the ground under the tripod may be off the model's by this, no unit.
_SLOPE_SD = 0.04
#: Ground is told where this share of the cameras look at some.
_MOST = 0.8
#: Where cameras differ by more than this the ground is a near or a far one, of the
#: logarithm; a distance is never surer than the other.
_TORN_SD, _LEAST_SD, _WILD, _COMMON = 0.6, 0.05, 0.3, 0.6
#: The tripod's own ground gives way to the terrain's by so many of the lengths from
#: which that is told.
_PLANE_CELLS = 2.0
#: Logarithm of a distance of which nothing is known: within a factor of five.
UNTOLD_SD = 1.6


@dataclass(frozen=True)
class Depths:
    """Hold directions and distances of plate points, camera by camera.

    Attributes
    ----------
    directions : (cameras, n, 3) float64 array
        Level length 1, along right, forward and up of each camera's own sight.
    inverse_m : (cameras, n) float64 array
        One over the level distance [1/m]; 0 where no ground is met.
    own_sd : (n,) float64 array
        How far each distance may be off by itself, of its logarithm, no unit.
    on_ground : (n,) bool array
        Whether ground is met; what is not may be anything against the sky.
    sight_rad : (cameras,) float64 array
        Grid bearing of each camera's sight [rad].
    lens_m : (cameras,) float64 array
        Of the plate's lens above the ground under it [m].
    slope : (cameras, 2) float64 array
        Of that ground, to the right and forward, no unit.
    """

    directions: Array
    inverse_m: Array
    own_sd: Array
    on_ground: NDArray[np.bool_]
    sight_rad: Array
    lens_m: Array
    slope: Array


def view_directions(mapping: Mapping, x_px: Array, y_px: Array) -> tuple[Array, Array]:
    """Return directions along each camera's own sight, and the sight's grid bearing.

    Returns
    -------
    directions : (cameras, n, 3) float64 array
        Level length 1, along right, forward and up.
    sight_rad : (cameras,) float64 array
        Of the scan's middle [rad].
    """
    width, height = mapping.scan_px
    middle, _ = mapping.cameras.directions([0.5 * width], [0.5 * height])
    bearing, tangent = mapping.cameras.directions(x_px, y_px)
    off = bearing - middle
    return np.stack((np.sin(off), np.cos(off), tangent), axis=-1), middle[:, 0]


def depths_of(
    mapping: Mapping,
    x_px: Array,
    y_px: Array,
    rng: np.random.Generator,
    *,
    drawn: bool = True,
) -> Depths:
    """Return how far points of the plate are.

    Parameters
    ----------
    mapping : Mapping
    x_px, y_px : (n,) float64 array
        Points of the scan [px].
    rng : numpy.random.Generator
        Draws errors of the terrain, which hang together over its reach.
    drawn : bool
        Whether any are: without, the ground is as the model has it.
    """
    count = min(_CAMERAS, len(mapping.cameras))
    some = np.linspace(0, len(mapping.cameras) - 1, count).round().astype(np.int64)
    asked = mapping.at_cameras(np.unique(some))
    directions, sight = view_directions(asked, x_px, y_px)
    draws, doubts = asked.cameras.draws, asked.doubts
    tangent = directions[..., 2]
    bearing = sight[:, None] + np.arctan2(directions[..., 0], directions[..., 1])
    rays = draws.east_m[:, None], draws.north_m[:, None]
    lens_m = draws.lens_m[:, None]
    farthest_m = doubts.farthest_m
    first = meet_ground(
        asked.ground, *rays, lens_m, bearing, tangent, farthest_m=farthest_m
    )
    met = first
    if drawn:
        raised = _raised_m(asked, bearing, first.distance_m, rng)
        met = meet_ground(
            asked.ground, *rays, lens_m - raised, bearing, tangent,
            farthest_m=farthest_m,
        )  # fmt: skip
    distance = np.where(met.what == GROUND, met.distance_m, np.nan)
    under, tilted = _under_the_tripod(asked, sight, rng, drawn)
    slope = (directions[..., :2] * tilted[:, None, :]).sum(axis=-1)
    fall = slope - tangent
    with np.errstate(divide="ignore", invalid="ignore"):
        near = np.where(fall > 0.0, under[:, None] / fall, np.inf)
        told = nearest_told_m(asked.ground.model.terrain.source_cell_m)
        # Under the ground where the terrain begins to tell: nearer than that.
        before = (met.what == NEAR) | (near < told)
        under_it = np.minimum(near, _PLANE_CELLS * told)
        # From the tripod's own ground to the terrain's without a step.
        share = np.clip((distance / told - 1.0) / (_PLANE_CELLS - 1.0), 0.0, 1.0)
        both = under_it ** (1.0 - share) * distance**share
        distance = np.where(before, under_it, np.where(fall > 0.0, both, distance))
        inverse = np.where(np.isfinite(distance), 1.0 / distance, 0.0)
        steep = np.where(before, fall, np.tan(np.maximum(met.grazing_rad, 1e-3)))
        met_by = np.mean(inverse > 0, axis=0)
        # A camera that looks past an edge has the ground told by the others.
        inverse = np.where(
            (inverse == 0.0) & (met_by > _MOST), np.median(inverse, axis=0), inverse
        )
        middle = 1.0 / np.median(inverse, axis=0)  # endless where none is met
        angle = np.median(np.where(inverse > 0, steep, 1e-3), axis=0)
        alone = np.minimum(_UNEVEN * middle, _LONE_SHARE * doubts.terrain_sd_m)
        alone = np.hypot(_BUMP_M, alone)
        own = alone / (middle * np.maximum(angle, 1e-3))
    inverse, spread, common = _without_wild(inverse)
    on_ground = (met_by > _MOST) & (spread < _TORN_SD) & (common > _COMMON)
    inverse = np.where(on_ground, inverse, np.median(inverse, axis=0))
    own = np.where(
        on_ground & np.isfinite(own), np.clip(own, _LEAST_SD, UNTOLD_SD), UNTOLD_SD
    )
    return Depths(directions, inverse, own, on_ground, sight, under, tilted)


def _without_wild(inverse_m: Array) -> tuple[Array, Array, Array]:
    """Return inverse distances with those of wild cameras drawn to the others'.

    Ground that is raised by an error may come to stand before what the plate shows
    behind it: then it is the error that is not so.

    Returns
    -------
    inverse_m : (cameras, n); spread : (n,), of the logarithm; common : (n,)
        The last is the share of cameras that are not wild.
    """
    with np.errstate(divide="ignore"):
        log = np.log(inverse_m)
    middle = np.median(log, axis=0)
    with np.errstate(invalid="ignore"):
        off = np.nan_to_num(log - middle, nan=0.0, neginf=-9.0, posinf=9.0)
    spread = 1.4826 * np.median(np.abs(off), axis=0)
    most = np.maximum(3.0 * spread, _WILD)
    common = np.mean(np.abs(off) <= most, axis=0)
    held = np.where(np.isfinite(middle), middle + np.clip(off, -most, most), -np.inf)
    return np.exp(held), spread, common


def _raised_m(
    mapping: Mapping, bearing: Array, distance: Array, rng: np.random.Generator
) -> Array:
    """Return how much higher the ground is than the model, alike where it is near."""
    draws, doubts = mapping.cameras.draws, mapping.doubts
    known = np.where(np.isfinite(distance), distance, doubts.farthest_m)
    near = np.exp(-known / doubts.correlated_m)
    off = np.stack((known * np.sin(bearing), known * np.cos(bearing)), axis=-1)
    waves = rng.normal(0.0, 1.0 / doubts.correlated_m, (_WAVES, 2))
    phase = rng.uniform(0.0, 2.0 * np.pi, (len(draws), 1, _WAVES))
    # A smooth field of random waves, one for each camera.
    field = np.cos(off @ waves.T + phase).sum(axis=-1) * np.sqrt(2.0 / _WAVES)
    height = rng.normal(mapping.lens_height_m, mapping.lens_height_sd_m, len(draws))
    ground = height_m(mapping.ground.model.terrain, draws.east_m, draws.north_m)
    under = np.nan_to_num(draws.lens_m - ground.astype(np.float64) - height)
    own = doubts.terrain_sd_m * np.sqrt(1.0 - near**2) * field
    return np.asarray(near * under[:, None] + own)


def _under_the_tripod(
    mapping: Mapping, sight: Array, rng: np.random.Generator, drawn: bool
) -> tuple[Array, Array]:
    """Return the lens above its own ground [m], and that ground's slope."""
    draws, terrain = mapping.cameras.draws, mapping.ground.model.terrain
    reach = nearest_told_m(terrain.source_cell_m)

    def rise(east_m: float, north_m: float) -> Array:
        ends = [
            height_m(terrain, draws.east_m + k * east_m, draws.north_m + k * north_m)
            for k in (1.0, -1.0)
        ]
        fall = (ends[0].astype(np.float64) - ends[1]) / (2.0 * reach)
        return np.nan_to_num(fall) + rng.normal(0.0, _SLOPE_SD * drawn, len(draws))

    east, north = rise(reach, 0.0), rise(0.0, reach)
    s, c = np.sin(sight), np.cos(sight)
    slope = np.stack((east * c - north * s, east * s + north * c), axis=-1)
    height = rng.normal(mapping.lens_height_m, mapping.lens_height_sd_m, len(draws))
    return np.maximum(height, 0.2), slope
