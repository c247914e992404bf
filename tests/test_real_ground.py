"""Hold the real elevation model that a package carries to what is said of it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyproj
import rasterio

# Summit of Longs Peak, the highest ground in Rocky Mountain National Park: from
# memory, after the United States Board on Geographic Names.
LONGS_PEAK_LON_DEG, LONGS_PEAK_LAT_DEG, LONGS_PEAK_M = -105.6160, 40.2549, 4346.0

ONE_CELL_DIAGONAL_M = 331.0  # 0.00275 by 0.00211 deg at 40.25 deg north
# A cell of 234 m is a mean over a summit whose sides fall some 40 deg.
SUMMIT_SHAVED_M = 234.0 / 2.0


def test_rocky_mountain_model_has_its_highest_cell_on_longs_peak(
    rocky_mountain_dem: Path,
) -> None:
    with rasterio.open(rocky_mountain_dem) as model:
        heights = model.read(1).astype(float)
        row, column = np.unravel_index(heights.argmax(), heights.shape)
        lon, lat = model.xy(row, column)
        assert model.crs.to_epsg() == 4326
        assert (model.height, model.width) == (187, 152)
        assert not (heights == model.nodata).any()
    _, _, off_m = pyproj.Geod(ellps="WGS84").inv(
        lon, lat, LONGS_PEAK_LON_DEG, LONGS_PEAK_LAT_DEG
    )
    assert off_m < ONE_CELL_DIAGONAL_M
    assert 0.0 < LONGS_PEAK_M - heights.max() < SUMMIT_SHAVED_M
