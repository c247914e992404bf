"""Give points of ground, water, props the light they send to the lens.

Wet collodion sees blue and ultraviolet only: skies are blank, foliage is nearly
black, distance turns white early (*common practice* of describing such plates;
the numbers here are set by eye). Light is measured with the sky as 1.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from wherestood.demo.fields import smooth_field
from wherestood.demo.mesh import Hits
from wherestood.demo.props import PropScene
from wherestood.demo.world import World

__all__ = ["GroundTones", "Lighting", "prop_light", "through_haze"]

Array = NDArray[np.float64]

_TILE = 512
_SUN_SHARE, _SKY_SHARE = 0.95, 0.55


@dataclass(frozen=True)
class Lighting:
    """Say where the sun stands and how thick the air is.

    Attributes
    ----------
    sun_bearing_deg, sun_elevation_deg : float
        Where the sun is [deg].
    haze_m : float
        Distance over which light falls to 1/e [m].
    air : float
        Light of an endless depth of air, the sky being 1.
    """

    sun_bearing_deg: float
    sun_elevation_deg: float
    haze_m: float
    air: float

    def sun(self) -> Array:
        """Return the unit vector to the sun in east, north, up."""
        bearing, high = np.radians([self.sun_bearing_deg, self.sun_elevation_deg])
        return np.array(
            [
                np.sin(bearing) * np.cos(high),
                np.cos(bearing) * np.cos(high),
                np.sin(high),
            ]
        )


def through_haze(light: Array, distance_m: Array, lighting: Lighting) -> Array:
    """Return light after its way through the air."""
    kept = np.exp(-distance_m / lighting.haze_m)
    return np.asarray(light * kept + lighting.air * (1.0 - kept))


class GroundTones:
    """Know the tone of every place of a world.

    Parameters
    ----------
    world : World
        The true world.
    lighting : Lighting
        Sun and air.
    rng : numpy.random.Generator
        Draws the textures.
    """

    def __init__(
        self, world: World, lighting: Lighting, rng: np.random.Generator
    ) -> None:
        self._world, self._lighting = world, lighting
        surface_m = world.bare_m + world.canopy_m
        east, north = _slopes(surface_m, world.cell_m)
        bare_east, bare_north = _slopes(world.bare_m, world.cell_m)
        sunny = _sunny(world, surface_m, lighting.sun())
        self._lit = _lambert(east, north, lighting.sun()) * sunny
        self._lit_bare = _lambert(bare_east, bare_north, lighting.sun()) * sunny
        self._steep = np.hypot(bare_east, bare_north)
        # The mesh slopes up to the first tree; that wall is foliage too.
        self._wood = ndimage.maximum_filter((world.canopy_m > 0).astype(float), 3)
        self._tile = smooth_field((_TILE, _TILE), 3.0, rng)

    def is_water(self, hits: Hits) -> NDArray[np.bool_]:
        """Tell which hits fell on water."""
        height_m = self._sample(self._world.bare_m, hits)
        level_m = self._world.ground.water_level_m
        if level_m is None:
            return np.zeros(height_m.shape, dtype=bool)
        return np.asarray(height_m < level_m + 0.05)

    def light(self, hits: Hits, footprint_m: Array, shaded: Array) -> Array:
        """Return the light that dry ground sends to the lens.

        Parameters
        ----------
        hits : Hits
            Where rays met the ground.
        footprint_m : (n,) float64 array
            Ground covered by a pixel across the ray: finer texture fades [m].
        shaded : (n,) float64 array
            1 in the shadow of a prop, 0 elsewhere; hills' own are known.
        """
        wood = np.clip(3.0 * (self._sample(self._wood, hits) - 0.33), 0.0, 1.0)
        lit = self._sample(self._lit, hits) * wood
        lit += self._sample(self._lit_bare, hits) * (1.0 - wood)
        steep = np.clip((self._sample(self._steep, hits) - 0.55) / 0.4, 0.0, 1.0)
        coarse = self._texture(hits, 60.0, footprint_m)
        middle = self._texture(hits, 11.0, footprint_m)
        fine = self._texture(hits, 1.6, footprint_m)
        finest = self._texture(hits, 0.12, footprint_m)
        grass = 0.24 * np.exp(
            0.22 * coarse + 0.16 * middle + 0.24 * fine + 0.22 * finest
        )
        rock = 0.3 * np.exp(0.15 * coarse + 0.35 * middle + 0.2 * fine)
        open_ground = grass * (1.0 - steep) + rock * steep
        leaves = 0.075 * np.exp(0.2 * coarse + 0.55 * middle + 0.4 * fine)
        albedo = open_ground * (1.0 - wood) + leaves * wood
        light = albedo * (_SKY_SHARE + _SUN_SHARE * lit * (1.0 - 0.85 * shaded))
        return through_haze(light, hits.distance_m, self._lighting)

    def ripple(self, hits: Hits, footprint_m: Array) -> Array:
        """Return a small unevenness of the water's brightness, about 0."""
        return 0.5 * self._texture(hits, 90.0, footprint_m) + 0.5 * self._texture(
            hits, 14.0, footprint_m
        )

    def _sample(self, grid: Array, hits: Hits) -> Array:
        world = self._world
        rows = (hits.north_m - world.south_m) / world.cell_m
        columns = (hits.east_m - world.west_m) / world.cell_m
        return np.asarray(
            ndimage.map_coordinates(grid, [rows, columns], order=1, mode="nearest")
        )

    def _texture(self, hits: Hits, size_m: float, footprint_m: Array) -> Array:
        """Sample the tile at one scale, fading where pixels are coarser."""
        step_m = size_m / 3.0
        where = [hits.north_m / step_m, hits.east_m / step_m]
        value = ndimage.map_coordinates(self._tile, where, order=1, mode="grid-wrap")
        fade = 1.0 / (1.0 + (2.0 * footprint_m / size_m) ** 2)
        return np.asarray(value * fade)


def _slopes(height_m: Array, cell_m: float) -> tuple[Array, Array]:
    """Return the rise a metre eastward and northward at each node."""
    north, east = np.gradient(height_m, cell_m)
    return np.asarray(east), np.asarray(north)


def _sunny(world: World, surface_m: Array, sun: Array) -> Array:
    """Return 1 where the sun reaches a node, 0 in shadow, softened."""
    rows, columns = surface_m.shape
    east_m = world.west_m + np.arange(columns) * world.cell_m
    north_m = world.south_m + np.arange(rows) * world.cell_m
    starts_m = np.stack(
        [*np.broadcast_arrays(east_m[None, :], north_m[:, None]), surface_m + 1.0],
        axis=-1,
    ).reshape(-1, 3)
    rays = np.broadcast_to(sun, starts_m.shape)
    hidden = world.mesh.hidden(starts_m, rays).reshape(rows, columns)
    return np.asarray(1.0 - ndimage.gaussian_filter(hidden.astype(np.float64), 0.7))


def _lambert(slope_east: Array, slope_north: Array, sun: Array) -> Array:
    """Return the cosine between the ground's normal and the sun, at least 0."""
    length = np.sqrt(1.0 + slope_east**2 + slope_north**2)
    cosine = (sun[2] - slope_east * sun[0] - slope_north * sun[1]) / length
    return np.asarray(np.clip(cosine, 0.0, 1.0))


def prop_light(
    scene: PropScene,
    which: NDArray[np.int64],
    points_m: Array,
    rays: Array,
    shaded: NDArray[np.bool_],
    lighting: Lighting,
    rng: np.random.Generator,
) -> Array:
    """Return the light that hit triangles send.

    Parameters
    ----------
    scene : PropScene
        The props.
    which : (n,) int64 array
        Triangle hit.
    points_m, rays : (n, 3) float64 array
        Where, and along which unit direction.
    shaded : (n,) bool array
        Whether another prop keeps the sun off.
    lighting : Lighting
        Sun and air.
    rng : numpy.random.Generator
        Weathers the surfaces.
    """
    normal = scene.normals[which]
    facing = np.where(np.sum(normal * rays, axis=1, keepdims=True) > 0, -normal, normal)
    lit = np.clip(facing @ lighting.sun(), 0.0, 1.0) * (1.0 - 0.9 * shaded)
    albedo = scene.props.albedo[which]
    boards = scene.props.boarded[which] & (np.mod(points_m[:, 2], 0.2) < 0.03)
    albedo = np.where(boards, 0.6 * albedo, albedo)
    albedo = albedo * np.exp(0.06 * rng.standard_normal(len(which)))
    return np.asarray(albedo * (_SKY_SHARE + _SUN_SHARE * lit))
