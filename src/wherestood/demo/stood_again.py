"""Invent a plate and a photograph made again near its station, years later.

What changed between them is *invented*: a house gone and another built, fences moved, a
clearing grown over or a wood felled, other light, another lens.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.demo.camera_truth import CameraTruth
from wherestood.demo.canopy import ForestSettings
from wherestood.demo.degrade import ModelSettings, degrade_ground
from wherestood.demo.ground import GroundGrid
from wherestood.demo.mesh import Hits
from wherestood.demo.picture import expose
from wherestood.demo.props import Props, PropScene, cottage, fence, joined, stump, tree
from wherestood.demo.settings import WorldSettings
from wherestood.demo.tone import Lighting
from wherestood.demo.world import World, build_world

__all__ = ["StoodAgain", "invent_again"]

Array = NDArray[np.float64]
_NEVER = 1e9
_REACH_M = 2500.0
#: Two hits of one ray are the same thing if they lie within this share, and this far.
_SAME_SHARE, _SAME_M = 0.002, 0.05


@dataclass(frozen=True)
class StoodAgain:
    """Hold both pictures and the whole truth of them.

    Attributes
    ----------
    then_light, now_light : (height, width) float64 array
        Light on the plate, and blue light on the photograph, the sky being 1.
    then_camera, now_camera : CameraTruth
    then_m, now_m : (3,) float64 array
        East, north, height of both lenses [m].
    offset_m : (3,) float64 array
        Of the photograph's lens: right, forward and up along the plate's sight [m].
    model_m : (rows, columns) float32 array
        The elevation model that a person would have, row 0 the southernmost [m].
    west_m, south_m, model_cell_m : float
        Its node ``[0, 0]`` and spacing [m].
    then_world, now_world : World
    then_props, now_props : Props
    """

    then_light: Array
    now_light: Array
    then_camera: CameraTruth
    now_camera: CameraTruth
    then_m: Array
    now_m: Array
    offset_m: Array
    model_m: NDArray[np.float32]
    west_m: float
    south_m: float
    model_cell_m: float
    then_world: World
    now_world: World
    then_props: Props
    now_props: Props

    def where_now(self, x_px: Array, y_px: Array) -> tuple[Array, Array]:
        """Return where points of the plate truly show on the photograph.

        Returns
        -------
        x_px, y_px : (n,) float64 array
            NaN where what shows on the plate is gone, hidden or out of the frame [px].
        """
        rays = self.then_camera.rays(x_px, y_px)
        points = _first_points(self.then_world, self.then_props, self.then_m, rays)
        away = points - self.now_m
        length = np.linalg.norm(away, axis=1)
        sky = ~np.isfinite(length)
        way = np.where(sky[:, None], rays, away / np.where(sky, 1.0, length)[:, None])
        seen = _first_points(self.now_world, self.now_props, self.now_m, way)
        with np.errstate(invalid="ignore"):  # sky less sky
            off = np.linalg.norm(seen - points, axis=1)
        same = off < _SAME_M + _SAME_SHARE * length
        x, y = self.now_camera.project(way)
        inside = (x > 0) & (x < self.now_camera.width_px)
        inside &= (y > 0) & (y < self.now_camera.height_px)
        told = same & inside & ~sky
        return np.where(told, x, np.nan), np.where(told, y, np.nan)


def invent_again(
    ground: GroundGrid,
    rng: np.random.Generator,
    offset_m: tuple[float, float, float],
    *,
    width_px: int = 1500,
    model: ModelSettings | None = None,
) -> StoodAgain:
    """Invent both pictures.

    Parameters
    ----------
    ground : GroundGrid
        What the world grows from.
    rng : numpy.random.Generator
    offset_m : (right, forward, up)
        How far off the photographer stood, along the plate's sight; up is of the lens
        above its own ground against the plate's above its own [m].
    width_px : int
        Of the plate's scan; the photograph is a third wider [px].
    model : ModelSettings, optional
        How the elevation model differs from the truth.
    """
    forest = ForestSettings(cover=0.4, patch_m=300.0, rough_sd_m=1.2)
    settings = WorldSettings(mesh_cell_m=12.0, detail_m=1.2, forest=forest)
    seed = int(rng.integers(2**31))
    bearing_deg, station = _looks_over(ground, rng)
    look, right = _ways(bearing_deg)
    # What was open then is grown over, and the wood on the other side felled.
    side = 400.0 * (1.0 if rng.random() < 0.5 else -1.0)
    cleared = [
        (*(station + 60.0 * look), 160.0),
        (*(station + rng.uniform(500, 900) * look + side * right), 130.0),
    ]
    felled = (*(station + rng.uniform(350, 600) * look - side * 0.4 * right), 90.0)
    then_world = build_world(
        ground, np.random.default_rng(seed), settings, cleared_m=cleared
    )
    now_world = build_world(
        ground, np.random.default_rng(seed), settings, cleared_m=[cleared[0], felled]
    )

    def lens(at: Array, above_m: float) -> Array:
        height = then_world.mesh.surface_m(at[:1], at[1:])[0]
        return np.array([*at, height + above_m])

    lens_m = rng.normal(1.5, 0.12)
    then_m = lens(station, lens_m)
    moved = station + offset_m[0] * right + offset_m[1] * look
    now_m = lens(moved, lens_m + offset_m[2])
    offset = now_m - then_m
    then_camera = CameraTruth(
        bearing_deg, rng.normal(-2.0, 1.0), rng.normal(0.0, 0.7),
        width_px * rng.uniform(1.05, 1.35), width_px * (0.5 + rng.normal(0, 0.01)),
        0.375 * width_px * (1.0 + rng.normal(0.1, 0.06)), rng.normal(0.006, 0.004),
        width_px, round(0.75 * width_px),
    )  # fmt: skip
    now_width = round(width_px * 4 / 3)
    now_camera = CameraTruth(
        bearing_deg + rng.normal(0.0, 3.0), rng.normal(-1.0, 2.0), rng.normal(0.0, 1.2),
        now_width * rng.uniform(0.72, 0.95),
        now_width * (0.5 + rng.normal(0, 0.003)),
        0.375 * now_width * (1.0 + rng.normal(0, 0.003)), rng.normal(0.0, 0.01),
        now_width, round(0.75 * now_width),
    )  # fmt: skip
    kept, gone, new = _things(then_world, station, look, right, rng)
    then_props, now_props = joined([*kept, *gone]), joined([*kept, *new])
    sun = rng.uniform(-70.0, 70.0)
    air = {"haze_m": 14_000.0, "air": 0.8}
    light_then = Lighting(bearing_deg + 180.0 + sun, rng.uniform(32, 50), **air)
    light_now = Lighting(
        bearing_deg + 180.0 + sun + rng.normal(0.0, 18.0), rng.uniform(32, 50),
        haze_m=20_000.0, air=0.7,
    )  # fmt: skip
    pictures = [
        expose(world, at, camera, props, light, np.random.default_rng(seed + 1)).light
        for world, at, camera, props, light in (
            (then_world, then_m, then_camera, then_props, light_then),
            (now_world, now_m, now_camera, now_props, light_now),
        )
    ]
    told = model or ModelSettings(cell_m=10.0, error_sd_m=2.0, white_sd_m=0.3)
    heights = degrade_ground(
        then_world.bare_m, then_world.canopy_m, then_world.cell_m, told, rng
    )
    along = np.array([offset[:2] @ right, offset[:2] @ look, offset[2]])
    return StoodAgain(
        pictures[0], pictures[1], then_camera, now_camera, then_m, now_m, along,
        heights, ground.west_m, ground.south_m, told.cell_m, then_world, now_world,
        then_props, now_props,
    )  # fmt: skip


def _ways(bearing_deg: float) -> tuple[Array, Array]:
    turn = np.radians(bearing_deg)
    return np.array([np.sin(turn), np.cos(turn)]), np.array(
        [np.cos(turn), -np.sin(turn)]
    )


def _looks_over(ground: GroundGrid, rng: np.random.Generator) -> tuple[float, Array]:
    """Choose a station above what it looks at, well inside the ground."""
    bearings = np.arange(0.0, 360.0, 30.0)
    best: tuple[float, float, Array] | None = None
    for _ in range(60):
        place = (
            0.45
            * np.array([ground.width_m, ground.depth_m])
            * rng.uniform(-1.0, 1.0, 2)
        )
        for bearing_deg in bearings:
            look, _ = _ways(bearing_deg)
            along = np.array([0.0, 40.0, 100.0, 200.0, 400.0, 900.0, 1500.0])
            at = place + along[:, None] * look
            columns = (at[:, 0] - ground.west_m) / ground.cell_m
            rows = (at[:, 1] - ground.south_m) / ground.cell_m
            if columns.min() < 1 or columns.max() > ground.elevation_m.shape[1] - 2:
                continue
            if rows.min() < 1 or rows.max() > ground.elevation_m.shape[0] - 2:
                continue
            z = ground.elevation_m[
                rows.round().astype(int), columns.round().astype(int)
            ]
            slope = (z[1:] - z[0]) / along[1:]
            # A fall before the camera, a rise behind it: near and far in one view.
            beside = [
                ground.elevation_m[int(rows[0]) + k, int(columns[0]) + j]
                for k, j in ((-1, 0), (1, 0), (0, -1), (0, 1))
            ]
            steep = float(np.ptp(beside)) / (2.0 * ground.cell_m)
            worth = -abs(slope[2] + 0.1) - abs(slope[3] + 0.1) + min(slope[5], 0.1)
            worth -= 2.0 * steep
            if best is None or worth > best[0]:
                best = (float(worth), float(bearing_deg), place)
    if best is None:
        raise LookupError("this ground offers no view")
    return best[1] + rng.uniform(-8.0, 8.0), best[2]


def _things(
    world: World, station: Array, look: Array, right: Array, rng: np.random.Generator
) -> tuple[list[Props], list[Props], list[Props]]:
    """Return what stands in both pictures, in the first and in the second alone."""

    def at(forward_m: float, right_m: float) -> Array:
        place = station + forward_m * look + right_m * right
        height = world.mesh.surface_m(place[:1], place[1:])[0]
        return np.array([*place, height])

    def somewhere(near: float, far: float) -> Array:
        away = rng.uniform(near, far)
        return at(away, rng.uniform(-0.36, 0.36) * away)

    def house(near: float, far: float) -> Props:
        size = (rng.uniform(8, 12), rng.uniform(5, 7), 2.8, rng.uniform(4.6, 5.6))
        return cottage(*size).moved(somewhere(near, far), rng.uniform(0, 360))

    def posts(forward_m: float) -> Props:
        across = np.arange(-0.5 * forward_m, 0.5 * forward_m, 2.5)
        return fence(np.array([at(forward_m + 0.15 * x, float(x)) for x in across]))

    kept = [house(55, 90), house(90, 160), posts(rng.uniform(26, 34))]
    kept += [
        stump(rng.uniform(0.4, 1.1), rng).moved(somewhere(9, 45)) for _ in range(26)
    ]
    gone = [house(45, 120), posts(rng.uniform(18, 24))]
    new = [house(45, 120)]
    new += [
        tree(rng.uniform(5, 9), 2.5, 900, 0.25, rng).moved(somewhere(50, 130))
        for _ in range(3)
    ]
    return kept, gone, new


def _first_points(world: World, props: Props, eye_m: Array, rays: Array) -> Array:
    """Return what rays meet first, ground or props; infinite where it is the sky."""
    hits: Hits = world.mesh.first_hits(eye_m, rays)
    flat = np.hypot(rays[:, 0], rays[:, 1])
    along, _ = PropScene(props).first_hits(eye_m, rays)
    reach = np.minimum(hits.distance_m / flat, along)
    # Ground falls away from the straight line by curvature less refraction.
    bent = np.where(
        along * flat < hits.distance_m, 0.0, world.mesh.kappa * hits.distance_m**2
    )
    known = np.isfinite(reach)
    points = eye_m + rays * np.where(known, reach, 0.0)[:, None]
    del bent  # a few centimetres at a kilometre: both stations see it alike
    return np.where(known[:, None], points, np.inf)
