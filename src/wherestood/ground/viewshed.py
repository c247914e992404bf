"""Work out which ground shows from the camera, and how probably.

Ground is seen where no other ground stands before it; whether it lies within the
plate's frame is another question, and both are told.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.ground.mapping import Mapping
from wherestood.progress import SILENT, Progress
from wherestood.terrain.ground import height_m
from wherestood.terrain.meet import SolidGround
from wherestood.terrain.sight_lines import in_sight

__all__ = ["Viewshed", "viewshed", "viewshed_from"]

Array = NDArray[np.float64]
#: Cameras that are asked: so many tell a probability to 7 in 100.
CAMERAS = 50


@dataclass(frozen=True)
class Viewshed:
    """Hold how probably each node of the terrain shows.

    Attributes
    ----------
    seen : (rows, columns) float32 array
        Probability that it is in sight of the camera, row 0 the southernmost; NaN where
        its height is not known.
    in_frame : (rows, columns) float32 array
        Probability that it is in sight and within the plate's frame.
    """

    seen: NDArray[np.float32]
    in_frame: NDArray[np.float32]


def viewshed_from(
    ground: SolidGround,
    place_m: tuple[float, float, float],
    *,
    above_m: float = 0.0,
    farthest_m: float = 30_000.0,
) -> NDArray[np.bool_]:
    """Return which nodes of a terrain are in sight of one place.

    Parameters
    ----------
    ground : SolidGround
        The terrain.
    place_m : (east, north, height)
        The eye [m].
    above_m : float
        How high above the ground what is looked at stands [m].
    farthest_m : float
        How far [m].

    Returns
    -------
    (rows, columns) bool array
        Row 0 the southernmost.
    """
    east, north = _nodes(ground)
    height = ground.model.terrain.elevation_m.astype(np.float64) + above_m
    return in_sight(ground, place_m, east, north, height, farthest_m=farthest_m)


def viewshed(
    mapping: Mapping,
    *,
    above_m: float = 0.0,
    cameras: int = CAMERAS,
    progress: Progress = SILENT,
) -> Viewshed:
    """Return how probably each node is in sight, over cameras the fix leaves possible.

    Parameters
    ----------
    mapping : Mapping
        Cameras, terrain and doubts.
    above_m : float
        How high above the ground what is looked at stands [m].
    cameras : int
        How many are asked.
    progress : Progress
        Told of each.

    Notes
    -----
    A lens that the drawn height puts under the model's ground is raised to just over
    it: it stood on the real one.
    """
    terrain = mapping.ground.model.terrain
    east, north = _nodes(mapping.ground)
    which = np.linspace(0, len(mapping.cameras) - 1, cameras).round().astype(np.int64)
    asked = mapping.cameras.take(np.unique(which))
    above = _lens_above(mapping, asked.draws.east_m, asked.draws.north_m)
    lens_m = np.maximum(asked.draws.lens_m, above)
    seen = np.zeros(east.shape)
    framed = np.zeros(east.shape)
    height = terrain.elevation_m.astype(np.float64) + above_m
    progress.stage("Looking at the ground", len(asked))
    for row in range(len(asked)):
        place = (asked.draws.east_m[row], asked.draws.north_m[row], lens_m[row])
        shows = in_sight(
            mapping.ground,
            (float(place[0]), float(place[1]), float(place[2])),
            east,
            north,
            height,
            farthest_m=mapping.doubts.farthest_m,
        )
        seen += shows
        off_east, off_north = east[shows] - place[0], north[shows] - place[1]
        distance = np.maximum(np.hypot(off_east, off_north), 1e-6)
        drop = mapping.ground.model.curvature_per_m * distance**2
        x, y = asked.take(np.array([row])).pixels(
            np.arctan2(off_east, off_north)[None],
            ((height[shows] - place[2] - drop) / distance)[None],
        )
        inside = (x[0] >= 0) & (x[0] <= mapping.scan_px[0])
        framed[shows] += inside & (y[0] >= 0) & (y[0] <= mapping.scan_px[1])
        progress.advance()
    unknown = ~np.isfinite(terrain.elevation_m)
    seen[unknown] = framed[unknown] = np.nan
    count = len(asked)
    return Viewshed(
        (seen / count).astype(np.float32), (framed / count).astype(np.float32)
    )


def _nodes(ground: SolidGround) -> tuple[Array, Array]:
    terrain = ground.model.terrain
    rows, columns = terrain.elevation_m.shape
    east, north = np.meshgrid(
        terrain.west_m + np.arange(columns) * terrain.cell_m,
        terrain.south_m + np.arange(rows) * terrain.cell_m,
    )
    return east, north


def _lens_above(mapping: Mapping, east_m: Array, north_m: Array) -> Array:
    """Return the least height that a lens may have over the model [m]."""
    ground = height_m(mapping.ground.model.terrain, east_m, north_m)
    return np.asarray(np.nan_to_num(ground.astype(np.float64), nan=-np.inf) + 1.0)
