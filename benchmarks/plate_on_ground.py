"""Time a plate of 100 megapixels on its way to the ground, against a march and Embree.

All see the same ground, the real sample that ships with matplotlib at 30 m, through the
same camera on one of its heights, without curvature:

- Ours, every pixel of 11 548 by 8660, stripe by stripe as it is written. Time is the
  processor's; memory the most the process held.
- A plain numpy march on a sample of the same pixels: steps of a third of a cell over
  the bilinear surface, the first step under the ground.
- Embree, through embreex, on the same sample: two triangles a cell.
"""

from __future__ import annotations

import os
import resource
import time

os.environ.setdefault("NUMBA_NUM_THREADS", "2")

import numpy as np
import trimesh
from trimesh.ray.ray_pyembree import RayMeshIntersector

from wherestood.demo.ground import jacksboro
from wherestood.earth.frame import Frame
from wherestood.fix.camera_draws import CameraDraws
from wherestood.ground.cameras import PlateCameras
from wherestood.ground.mapping import KnownPlace, Mapping
from wherestood.ground.whole_plate import whole_plate
from wherestood.terrain.ground import height_m
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.meet import SolidGround
from wherestood.terrain.model import Terrain

WIDTH_PX, HEIGHT_PX = 11_548, 8_660
CELL_M, FARTHEST_M, SAMPLE, LENS_M = 30.0, 12_000.0, 20_000, 10.0
LEAST_AGAINST_MARCH, LEAST_AGAINST_EMBREE = 20.0, 1.0


def scene() -> Mapping:
    """Return a level camera on the highest node of the middle of the ground."""
    ground = jacksboro(CELL_M)
    heights = ground.elevation_m
    land = Terrain(
        heights, 0.0, 0.0, CELL_M, Frame.local(-27.5, 41.2), "ground", CELL_M,
        refraction=1.0,
    )  # fmt: skip
    rows, columns = heights.shape
    part = heights[rows // 3 : 2 * rows // 3, columns // 3 : 2 * columns // 3]
    row, column = np.unravel_index(part.argmax(), part.shape)
    one = [
        (columns // 3 + column) * CELL_M, (rows // 3 + row) * CELL_M,
        float(part.max()) + LENS_M, 0.7, -0.08, 0.01, 12_000.0, 0.0, 0.0, 0.003,
        0.0, 0.0, 0.0,
    ]  # fmt: skip
    draws = CameraDraws(*(np.array([value]) for value in one), np.array([False]))
    return Mapping(
        SolidGround.of(HorizonModel.of(land)),
        PlateCameras(draws, WIDTH_PX, HEIGHT_PX),
        (WIDTH_PX, HEIGHT_PX),
        (KnownPlace(one[0], one[1], 1.0),),
        "located",
        lens_height_m=LENS_M,
    )


def main() -> list[dict[str, object]]:
    """Return rows of the table."""
    mapping = scene()
    for _ in whole_plate(mapping):  # compiled, and the caches warm
        break
    wall, begun = time.perf_counter(), time.process_time()
    met = 0
    for stripe in whole_plate(mapping):
        met += int(np.isfinite(stripe.distance_m).sum())
    ours_s = time.process_time() - begun
    wall_s = time.perf_counter() - wall
    memory_gb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0**2
    pixels = WIDTH_PX * HEIGHT_PX
    ours_us = 1e6 * ours_s / pixels
    rng = np.random.default_rng(3)
    x, y = rng.uniform(0, WIDTH_PX, SAMPLE), rng.uniform(0, HEIGHT_PX, SAMPLE)
    bearing, tangent = mapping.cameras.directions(x, y)
    march_us = 1e6 * _march_s(mapping, bearing[0], tangent[0]) / SAMPLE
    embree_us = 1e6 * _embree_s(mapping, bearing[0], tangent[0]) / SAMPLE
    whole = {
        "processor_s": round(ours_s, 1), "clock_s": round(wall_s, 1),
        "most_memory_gb": round(memory_gb, 2),
        "share_on_ground": round(met / pixels, 2),
        "ours_us_a_pixel": round(ours_us, 3),
    }  # fmt: skip
    return [
        {
            "what": "100 megapixels to the ground against a numpy march",
            "ratio": round(march_us / ours_us, 1), "least_ratio": LEAST_AGAINST_MARCH,
            "theirs_us_a_pixel": round(march_us, 2), **whole,
        },
        {
            "what": "100 megapixels to the ground against embree",
            "ratio": round(embree_us / ours_us, 1),
            "least_ratio": LEAST_AGAINST_EMBREE,
            "theirs_us_a_pixel": round(embree_us, 2),
        },
    ]  # fmt: skip


def _march_s(mapping: Mapping, bearing: np.ndarray, tangent: np.ndarray) -> float:
    land, draws = mapping.ground.model.terrain, mapping.cameras.draws
    begun = time.process_time()
    along = np.arange(2.0 * CELL_M, FARTHEST_M, CELL_M / 3.0)
    for at in range(0, bearing.size, 500):
        b, t = bearing[at : at + 500, None], tangent[at : at + 500, None]
        ground = height_m(
            land, draws.east_m + np.sin(b) * along, draws.north_m + np.cos(b) * along
        )
        under = draws.lens_m + t * along <= ground
        np.where(under.any(axis=1), along[under.argmax(axis=1)], np.nan)
    return time.process_time() - begun


def _embree_s(mapping: Mapping, bearing: np.ndarray, tangent: np.ndarray) -> float:
    land, draws = mapping.ground.model.terrain, mapping.cameras.draws
    rows, columns = land.elevation_m.shape
    j, i = np.indices((rows, columns))
    points = np.column_stack(
        (i.ravel() * CELL_M, j.ravel() * CELL_M, land.elevation_m.ravel())
    )
    corner = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)).ravel()
    faces = np.vstack(
        (
            np.column_stack((corner, corner + 1, corner + columns + 1)),
            np.column_stack((corner, corner + columns + 1, corner + columns)),
        )
    )
    mesh = RayMeshIntersector(
        trimesh.Trimesh(points, faces, process=False), scale_to_box=False
    )
    way = np.column_stack((np.sin(bearing), np.cos(bearing), tangent))
    station = np.array([draws.east_m[0], draws.north_m[0], draws.lens_m[0]])
    begin = station + 2.0 * CELL_M * way
    mesh.intersects_first(begin[:10], way[:10])  # built
    begun = time.process_time()
    mesh.intersects_first(begin, way)
    return time.process_time() - begun


if __name__ == "__main__":
    for row in main():
        print(row)
