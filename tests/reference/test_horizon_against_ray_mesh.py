"""Check horizons against a ray-mesh intersection.

SOURCE: Intel Embree through trimesh and embreex. A mesh has two triangles a cell where
the program has a bilinear patch. The difference is accounted for twice:

- on ground whose cells are flat (no twist) the two surfaces are the same, and the
  horizons must be;
- on real ground a cell's patch lies within a quarter of its twist, |z00 + z11 - z01 -
  z10| / 4, of either triangulation (on the diagonal, where they differ most). So ground
  raised by that at its nodes must hide a ray that grazes the mesh, and ground lowered
  by it must not.

Curvature is left out (k = 1): a mesh's ray is straight.
"""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from trimesh.ray.ray_pyembree import RayMeshIntersector

from wherestood.demo.ground import jacksboro
from wherestood.earth.frame import Frame
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.model import Terrain

# Rays start inside the air below the lens, or bisection would begin underground.
NEAREST_M = 1.0
# Embree works in float32: over 12 km its hits are good to about a millimetre along and
# a ray aimed within that of an edge may slip through. Bisection stops at 1e-5 deg.
ONE_THOUSANDTH_DEGREE = 1e-3
BISECTIONS = 24


def triangulated(heights_m, cell_m):
    """Return the mesh with two triangles a cell."""
    rows, columns = heights_m.shape
    j, i = np.indices(heights_m.shape)
    points = np.column_stack(
        (i.ravel() * cell_m, j.ravel() * cell_m, heights_m.ravel())
    )
    south_west = (
        np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)
    ).ravel()
    lower = np.column_stack((south_west, south_west + 1, south_west + columns + 1))
    upper = np.column_stack(
        (south_west, south_west + columns + 1, south_west + columns)
    )
    return trimesh.Trimesh(points, np.vstack((lower, upper)), process=False)


def mesh_horizon_deg(mesh, station_m, bearings_rad):
    """Bisect for the elevation at which rays begin to pass over the mesh."""
    intersector = RayMeshIntersector(mesh, scale_to_box=False)
    flat = np.column_stack((np.sin(bearings_rad), np.cos(bearings_rad)))
    low = np.full(bearings_rad.size, -1.5)
    high = np.full(bearings_rad.size, 1.5)
    for _ in range(BISECTIONS):
        middle = 0.5 * (low + high)
        direction = np.column_stack((flat, middle))
        origin = np.asarray(station_m) + NEAREST_M * direction
        hit = intersector.intersects_any(origin, direction)
        low = np.where(hit, middle, low)
        high = np.where(hit, high, middle)
    return np.degrees(np.arctan(0.5 * (low + high)))


def our_horizon_deg(heights_m, cell_m, station_m, bearings_rad):
    terrain = Terrain(
        heights_m.astype(np.float32), 0.0, 0.0, cell_m, Frame.local(0, 40), refraction=1
    )
    found = HorizonModel.of(terrain).horizons(
        *(np.array([value]) for value in station_m),
        bearings_rad,
        nearest_m=NEAREST_M,
        farthest_m=1e6,
    )
    return np.degrees(np.arctan(found.tangent[0]))


def most_twist_m(heights_m):
    """Return at each node the greatest patch-to-triangle distance around it [m]."""
    h = heights_m.astype(np.float64)
    apart = np.abs(h[:-1, :-1] + h[1:, 1:] - h[:-1, 1:] - h[1:, :-1]) / 4.0
    most = np.zeros_like(h)
    for rows in (slice(None, -1), slice(1, None)):
        for columns in (slice(None, -1), slice(1, None)):
            most[rows, columns] = np.maximum(most[rows, columns], apart)
    return most


def stations(heights_m, cell_m, count, rng):
    size = np.array(heights_m.shape)
    for _ in range(count):
        row, column = rng.integers(size // 4, 3 * size // 4)
        yield (
            (column + rng.uniform()) * cell_m,
            (row + rng.uniform()) * cell_m,
            float(heights_m[row, column]) + 30.0,
        )


BEARINGS_RAD = np.radians(np.arange(0.0, 360.0, 1.0) + 0.31)


def test_horizon_is_the_mesh_horizon_where_cells_are_flat():
    """Heights f(east) + g(north) have no twist: patch and triangles coincide."""
    rng = np.random.default_rng(6)
    along = np.cumsum(rng.normal(0.0, 12.0, 240))
    up = np.cumsum(rng.normal(0.0, 12.0, 240))
    heights_m = (500.0 + along[None, :] + up[:, None]).astype(np.float32)
    mesh = triangulated(heights_m, 50.0)
    apart = [
        our_horizon_deg(heights_m, 50.0, station_m, BEARINGS_RAD)
        - mesh_horizon_deg(mesh, station_m, BEARINGS_RAD)
        for station_m in stations(heights_m, 50.0, 4, rng)
    ]
    assert np.abs(np.concatenate(apart)).max() < ONE_THOUSANDTH_DEGREE


@pytest.fixture(scope="module")
def real_ground():
    return jacksboro(60.0).elevation_m[100:360, 100:360]


def test_real_mesh_horizon_lies_within_the_twist_of_ours(real_ground):
    rng = np.random.default_rng(7)
    mesh = triangulated(real_ground, 60.0)
    twist_m = most_twist_m(real_ground)
    apart = []
    for station_m in stations(real_ground, 60.0, 4, rng):
        meshed_deg = mesh_horizon_deg(mesh, station_m, BEARINGS_RAD)
        lowered_deg = our_horizon_deg(
            real_ground - twist_m, 60.0, station_m, BEARINGS_RAD
        )
        raised_deg = our_horizon_deg(
            real_ground + twist_m, 60.0, station_m, BEARINGS_RAD
        )
        assert np.all(meshed_deg >= lowered_deg - ONE_THOUSANDTH_DEGREE)
        assert np.all(meshed_deg <= raised_deg + ONE_THOUSANDTH_DEGREE)
        ours_deg = our_horizon_deg(real_ground, 60.0, station_m, BEARINGS_RAD)
        apart.append(ours_deg - meshed_deg)
    # Accounted for, the difference is not merely bounded: it is small.
    assert np.sqrt(np.mean(np.concatenate(apart) ** 2)) < 0.1
