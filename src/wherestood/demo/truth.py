"""Know where the invented plate was taken: the demo alone does."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.demo.camera_truth import CameraTruth
from wherestood.demo.place import Stage, build_stage, world_settings
from wherestood.demo.props import (
    Props,
    chimney_top,
    cottage,
    fence,
    joined,
    stump,
    tree,
    tufts,
)
from wherestood.demo.tone import Lighting
from wherestood.demo.world import World, build_world

__all__ = [
    "CHIMNEYS",
    "DemoScene",
    "DemoTruth",
    "build_scene",
    "chimney_tops",
    "demo_truth",
    "truth_of",
]

Array = NDArray[np.float64]

PX_PER_MM = 300.0 / 25.4
PLATE_MM = (215.9, 165.1)  # whole plate, 8 1/2 by 6 1/2 in

_STATION_M = (2288.0, 4038.0)
_LENS_HEIGHT_M = 1.45
_BEARING_DEG, _TILT_DEG, _ROLL_DEG = 193.4, 0.8, -0.6  # grid bearing
_PRINCIPAL_MM, _RISE_MM, _CROSS_MM = 262.0, 4.0, -1.5
_K1 = 0.006
_SEED = 1874
_EDGE_TREES = 600
# Ahead, right, height [m], leaves.
_LONE_TREES = (
    (58.0, 20.5, 15.0, 34000),
    (120.0, -34.0, 11.0, 9000),
    (135.0, -37.0, 9.0, 7000),
    (150.0, 16.0, 8.0, 6000),
)


@dataclass(frozen=True)
class Cottage:
    """Hold a cottage: its length, depth, wall and ridge [m], and where it stands."""

    size_m: tuple[float, float, float, float]
    forward_m: float
    right_m: float
    turn_deg: float


CHIMNEYS = (
    Cottage((9.5, 5.5, 2.7, 4.9), 92.0, -21.0, 163.4),
    Cottage((6.5, 4.5, 2.4, 4.2), 108.0, -6.0, 211.0),
)


@dataclass(frozen=True)
class DemoTruth:
    """Hold where the invented plate was taken and how.

    Attributes
    ----------
    lon_deg, lat_deg : float
        Station, WGS 84 [deg].
    east_m, north_m : float
        Station in the terrain's own map coordinates [m].
    ground_m, lens_m : float
        Heights of the ground and of the lens [m].
    bearing_deg : float
        True bearing of the lens axis [deg].
    camera : CameraTruth
        The camera; its bearing is from grid north.
    principal_distance_mm : float
        Lens to plate [mm].
    """

    lon_deg: float
    lat_deg: float
    east_m: float
    north_m: float
    ground_m: float
    lens_m: float
    bearing_deg: float
    camera: CameraTruth
    principal_distance_mm: float


@dataclass(frozen=True)
class DemoScene:
    """Hold all that the invented plate is exposed from."""

    stage: Stage
    world: World
    eye_m: Array
    camera: CameraTruth
    props: Props
    lighting: Lighting


def demo_truth() -> DemoTruth:
    """Return the true station of the demo's plate."""
    return truth_of(build_scene())


def truth_of(scene: DemoScene) -> DemoTruth:
    """Return the true station of a scene already built."""
    east_m, north_m, lens_m = (float(value) for value in scene.eye_m)
    lon_deg, lat_deg = scene.stage.to_lonlat(east_m, north_m)
    map_east_m, map_north_m = scene.stage.to_map(east_m, north_m)
    return DemoTruth(
        lon_deg,
        lat_deg,
        map_east_m,
        map_north_m,
        lens_m - _LENS_HEIGHT_M,
        lens_m,
        scene.camera.bearing_deg + scene.stage.convergence_deg,
        scene.camera,
        _PRINCIPAL_MM,
    )


def build_scene() -> DemoScene:
    """Build land, forest, camera and what stands in front: the same every time."""
    rng = np.random.default_rng(_SEED)
    stage = build_stage()
    world = build_world(stage.ground, rng, world_settings(), cleared_m=_cleared_discs())
    ground_m = float(_ground_under(world, np.array([_STATION_M]))[0, 2])
    eye_m = np.array([*_STATION_M, ground_m + _LENS_HEIGHT_M])
    lighting = Lighting(_BEARING_DEG - 118.0, 41.0, haze_m=12500.0, air=0.88)
    return DemoScene(stage, world, eye_m, _camera(), _foreground(world, rng), lighting)


def chimney_tops(scene: DemoScene) -> Array:
    """Return the middle of each cottage's chimney top, (n, 3) [m]."""
    tops = []
    for one in CHIMNEYS:
        long_m, _, _, ridge_m = one.size_m
        along, across, up = chimney_top(long_m, ridge_m)
        place = _ahead(np.array([one.forward_m]), np.array([one.right_m]))
        foot = _ground_under(scene.world, place)[0]
        s, c = np.sin(np.radians(one.turn_deg)), np.cos(np.radians(one.turn_deg))
        turned = (c * along + s * across, -s * along + c * across, up)
        tops.append(foot + np.array(turned))
    return np.array(tops)


def _camera() -> CameraTruth:
    width_px, height_px = (round(side * PX_PER_MM) for side in PLATE_MM)
    return CameraTruth(
        bearing_deg=_BEARING_DEG,
        tilt_deg=_TILT_DEG,
        roll_deg=_ROLL_DEG,
        c_px=_PRINCIPAL_MM * PX_PER_MM,
        x0_px=width_px / 2.0 - _CROSS_MM * PX_PER_MM,
        y0_px=height_px / 2.0 + _RISE_MM * PX_PER_MM,
        k1=_K1,
        width_px=width_px,
        height_px=height_px,
    )


def _ahead(forward_m: Array, right_m: Array) -> Array:
    """Return points (n, 2) so far ahead and to the right of the station [m]."""
    bearing = np.radians(_BEARING_DEG)
    ahead = np.array([np.sin(bearing), np.cos(bearing)])
    aside = np.array([np.cos(bearing), -np.sin(bearing)])
    offsets = np.outer(forward_m, ahead) + np.outer(right_m, aside)
    return np.asarray(np.array(_STATION_M) + offsets)


def _ground_under(world: World, places_m: Array) -> Array:
    """Return points (n, 3) on the ground."""
    height_m = world.mesh.surface_m(places_m[:, 0], places_m[:, 1])
    return np.column_stack([places_m, height_m])


def _cleared_discs() -> list[tuple[float, float, float]]:
    """Return the paddock that settlers cut: discs from behind the camera on."""
    forward_m = np.array([0.0, 70.0, 160.0, 260.0, 300.0])
    centres = _ahead(forward_m, np.array([0.0, 0.0, 0.0, 0.0, 170.0]))
    return [
        (float(east), float(north), reach)
        for (east, north), reach in zip(
            centres, (90.0, 95.0, 110.0, 130.0, 260.0), strict=True
        )
    ]


def _foreground(world: World, rng: np.random.Generator) -> Props:
    """Set two cottages, a fence, trees, stumps and grass before the camera."""

    def on_ground(forward_m: float, right_m: float) -> Array:
        place = _ahead(np.array([forward_m]), np.array([right_m]))
        return np.asarray(_ground_under(world, place)[0])

    parts = [
        cottage(*one.size_m).moved(on_ground(one.forward_m, one.right_m), one.turn_deg)
        for one in CHIMNEYS
    ]
    parts.append(_fence_line(world))
    for forward_m, right_m, height_m, leaves in _LONE_TREES:
        leaf_m = 0.055 * (forward_m / 58.0) ** 0.7
        grown = tree(height_m, 0.27 * height_m, leaves, leaf_m, rng)
        parts.append(grown.moved(on_ground(forward_m, right_m)))
    parts.extend(_wood_edge(world, rng))
    for _ in range(14):
        forward_m = rng.uniform(26.0, 120.0)
        right_m = rng.uniform(-0.5, 0.5) * forward_m
        log = stump(rng.uniform(0.3, 0.75), rng)
        parts.append(log.moved(on_ground(forward_m, right_m), rng.uniform(0, 360)))
    parts.append(_grass(world, rng))
    return joined(parts)


def _wood_edge(world: World, rng: np.random.Generator) -> list[Props]:
    """Dress the nearest woods in single trees, which the mesh shows as walls."""
    n = 12000
    forward_m = np.sort(rng.uniform(90.0, 900.0, n))
    places_m = _ahead(forward_m, rng.uniform(-0.5, 0.5, n) * forward_m)
    rows = np.round((places_m[:, 1] - world.south_m) / world.cell_m).astype(np.int64)
    columns = np.round((places_m[:, 0] - world.west_m) / world.cell_m).astype(np.int64)
    wooded = np.flatnonzero(world.canopy_m[rows, columns] > 0.0)[:_EDGE_TREES]
    trees = []
    for place in wooded:
        node = rows[place], columns[place]
        tall_m = float(world.canopy_m[node])
        root_m = np.array([*places_m[place], world.bare_m[node]])
        grown = tree(tall_m * rng.uniform(0.95, 1.15), 0.22 * tall_m, 260, 0.2, rng)
        trees.append(grown.moved(root_m))
    return trees


def _fence_line(world: World) -> Props:
    """Run a post-and-rail fence across the paddock."""
    right_m = np.arange(-26.0, 27.0, 2.6)
    forward_m = 33.0 + 0.22 * right_m + 1.5 * np.sin(right_m / 9.0)
    return fence(_ground_under(world, _ahead(forward_m, right_m)))


def _grass(world: World, rng: np.random.Generator) -> Props:
    """Strew tufts, denser near the camera, in drifts."""
    n = 22000
    forward_m = 3.5 * np.exp(rng.uniform(0.0, np.log(16.0), n))
    right_m = rng.uniform(-0.52, 0.52, n) * forward_m
    drift = np.sin(forward_m / 2.3 + right_m / 1.9) + np.sin(right_m / 0.9 - 1.0)
    kept = drift + rng.normal(0.0, 0.8, n) > 0.4
    roots_m = _ground_under(world, _ahead(forward_m[kept], right_m[kept]))
    return tufts(roots_m, rng.uniform(0.05, 0.22, len(roots_m)), rng)
