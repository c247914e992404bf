"""Write small rasters for the tests of terrain."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from rasterio import Affine

WriteRaster = Callable[..., Path]

# A corner in UTM zone 32, near 46.9 N, 7.7 E.
EAST_M, NORTH_M = 400_000.0, 5_200_000.0


def north_up(
    west: float, north: float, width: float, height: float | None = None
) -> Affine:
    """Return the transform of a north-up raster from its corner and cell size."""
    return Affine(width, 0.0, west, 0.0, -(height or width), north)


def write(
    path: Path,
    heights: np.ndarray,
    *,
    crs: str | None = "EPSG:32632",
    transform: Affine | None = None,
    unit: str | None = None,
    scale: float | None = None,
    offset: float | None = None,
    **profile: Any,
) -> Path:
    """Write one band of heights, first row north, and return the path."""
    options = {
        "driver": "GTiff",
        "height": heights.shape[0],
        "width": heights.shape[1],
        "count": 1,
        "dtype": heights.dtype,
        "crs": crs,
        "transform": transform or north_up(EAST_M, NORTH_M, 30.0),
        **profile,
    }
    path.parent.mkdir(parents=True, exist_ok=True)
    with rasterio.open(path, "w", **options) as dataset:
        dataset.write(heights, 1)
        if unit is not None:
            dataset.units = (unit,)
        if scale is not None:
            dataset.scales = (scale,)
        if offset is not None:
            dataset.offsets = (offset,)
    return path


@pytest.fixture
def write_raster(tmp_path: Path) -> WriteRaster:
    """Return a function that writes heights to a named file of the test's folder."""

    def named(name: str, heights: np.ndarray, **options: Any) -> Path:
        return write(tmp_path / name, heights, **options)

    return named


@pytest.fixture
def slope() -> np.ndarray:
    """Return 40 rows by 50 columns of a plane: 500 m in the north-west corner.

    It rises by 1 m a column to the east and by 2 m a row to the south.
    """
    rows, columns = np.mgrid[0:40, 0:50]
    return (500.0 + columns + 2.0 * rows).astype(np.float32)
