"""Read where a plan's file says that it lies, and check it against the daybook."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import rasterio
from pyproj.exceptions import ProjError
from rasterio.errors import NotGeoreferencedWarning, RasterioError
from rasterio.warp import transform
from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.tables import Feature, TerrainLayer
from wherestood.errors import InputError, PlanError

__all__ = ["BY_FILE", "FilePlace", "check_place", "place_of_file", "raster_driver"]

#: Names of pins that the file gave begin so.
BY_FILE = "file: "
#: What is read, by how it begins: other kinds may name files here or elsewhere.
_DRIVERS = {
    b"II": "GTiff",
    b"MM": "GTiff",
    b"\x89PNG": "PNG",
    b"\xff\xd8\xff": "JPEG",
    b"\x00\x00\x00\x0cjP": "JP2OpenJPEG",
    b"\xff\x4f\xff\x51": "JP2OpenJPEG",
    b"RIFF": "WEBP",
}
_CORNERS = ("upper left", "upper right", "lower right", "lower left")
#: A plan farther than this from all that the daybook holds is asked about [m].
_FAR_M = 100_000.0
#: Nearer than this the ground turned over would be meant [deg].
_NEAR_DEG = 0.5
#: A survey plan's pixel on the ground is within these: common practice [m].
_LEAST_M, _MOST_M = 0.002, 100.0
_WGS84 = pyproj.Geod(ellps="WGS84")


@dataclass(frozen=True)
class FilePlace:
    """Hold where a file says that its sheet lies.

    Attributes
    ----------
    pins : list of dict
        Its pins, as a plan's row holds them.
    box_deg : (west, south, east, north)
        What it covers [deg].
    fit : str
        How its pins hold it.
    """

    pins: list[dict[str, Any]]
    box_deg: tuple[float, float, float, float]
    fit: str


def place_of_file(path: Path, directory: int = 1) -> FilePlace | None:
    """Return where a raster says that it lies, None where it does not say.

    Parameters
    ----------
    path : Path
        The raster.
    directory : int
        Which directory of a TIFF, from 1.

    Raises
    ------
    InputError
        If what it says is no place on earth.
    """
    name = f"GTIFF_DIR:{directory}:{path}" if directory > 1 else str(path)
    driver = raster_driver(path)
    if driver is None:
        return None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", NotGeoreferencedWarning)
            with rasterio.open(name, driver=driver) as raster:
                gcps, gcp_crs = raster.gcps
                size = (raster.width, raster.height)
                crs, matrix = raster.crs, raster.transform
    except RasterioError:
        return None
    if gcps and gcp_crs is not None:
        at = [(gcp.col, gcp.row) for gcp in gcps]
        places = [(gcp.x, gcp.y) for gcp in gcps]
        names = [str(gcp.id or number) for number, gcp in enumerate(gcps, 1)]
        return _place(path, at, places, names, gcp_crs, "projective")
    if crs is None or matrix.is_identity:
        return None
    at = [(0, 0), (size[0], 0), size, (0, size[1])]
    return _place(path, at, [matrix @ one for one in at], _CORNERS, crs, "affine")


def raster_driver(path: Path) -> str | None:
    """Return what GDAL is to read a plan by, None for what is no picture."""
    with path.open("rb") as stream:
        start = stream.read(12)
    return next((_DRIVERS[one] for one in _DRIVERS if start.startswith(one)), None)


def _place(
    path: Path, at: Any, places: Any, names: Any, crs: Any, fit: str
) -> FilePlace:
    try:
        lon, lat = transform(
            crs, "EPSG:4326", [p[0] for p in places], [p[1] for p in places]
        )[:2]
    except (RasterioError, ProjError, ValueError) as error:
        raise InputError(
            f"The plan {path.name!r} names a reference system that cannot be used.",
            "Save it in longitude and latitude, or take it in without its place.",
        ) from error
    if not np.all(np.isfinite([lon, lat])) or np.abs(lat).max() > 90.0:
        raise InputError(
            f"The plan {path.name!r} says that it lies at no place on earth.",
            "Its reference system is wrong: mend it, or take it in without its place.",
        )
    pins = [
        {
            "name": f"{BY_FILE}{name}",
            "x_px": float(x),
            "y_px": float(y),
            "lon_deg": round(float(e), 8),
            "lat_deg": round(float(n), 8),
        }
        for name, (x, y), e, n in zip(names, at, lon, lat, strict=True)
    ]
    return FilePlace(pins, (min(lon), min(lat), max(lon), max(lat)), fit)


def check_place(session: Session, place: FilePlace, name: str) -> list[str]:
    """Check where a file says that it lies against what the daybook holds.

    Returns
    -------
    list of str
        What looks odd, in sentences.

    Raises
    ------
    PlanError
        If it would lie on the daybook's ground, were it not in the wrong hemisphere,
        or latitude and longitude exchanged.
    """
    notes = []
    step_m = _metres_per_px(place)
    if not _LEAST_M <= step_m <= _MOST_M:
        notes.append(
            f"A pixel of it is {step_m:.3g} m on the ground, which no survey plan has: "
            "its reference system may be wrong."
        )
    west, south, east, north = place.box_deg
    lon, lat = (west + east) / 2.0, (south + north) / 2.0
    grounds = _grounds(session)
    if not grounds:
        return notes
    apart_m = min(_apart_m(lon, lat, ground) for ground in grounds)
    if apart_m < _FAR_M:
        return notes
    for turned, how in (
        ((lon, -lat), "in the wrong hemisphere, north for south"),
        ((-lon, lat), "in the wrong hemisphere, east for west"),
        ((-lon, -lat), "in the wrong hemispheres"),
        ((lat, lon), "at longitude and latitude exchanged"),
    ):
        if any(_apart_deg(*turned, ground) < _NEAR_DEG for ground in grounds):
            raise PlanError(
                f"The plan {name!r} says that it lies at {lat:.3f}, {lon:.3f}, {how}: "
                "the daybook's ground is elsewhere.",
                "Mend its reference system, or take it in without its place "
                "(--no-place) and pin it.",
            )
    notes.append(
        f"It says that it lies {apart_m / 1000.0:.0f} km from all else in the daybook: "
        "its reference system may be wrong."
    )
    return notes


def _grounds(session: Session) -> list[tuple[float, float, float, float]]:
    boxes: list[tuple[float, float, float, float]] = []
    for kind in (TerrainLayer, Feature):
        columns = (kind.west_deg, kind.south_deg, kind.east_deg, kind.north_deg)
        wanted = select(*columns).where(
            kind.removed.is_(False), kind.west_deg.is_not(None)
        )
        for west, south, east, north in session.execute(wanted.limit(1000)):
            boxes.append((west or 0.0, south or 0.0, east or 0.0, north or 0.0))
    return boxes


def _nearest(
    lon: float, lat: float, box: tuple[float, float, float, float]
) -> tuple[float, float]:
    return (
        float(np.clip(lon, box[0], box[2])), float(np.clip(lat, box[1], box[3]))
    )  # fmt: skip


def _apart_m(lon: float, lat: float, box: tuple[float, float, float, float]) -> float:
    return float(_WGS84.inv(lon, lat, *_nearest(lon, lat, box))[2])


def _apart_deg(lon: float, lat: float, box: tuple[float, float, float, float]) -> float:
    near = _nearest(lon, lat, box)
    return max(abs(lon - near[0]), abs(lat - near[1]))


def _metres_per_px(place: FilePlace) -> float:
    first, other = place.pins[0], place.pins[min(2, len(place.pins) - 1)]
    apart_m = _WGS84.inv(
        first["lon_deg"], first["lat_deg"], other["lon_deg"], other["lat_deg"]
    )[2]
    apart_px = np.hypot(first["x_px"] - other["x_px"], first["y_px"] - other["y_px"])
    return float(apart_m / max(float(apart_px), 1e-9))
