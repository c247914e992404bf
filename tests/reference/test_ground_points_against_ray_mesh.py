"""Check where rays meet the ground against a ray-mesh intersection.

SOURCE: Intel Embree through trimesh and embreex. A mesh has two triangles a cell where
the program has a bilinear patch, so each is asked twice:

- on ground whose cells are flat (no twist) both surfaces are one, and so must be the
  points;
- on real ground (matplotlib's Jacksboro fault sample) a patch lies within a quarter of
  its cell's twist, |z00 + z11 - z01 - z10| / 4, of either triangulation. The mesh's ray
  therefore meets ground no nearer than ours does on ground raised by that at its
  nodes, and no farther than on ground lowered by it. With the cells split in six,
  where the bilinear surface itself is meshed, the points must be the same.

Curvature is left out (k = 1): a mesh's ray is straight.
"""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from numpy.typing import NDArray
from trimesh.ray.ray_pyembree import RayMeshIntersector

from wherestood.camera.model import Camera
from wherestood.camera.model import rays as camera_rays
from wherestood.demo.ground import jacksboro
from wherestood.earth.frame import Frame
from wherestood.ground.place import Place
from wherestood.ground.rendering import camera_at, follow_view
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.meet import GROUND, SolidGround, meet_ground
from wherestood.terrain.model import Terrain
from wherestood.terrain.resample import sample_bilinear

Array = NDArray[np.float64]
CELL_M = 60.0
NEAREST_M = 90.0
HALF_A_METRE, ONE_PERCENT = 0.5, 0.01
LEAST_ANGLE_RAD = np.radians(2.0)
SPLIT = 6


def triangulated(heights_m: Array, cell_m: float) -> trimesh.Trimesh:
    """Return the mesh with two triangles a cell."""
    rows, columns = heights_m.shape
    j, i = np.indices(heights_m.shape)
    points = np.column_stack(
        (i.ravel() * cell_m, j.ravel() * cell_m, heights_m.ravel())
    )
    corner = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)).ravel()
    lower = np.column_stack((corner, corner + 1, corner + columns + 1))
    upper = np.column_stack((corner, corner + columns + 1, corner + columns))
    return trimesh.Trimesh(points, np.vstack((lower, upper)), process=False)


def split(heights_m: Array, parts: int) -> Array:
    """Return the bilinear surface at nodes so many times closer."""
    rows, columns = heights_m.shape
    row, column = np.meshgrid(
        np.arange((rows - 1) * parts + 1) / parts,
        np.arange((columns - 1) * parts + 1) / parts,
        indexing="ij",
    )
    return sample_bilinear(heights_m.astype(np.float32), column, row).astype(float)


def mesh_distance_m(
    heights_m: Array, cell_m: float, station_m: Array, bearing: Array, tangent: Array
) -> Array:
    """Return the distance along the ground at which mesh rays first hit [m]."""
    intersector = RayMeshIntersector(
        triangulated(heights_m, cell_m), scale_to_box=False
    )
    way = np.column_stack((np.sin(bearing), np.cos(bearing), tangent))
    begin = station_m + NEAREST_M * way
    where, ray, _ = intersector.intersects_location(begin, way, multiple_hits=False)
    found = np.full(bearing.size, np.nan)
    found[ray] = np.hypot(*(where - station_m)[:, :2].T)
    return found


def our_points(
    heights_m: Array, station_m: Array, bearing: Array, tangent: Array
) -> tuple[Array, Array]:
    """Return distances [m] and angles to the surface [rad]; NaN where none is met."""
    land = Terrain(
        heights_m.astype(np.float32), 0.0, 0.0, CELL_M, Frame.local(0, 40), refraction=1
    )
    met = meet_ground(
        SolidGround.of(HorizonModel.of(land)), *station_m, bearing, tangent,
        nearest_m=NEAREST_M, farthest_m=1e6,
    )  # fmt: skip
    assert np.all(np.isfinite(met.distance_m) == (met.what == GROUND))
    return met.distance_m, met.grazing_rad


def rays(rng: np.random.Generator, count: int) -> tuple[Array, Array]:
    return rng.uniform(0.0, 2.0 * np.pi, count), rng.uniform(-0.25, 0.1, count)


def off_m(apart: Array, distance: Array) -> Array:
    """Return how far points are apart over what is allowed, no unit."""
    return np.abs(apart) / np.maximum(HALF_A_METRE, ONE_PERCENT * distance)


def test_points_are_the_meshes_where_cells_are_flat() -> None:
    """Heights f(east) + g(north) have no twist: patch and triangles coincide."""
    rng = np.random.default_rng(61)
    heights_m = 500.0 + (
        np.cumsum(rng.normal(0.0, 9.0, 160))[None, :]
        + np.cumsum(rng.normal(0.0, 9.0, 160))[:, None]
    )
    heights_m = heights_m.astype(np.float32).astype(float)
    station_m = np.array([80.3 * CELL_M, 79.6 * CELL_M, heights_m[79:81, 80:82].max()])
    station_m[2] += 60.0
    bearing, tangent = rays(rng, 4000)
    ours, angle = our_points(heights_m, station_m, bearing, tangent)
    mesh = mesh_distance_m(heights_m, CELL_M, station_m, bearing, tangent)
    assert np.mean(np.isfinite(ours) == np.isfinite(mesh)) > 0.999
    steep = np.isfinite(ours) & np.isfinite(mesh) & (angle > LEAST_ANGLE_RAD)
    assert steep.sum() > 1500
    assert np.abs(ours - mesh)[steep].max() < HALF_A_METRE


@pytest.fixture(scope="module")
def real_ground() -> Array:
    return jacksboro(CELL_M).elevation_m[160:240, 160:240].astype(float)


@pytest.fixture(scope="module")
def real_rays(real_ground: Array) -> tuple[Array, Array, Array]:
    rng = np.random.default_rng(62)
    station_m = np.array([40.4 * CELL_M, 38.7 * CELL_M, 0.0])
    station_m[2] = real_ground[36:42, 38:44].max() + 40.0
    return station_m, *rays(rng, 4000)


def test_real_points_are_those_of_the_bilinear_surface_meshed(
    real_ground: Array, real_rays: tuple[Array, Array, Array]
) -> None:
    ours, angle = our_points(real_ground, *real_rays)
    fine = split(real_ground, SPLIT)
    mesh = mesh_distance_m(fine, CELL_M / SPLIT, *real_rays)
    steep = np.isfinite(ours) & np.isfinite(mesh) & (angle > LEAST_ANGLE_RAD)
    assert steep.sum() > 1000
    assert off_m((ours - mesh)[steep], ours[steep]).max() < 1.0


def test_real_points_lie_within_the_twist_of_the_coarse_mesh(
    real_ground: Array, real_rays: tuple[Array, Array, Array]
) -> None:
    h = real_ground
    apart = np.abs(h[:-1, :-1] + h[1:, 1:] - h[:-1, 1:] - h[1:, :-1]) / 4.0
    twist = np.zeros_like(h)
    for rows in (slice(None, -1), slice(1, None)):
        for columns in (slice(None, -1), slice(1, None)):
            twist[rows, columns] = np.maximum(twist[rows, columns], apart)
    mesh = mesh_distance_m(h, CELL_M, *real_rays)
    nearest, _ = our_points(h + twist, *real_rays)
    farthest, _ = our_points(h - twist, *real_rays)
    hit = np.isfinite(mesh)
    begun = np.isfinite(nearest)  # raised ground may hide a ray's beginning
    assert np.all(mesh[hit & begun] >= nearest[hit & begun] - HALF_A_METRE)
    ends = np.isfinite(farthest)
    assert np.all(mesh[hit & ends] <= farthest[hit & ends] + HALF_A_METRE)
    # A ray that hits the lowered ground hits the mesh.
    assert np.all(hit[ends] | ~np.isfinite(nearest[ends]))


def test_pixels_of_a_view_show_the_meshes_ground(
    real_ground: Array, real_rays: tuple[Array, Array, Array]
) -> None:
    """Rays come from the camera's model, written apart from the view's own."""
    station_m, _, _ = real_rays
    camera = Camera(0.9, -0.07, 0.03, 900.0, 30.0, -20.0, 0.006, 800, 600)
    land = Terrain(
        real_ground.astype(np.float32), 0.0, 0.0, CELL_M, Frame.local(0, 40),
        refraction=1,
    )  # fmt: skip
    solid = SolidGround.of(HorizonModel.of(land))
    place = Place(solid.model, *station_m[:2], station_m[2] - 40.0, station_m[2], 0.0)
    seen = follow_view(solid, camera_at(place, camera), (800, 600), 160, 1e6)
    assert seen.what.shape == (120, 160)
    y, x = np.mgrid[0:120, 0:160]
    way = camera_rays(camera, (x + 0.5) * 5.0, (y + 0.5) * 5.0).reshape(-1, 3)
    way = way / np.hypot(way[:, 0], way[:, 1])[:, None]
    mesh = mesh_distance_m(
        split(real_ground, SPLIT), CELL_M / SPLIT, station_m,
        np.arctan2(way[:, 0], way[:, 1]), way[:, 2],
    )  # fmt: skip
    ours, angle = seen.distance_m.ravel(), seen.angle_rad.ravel()
    met = seen.what.ravel() == GROUND
    assert np.mean(met == np.isfinite(mesh)) > 0.995
    steep = met & np.isfinite(mesh) & (angle > LEAST_ANGLE_RAD)
    assert steep.sum() > 5000
    assert off_m((ours - mesh)[steep], ours[steep]).max() < 1.0
    at = np.column_stack((seen.east_m.ravel(), seen.north_m.ravel()))
    there = station_m[:2] + mesh[:, None] * way[:, :2]
    apart = np.linalg.norm(at - there, axis=1)
    assert off_m(apart[steep], ours[steep]).max() < 1.0
