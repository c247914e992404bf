"""Survey one elevation raster without reading its heights."""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import rasterio
from numpy.typing import NDArray
from rasterio import Affine
from rasterio.enums import ColorInterp
from rasterio.errors import NotGeoreferencedWarning, RasterioIOError

from wherestood.errors import TerrainError
from wherestood.terrain.intake import FORMATS_EXPECTED, ElevationFile
from wherestood.terrain.reach import pixel_of_place, reaches
from wherestood.terrain.reference import (
    HorizontalReference,
    crs_from_sidecar,
    settle_reference,
    sidecar_of,
)
from wherestood.terrain.units import height_unit

__all__ = ["Source", "apply_transform", "survey"]

_PICTURE_BANDS = (ColorInterp.red, ColorInterp.palette)
_WGS84 = pyproj.Geod(ellps="WGS84")


@dataclass(frozen=True)
class Source:
    """Say what one raster is and where it lies.

    Attributes
    ----------
    file : ElevationFile
        Where it is read from.
    reference : HorizontalReference
        Its coordinate reference system.
    transform : rasterio.Affine
        From (column, row) of pixel *corners* to CRS coordinates; GDAL has already
        moved a pixel-is-point raster by half a pixel, so the height stands at
        column + 0.5, row + 0.5.
    columns, rows : int
        Size [pixels].
    metres_per_unit : float
        Metres in one unit of height, after the band's scale and offset.
    scale, offset : float
        The band's own scale and offset, 1 and 0 where it has none.
    cell_m : float
        Cell size on the ground where it will be used [m].
    notes : tuple of str
        What was found, in plain words.
    """

    file: ElevationFile
    reference: HorizontalReference
    transform: Affine
    columns: int
    rows: int
    metres_per_unit: float
    scale: float
    offset: float
    cell_m: float
    notes: tuple[str, ...]


def apply_transform(
    transform: Affine,
    first: NDArray[np.float64] | float,
    second: NDArray[np.float64] | float,
) -> tuple[Any, Any]:
    """Return both coordinates after an affine transform."""
    # Affine's own operators warn, or lack arrays, from one version to the next.
    t = transform
    return (
        t.a * first + t.b * second + t.c,
        t.d * first + t.e * second + t.f,
    )


def survey(
    file: ElevationFile,
    around_deg: tuple[float, float] | None = None,
    radius_m: float | None = None,
) -> Source | None:
    """Survey one raster.

    Parameters
    ----------
    file : ElevationFile
        The raster.
    around_deg : (lon, lat), optional
        Where it will be used [deg]; its own centre if left out.
    radius_m : float, optional
        How far from there it will be used [m].

    Returns
    -------
    Source or None
        Its place, size, units, reference; None where it surely lies farther off.

    Raises
    ------
    TerrainError
        If it is no raster, is a picture, has no place or CRS, or hangs on a datum
        that cannot be reached.
    """
    with _open(file) as dataset:
        _refuse_picture(file, dataset)
        transform = dataset.transform
        crs = _crs_of(file, dataset)
        _refuse_unplaced(file, transform)
        columns, rows = dataset.width, dataset.height
        unit = height_unit(dataset.units[0], dataset.descriptions[0], crs)
        scale, offset = float(dataset.scales[0]), float(dataset.offsets[0])
        notes = _notes_of(file, dataset, unit.note)
    shape = (rows, columns)
    pixel = (columns / 2.0, rows / 2.0)
    place = _lonlat_of(file, crs, transform, *pixel)
    if around_deg is not None:
        far = radius_m is not None and not reaches(
            crs, transform, shape, around_deg, radius_m
        )
        if far:
            return None
        held = pixel_of_place(crs, transform, shape, around_deg)
        if held is not None:
            place, pixel = around_deg, held
    cell_m = _ground_cell_m(file, crs, transform, *pixel)
    reference = settle_reference(file.name, crs, place, cell_m)
    return Source(
        file=file,
        reference=reference,
        transform=transform,
        columns=columns,
        rows=rows,
        metres_per_unit=unit.metres,
        scale=scale,
        offset=offset,
        cell_m=cell_m,
        notes=file.notes + notes + reference.notes,
    )


def _open(file: ElevationFile) -> rasterio.DatasetReader:
    try:
        with warnings.catch_warnings():
            # An unplaced raster is refused below, with a remedy.
            warnings.simplefilter("ignore", NotGeoreferencedWarning)
            dataset = rasterio.open(file.gdal_path)
    except RasterioIOError as error:
        raise TerrainError(
            f"{file.name} is not a raster that can be read: {_said(error)}.",
            _remedy_for(file.checksum_path),
        ) from error
    if dataset.count == 0:
        dataset.close()
        raise TerrainError(
            f"{file.name} holds several layers and none of its own.",
            "Take the layer of heights out as a GeoTIFF.",
        )
    return dataset


def _remedy_for(path: Path) -> str:
    """Say what usually makes a file of this name unreadable."""
    suffix = path.suffix.lower()
    if suffix in (".gz", ".bz2", ".7z", ".rar", ".tar", ".tgz"):
        return (
            f"It is packed: unpack it first, or pack it as a zip instead of {suffix}."
        )
    if suffix == ".hgt":
        return (
            "An HGT file says where it lies by its name alone: give it back the name "
            "it came with, such as N46E008.hgt."
        )
    if suffix in (".flt", ".bil"):
        return f"The header {path.with_suffix('.hdr').name} must lie beside it."
    if suffix in (".xyz", ".txt", ".csv"):
        return (
            "Text must hold one point a line, x, y and height, on a regular grid and "
            "sorted by row."
        )
    return FORMATS_EXPECTED


def _said(error: Exception) -> str:
    return str(error).rstrip(". ")


def _refuse_picture(file: ElevationFile, dataset: rasterio.DatasetReader) -> None:
    coloured = dataset.colorinterp[0] in _PICTURE_BANDS
    if dataset.dtypes[0] == "uint8" and (coloured or dataset.count >= 3):
        raise TerrainError(
            f"{file.name} is a picture ({dataset.count} bands of 8 bits), not heights.",
            "Give the elevation model itself, not a shaded or coloured view of it.",
        )


def _crs_of(file: ElevationFile, dataset: rasterio.DatasetReader) -> pyproj.CRS:
    crs = (
        pyproj.CRS.from_wkt(dataset.crs.to_wkt())
        if dataset.crs
        else crs_from_sidecar(file)
    )
    if crs is None:
        raise TerrainError(
            f"{file.name} does not say which coordinate system it is in.",
            f"Put a text file {sidecar_of(file).name} beside it that names the system, "
            "for example EPSG:2193.",
        )
    if not (crs.is_projected or crs.is_geographic):
        raise TerrainError(
            f"{file.name} is in the system {crs.name!r}, which has no known place "
            "on the earth.",
            "Give it a projected or geographic coordinate system.",
        )
    return crs


def _refuse_unplaced(file: ElevationFile, transform: Affine) -> None:
    if transform.is_identity or transform.is_degenerate:
        raise TerrainError(
            f"{file.name} does not say where its corner lies or how large a cell is.",
            "Put a world file beside it, or ask for a georeferenced copy.",
        )


def _notes_of(
    file: ElevationFile, dataset: rasterio.DatasetReader, unit_note: str
) -> tuple[str, ...]:
    notes = [unit_note]
    if dataset.tags().get("AREA_OR_POINT", "").lower() == "point":
        notes.append("heights stand at points (pixel is point)")
    if dataset.scales[0] != 1.0 or dataset.offsets[0] != 0.0:
        notes.append(
            f"heights scaled by {dataset.scales[0]:g} and moved by "
            f"{dataset.offsets[0]:g}, as the file says"
        )
    if dataset.count > 1:
        notes.append(f"first of {dataset.count} bands taken as heights")
    if dataset.dtypes[0] in ("uint8", "int8"):
        notes.append("Warning: only 8 bits a height; this may be a shaded picture")
    if file.gdal_path.lower().endswith(".vrt"):
        members = len(dataset.files) - 1
        notes.append(f"gathers {members} other files, whose checksums are not taken")
    return tuple(notes)


def _lonlat_of(
    file: ElevationFile, crs: pyproj.CRS, transform: Affine, column: float, row: float
) -> tuple[float, float]:
    """Return longitude and latitude [deg] on the raster's own datum."""
    x, y = apply_transform(transform, column, row)
    to_own = pyproj.Transformer.from_crs(crs, crs.geodetic_crs, always_xy=True)
    lon, lat = to_own.transform(x, y)[:2]
    if not (math.isfinite(lon) and abs(lat) <= 90.0):
        raise TerrainError(
            f"{file.name} lies at {x:g}, {y:g}, outside its coordinate system "
            f"{crs.name!r}.",
            "The coordinate system or the corner coordinates are wrong.",
        )
    return (lon + 180.0) % 360.0 - 180.0, lat


def _ground_cell_m(
    file: ElevationFile, crs: pyproj.CRS, transform: Affine, column: float, row: float
) -> float:
    """Return the geometric mean of one cell's two sides on the ground [m]."""
    here = _lonlat_of(file, crs, transform, column, row)
    aside = _lonlat_of(file, crs, transform, column + 1.0, row)
    below = _lonlat_of(file, crs, transform, column, row - 1.0)
    across_m = _WGS84.inv(*here, *aside)[2]
    along_m = _WGS84.inv(*here, *below)[2]
    return math.sqrt(across_m * along_m)
