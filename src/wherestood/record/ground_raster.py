"""Write rasters of the ground as GeoTIFF."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import rasterio
import rasterio.errors
from affine import Affine
from numpy.typing import NDArray

from wherestood.errors import InputError
from wherestood.terrain.model import Terrain

__all__ = ["write_ground_raster"]


def write_ground_raster(
    path: Path,
    land: Terrain,
    bands: dict[str, NDArray[np.float32]],
    notes: dict[str, str],
) -> None:
    """Write one value a node of a terrain, whole or not at all.

    Parameters
    ----------
    path : Path
        Ends in .tif.
    land : Terrain
        Whose nodes they are.
    bands : dict of str to (rows, columns) float32 array
        By what they mean; row 0 the southernmost, NaN where nothing is told.
    notes : dict of str to str
        What must go with the file.

    Raises
    ------
    InputError
        If the name ends otherwise or the file cannot be written.
    """
    if path.suffix.lower() not in (".tif", ".tiff"):
        raise InputError(
            f"A raster is not written as {path.suffix or path.name!r}.",
            "End the name in .tif.",
        )
    rows, columns = land.elevation_m.shape
    # A frame's metres are true ones: the grid's own are these times its scale.
    scale = land.frame.scale
    cell = land.cell_m * scale
    corner = Affine(
        cell, 0.0, (land.west_m - land.cell_m / 2.0) * scale,
        0.0, -cell, (land.south_m + (rows - 0.5) * land.cell_m) * scale,
    )  # fmt: skip
    passing = path.with_name(f".{path.stem}-passing.tif")
    try:
        with rasterio.open(
            passing, "w", driver="GTiff", height=rows, width=columns,
            count=len(bands), dtype="float32", nodata=float("nan"),
            crs=land.frame.crs, transform=corner, tiled=True, blockxsize=256,
            blockysize=256, compress="deflate", predictor=3,
        ) as file:  # fmt: skip
            for number, (name, values) in enumerate(bands.items(), start=1):
                file.write(np.asarray(values, dtype=np.float32)[::-1], number)
                file.set_band_description(number, name)
            file.update_tags(**notes)
        passing.replace(path)
    except (rasterio.errors.RasterioError, OSError) as error:
        raise InputError(
            f"The file {path.name!r} cannot be written: {error}.",
            "Choose a folder that can be written.",
        ) from error
    finally:
        passing.unlink(missing_ok=True)
