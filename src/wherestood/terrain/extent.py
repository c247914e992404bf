"""Find the box of longitude and latitude that a raster covers."""

from __future__ import annotations

import numpy as np

from wherestood.errors import TerrainError
from wherestood.terrain.sources import Source, apply_transform

__all__ = ["box_of"]

_EDGE_NODES = 17


def box_of(source: Source) -> tuple[float, float, float, float]:
    """Return west, south, east and north of a raster, WGS 84 [deg].

    East lies beyond 180 where the raster crosses that meridian.

    Raises
    ------
    TerrainError
        If its outline cannot be carried to longitude and latitude.
    """
    share = np.linspace(0.0, 1.0, _EDGE_NODES)
    zero, one = np.zeros_like(share), np.ones_like(share)
    column = np.concatenate([share, share, zero, one]) * source.columns
    row = np.concatenate([zero, one, share, share]) * source.rows
    x, y = apply_transform(source.transform, column, row)
    lon, lat = source.reference.shift.transformer.transform(x, y, direction="INVERSE")
    lon, lat = np.asarray(lon), np.asarray(lat)
    if not (np.isfinite(lon).all() and np.isfinite(lat).all()):
        raise TerrainError(
            f"{source.file.name} lies outside its own reference system.",
            "Check its coordinates and its system.",
        )
    if np.ptp(lon) > 180.0 and (lon < 0.0).any():
        lon = np.where(lon < 0.0, lon + 360.0, lon)
    return float(lon.min()), float(lat.min()), float(lon.max()), float(lat.max())
