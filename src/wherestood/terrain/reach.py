"""Tell which rasters lie near the ground asked for, before anything is settled."""

from __future__ import annotations

import numpy as np
import pyproj
from numpy.typing import NDArray
from rasterio import Affine

from wherestood.earth.frame import Frame

__all__ = ["pixel_of_place", "reaches"]

# Datums not yet told apart may be out by 300 m.
_SLACK_M = 1000.0
_SAMPLES = 9


def pixel_of_place(
    crs: pyproj.CRS,
    transform: Affine,
    shape: tuple[int, int],
    place_deg: tuple[float, float],
) -> tuple[float, float] | None:
    """Return column and row where a raster holds a place, roughly; None if nowhere."""
    columns_at, rows_at = _pixels_of(
        crs, transform, shape, np.array([place_deg[0]]), np.array([place_deg[1]])
    )
    column, row = float(columns_at[0]), float(rows_at[0])
    rows, columns = shape
    held = 0.0 <= column <= columns and 0.0 <= row <= rows
    return (column, row) if held else None


def reaches(
    crs: pyproj.CRS,
    transform: Affine,
    shape: tuple[int, int],
    around_deg: tuple[float, float],
    radius_m: float,
) -> bool:
    """Say whether a raster may reach a circle.

    Parameters
    ----------
    crs : pyproj.CRS
        The raster's CRS.
    transform : rasterio.Affine
        From (column, row) of pixel corners to CRS coordinates.
    shape : (rows, columns)
        Its size.
    around_deg : (lon, lat)
        Centre of the circle [deg].
    radius_m : float
        Its radius [m].

    Returns
    -------
    bool
        False only where the raster surely lies outside.
    """
    frame = Frame.local(*around_deg)
    step = np.linspace(-1.0, 1.0, _SAMPLES) * (radius_m + _SLACK_M)
    east_m, north_m = np.meshgrid(step, step)
    lon, lat = frame.to_lonlat(east_m.ravel(), north_m.ravel())
    column, row = _pixels_of(crs, transform, shape, lon, lat)
    known = np.isfinite(column) & np.isfinite(row)
    if not known.any():
        return False
    rows, columns = shape
    return bool(
        column[known].max() >= 0.0
        and column[known].min() <= columns
        and row[known].max() >= 0.0
        and row[known].min() <= rows
    )


def _pixels_of(
    crs: pyproj.CRS,
    transform: Affine,
    shape: tuple[int, int],
    lon_deg: NDArray[np.float64],
    lat_deg: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return pixel positions of places, as if on the raster's own datum."""
    to_crs = pyproj.Transformer.from_crs(crs.geodetic_crs, crs, always_xy=True)
    x, y = (np.asarray(v) for v in to_crs.transform(lon_deg, lat_deg)[:2])
    t = transform
    if crs.is_geographic:
        middle = t.c + t.a * shape[1] / 2.0
        x = middle + (x - middle + 180.0) % 360.0 - 180.0
    inverse = ~t
    return (
        inverse.a * x + inverse.b * y + inverse.c,
        inverse.d * x + inverse.e * y + inverse.f,
    )
