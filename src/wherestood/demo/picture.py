"""Expose an invented plate: cast a ray for every pixel and gather its light."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from wherestood.demo.camera_truth import CameraTruth
from wherestood.demo.mesh import Hits
from wherestood.demo.props import Props, PropScene
from wherestood.demo.silhouette import Silhouette, picture_skyline
from wherestood.demo.tone import GroundTones, Lighting, prop_light, through_haze
from wherestood.demo.world import World

__all__ = ["Exposure", "expose"]

Array = NDArray[np.float64]

_STRIP_ROWS = 150
_PROP_REACH_M = 250.0
_LENS_BLUR_PX = 0.7
_WAVE_SLOPES = (-0.012, -0.002, 0.011)


@dataclass(frozen=True)
class Exposure:
    """Hold the light on a plate and what is known of it.

    Attributes
    ----------
    light : (height_px, width_px) float64 array
        Light, the sky being 1.
    skyline : Silhouette
        True skyline of land, one value a column; props do not count.
    covered : (width_px,) bool array
        Columns where a prop hides the skyline.
    """

    light: Array
    skyline: Silhouette
    covered: NDArray[np.bool_]


def expose(
    world: World,
    eye_m: Array,
    camera: CameraTruth,
    props: Props,
    lighting: Lighting,
    rng: np.random.Generator,
) -> Exposure:
    """Return the light that falls on the plate.

    Parameters
    ----------
    world : World
        The true world.
    eye_m : (3,) float64 array
        East, north, height of the lens [m].
    camera : CameraTruth
        The true camera.
    props : Props
        What stands in front, in the same coordinates as the world.
    lighting : Lighting
        Sun and air.
    rng : numpy.random.Generator
        Draws textures.
    """
    columns_px = np.arange(camera.width_px, dtype=np.float64) + 0.5
    skyline = picture_skyline(world.mesh, eye_m, camera, columns_px)
    light = np.ones((camera.height_px, camera.width_px))
    propped = np.zeros(light.shape, dtype=bool)
    exposer = _Exposer(
        world, eye_m, camera, PropScene(props), lighting, rng, skyline.where
    )
    for top in range(0, camera.height_px, _STRIP_ROWS):
        strip = slice(top, min(top + _STRIP_ROWS, camera.height_px))
        light[strip], propped[strip] = exposer.strip(strip)
    light = _soften_edge(light, propped, skyline.where)
    light = ndimage.gaussian_filter(light, _LENS_BLUR_PX)
    return Exposure(light, skyline, _covered(propped, skyline.where))


class _Exposer:
    """Gather light strip by strip, so that memory stays small."""

    def __init__(
        self,
        world: World,
        eye_m: Array,
        camera: CameraTruth,
        scene: PropScene,
        lighting: Lighting,
        rng: np.random.Generator,
        skyline_px: Array,
    ) -> None:
        self._world, self._eye_m, self._camera = world, eye_m, camera
        self._scene, self._lighting, self._rng = scene, lighting, rng
        self._skyline_px = np.where(np.isfinite(skyline_px), skyline_px, 0.0)
        self._tones = GroundTones(world, lighting, rng)

    def strip(self, rows: slice) -> tuple[Array, NDArray[np.bool_]]:
        """Return light and prop mask of some rows."""
        x_px, y_px = np.meshgrid(
            np.arange(self._camera.width_px) + 0.5,
            np.arange(rows.start, rows.stop) + 0.5,
        )
        shape = x_px.shape
        rays = self._camera.rays(x_px.ravel(), y_px.ravel())
        light = np.ones(len(rays))
        distance_m = np.full(len(rays), np.inf)
        below = np.flatnonzero((y_px > self._skyline_px[None, :]).ravel())
        if len(below):
            light[below], distance_m[below] = self._ground(rays[below])
        along_m, which = self._scene.first_hits(self._eye_m, rays)
        flat_m = along_m * np.hypot(rays[:, 0], rays[:, 1])
        front = np.flatnonzero(flat_m < distance_m)
        if len(front):
            light[front] = self._props(rays[front], along_m[front], which[front])
        propped = np.zeros(len(rays), dtype=bool)
        propped[front] = True
        return light.reshape(shape), propped.reshape(shape)

    def _props(self, rays: Array, along_m: Array, which: NDArray[np.int64]) -> Array:
        points_m = self._eye_m + rays * along_m[:, None]
        shaded = self._scene.shaded(points_m - 0.05 * rays, self._lighting.sun())
        light = prop_light(
            self._scene, which, points_m, rays, shaded, self._lighting, self._rng
        )
        return through_haze(light, along_m, self._lighting)

    def _ground(self, rays: Array) -> tuple[Array, Array]:
        """Return the light of ground or water along rays, and its distance [m]."""
        hits = self._world.mesh.first_hits(self._eye_m, rays)
        seen = np.isfinite(hits.distance_m)
        light = np.ones(len(rays))
        some = Hits(hits.distance_m[seen], hits.east_m[seen], hits.north_m[seen])
        footprint_m = some.distance_m / self._camera.c_px
        shaded = self._prop_shadow(some, rays[seen])
        lit = self._tones.light(some, footprint_m, shaded)
        wet = self._tones.is_water(some)
        if wet.any():
            lit[wet] = self._water(_taken(some, wet), rays[seen][wet])
        light[seen] = lit
        return light, hits.distance_m

    def _prop_shadow(self, hits: Hits, rays: Array) -> Array:
        shaded = np.zeros(len(rays))
        near = np.flatnonzero(hits.distance_m < _PROP_REACH_M)
        if len(near):
            points_m = self._points(_taken(hits, near), rays[near])
            hidden = self._scene.shaded(points_m, self._lighting.sun())
            shaded[near] = hidden
        return shaded

    def _points(self, hits: Hits, rays: Array) -> Array:
        """Return hit points a hand's breadth above the ground, (n, 3)."""
        rise = rays[:, 2] / np.hypot(rays[:, 0], rays[:, 1])
        height_m = self._eye_m[2] + rise * hits.distance_m + 0.1
        return np.stack([hits.east_m, hits.north_m, height_m], axis=-1)

    def _water(self, hits: Hits, rays: Array) -> Array:
        """Mirror rays on water whose waves a long exposure has smoothed away."""
        up = np.abs(rays[:, 2])
        image = np.mean(
            [self._mirrored(hits, rays, up + lift) for lift in _WAVE_SLOPES], axis=0
        )
        share = 0.06 + 0.8 * (1.0 - up) ** 5
        light = share * image + (1.0 - share) * 0.3
        ripple = self._tones.ripple(hits, hits.distance_m / self._camera.c_px)
        light *= 1.0 + 0.05 * ripple
        return through_haze(light, hits.distance_m, self._lighting)

    def _mirrored(self, hits: Hits, rays: Array, up: Array) -> Array:
        """Return the light of what rays turned upward at the water meet."""
        upward = np.column_stack([rays[:, :2], np.maximum(up, 1e-4)])
        level_m = float(self._world.ground.water_level_m or 0.0)
        starts_m = np.column_stack(
            [hits.east_m, hits.north_m, np.full(len(rays), level_m + 0.3)]
        )
        met = self._world.mesh.first_hits(starts_m, upward)
        seen = np.isfinite(met.distance_m)
        image = np.ones(len(rays))
        some = _taken(met, seen)
        coarse_m = (hits.distance_m[seen] + some.distance_m) / self._camera.c_px
        image[seen] = self._tones.light(some, 3.0 * coarse_m, np.zeros(len(coarse_m)))
        return image


def _taken(hits: Hits, which: NDArray[np.bool_] | NDArray[np.int64]) -> Hits:
    return Hits(hits.distance_m[which], hits.east_m[which], hits.north_m[which])


def _soften_edge(light: Array, propped: NDArray[np.bool_], edge_px: Array) -> Array:
    """Give pixels that the skyline crosses the mean of the sky and land in them."""
    columns = np.flatnonzero(np.isfinite(edge_px))
    rows = np.floor(edge_px[columns]).astype(np.int64)
    inside = rows + 1 < light.shape[0]
    rows, columns = rows[inside], columns[inside]
    free = ~propped[rows, columns] & ~propped[rows + 1, columns]
    rows, columns = rows[free], columns[free]
    share = rows + 1.0 - edge_px[columns]
    light[rows, columns] = share * light[rows + 1, columns] + (1.0 - share)
    return light


def _covered(propped: NDArray[np.bool_], edge_px: Array) -> NDArray[np.bool_]:
    """Tell in which columns a prop stands within two pixels of the skyline."""
    covered = np.zeros(len(edge_px), dtype=bool)
    for column in np.flatnonzero(np.isfinite(edge_px)):
        row = int(edge_px[column])
        covered[column] = propped[max(0, row - 2) : row + 3, column].any()
    return covered
