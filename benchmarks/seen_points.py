"""Find points of the ground that an invented plate shows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wherestood.demo.invented import InventedCase
from wherestood.demo.world import World

NEAREST_M, FARTHEST_M = 150.0, 8000.0
TRIED = 600


@dataclass(frozen=True)
class SeenPoints:
    """Hold points of the ground and where the plate shows them.

    Attributes
    ----------
    east_m, north_m, height_m : (n,) float64 array
        True place and height of what the ray meets, trees included [m].
    x_px, y_px : (n,) float64 array
        Where the plate shows them [px].
    """

    east_m: np.ndarray
    north_m: np.ndarray
    height_m: np.ndarray
    x_px: np.ndarray
    y_px: np.ndarray

    def take(self, which: np.ndarray) -> SeenPoints:
        """Return some of the points."""
        return SeenPoints(*(getattr(self, name)[which] for name in _FIELDS))


_FIELDS = ("east_m", "north_m", "height_m", "x_px", "y_px")


def seen_points(
    world: World, case: InventedCase, rng: np.random.Generator, tried: int = TRIED
) -> SeenPoints:
    """Return what the plate shows at random places of it, near sky and edges aside."""
    camera = case.camera
    x = rng.uniform(0.03, 0.97, tried) * camera.width_px
    y = rng.uniform(0.05, 0.95, tried) * camera.height_px
    hits = world.mesh.first_hits(case.station_m, camera.rays(x, y))
    good = np.flatnonzero(
        (hits.distance_m > NEAREST_M) & (hits.distance_m < FARTHEST_M)
    )
    east, north = hits.east_m[good], hits.north_m[good]
    return SeenPoints(east, north, world.mesh.surface_m(east, north), x[good], y[good])


def far_apart(points: SeenPoints, count: int) -> SeenPoints:
    """Return so many points far apart on the plate, as a person would choose them."""
    chosen = [0]
    x, y = points.x_px, points.y_px
    for _ in range(count - 1):
        apart = np.min([np.hypot(x - x[i], y - y[i]) for i in chosen], axis=0)
        chosen.append(int(np.argmax(apart)))
    return points.take(np.array(chosen))
