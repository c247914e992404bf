"""Read features from GeoJSON, GeoPackage, KML, GPX and shapefiles."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import nullcontext
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio
import pyogrio.errors
import shapely
from shapely.geometry.base import BaseGeometry

from wherestood.daybook.gazetteer.from_values import to_wgs84
from wherestood.daybook.gazetteer.kml_dates import with_dates_as_written
from wherestood.errors import InputError

__all__ = ["LAYER_SUFFIXES", "layer_columns", "layers_with_shapes", "read_layer"]

LAYER_SUFFIXES = (".geojson", ".json", ".gpkg", ".kml", ".gpx", ".shp")
LARGEST_BYTES = 2_000_000_000
_DRIVERS = {
    ".geojson": {"GeoJSON"},
    ".json": {"GeoJSON"},
    ".gpkg": {"GPKG"},
    ".kml": {"KML", "LIBKML"},
    ".gpx": {"GPX"},
    ".shp": {"ESRI Shapefile"},
}
_LOOKED_AT_BYTES = 16_384
_MARKED = rb"(?:\xef\xbb\xbf)?\s*"  # a byte order mark, and empty lines
_OF_XML = rb"(?:<\?.*?\?>|<!--.*?-->|\s)*<(?:\w+:)?"
#: How files of each kind begin: RFC 7946; OGC 12-128r18 (a SQLite file); OGC 12-007r2;
#: GPX 1.1; ESRI Shapefile Technical Description, table 1 (file code 9994).
_BEGIN_WITH = {
    ".geojson": re.compile(_MARKED + rb"[{\[]"),
    ".json": re.compile(_MARKED + rb"[{\[]"),
    ".gpkg": re.compile(rb"SQLite format 3\0"),
    ".kml": re.compile(_MARKED + _OF_XML + rb"kml\b", re.S),
    ".gpx": re.compile(_MARKED + _OF_XML + rb"gpx\b", re.S),
    ".shp": re.compile(rb"\x00\x00\x27\x0a"),
}
#: A GPX file's lines once more, point by point.
_REPEATED = frozenset({"route_points", "track_points"})
# A KML's own span of time and its bookkeeping.
_RENAMED = {"begin": "start_date", "end": "end_date", "description": "note"}
_RENAMED_DATES = ("begin", "end")
_DROPPED = frozenset(
    {"timestamp", "altitudemode", "tessellate", "extrude", "visibility", "draworder"}
    | {"icon", "snippet", "id"}
)

Feature = tuple[str, dict[str, str], BaseGeometry | None]


def read_layer(
    path: Path, *, layer: str | None = None, crs: str | None = None
) -> tuple[tuple[str, ...], Iterator[Feature], tuple[str, ...]]:
    """Read a layer of features.

    Parameters
    ----------
    path : Path
        GeoJSON, GeoPackage, KML, GPX or shapefile.
    layer : str, optional
        Which layer; the only one with features if left out.
    crs : str, optional
        Reference system, where the file does not say.

    Returns
    -------
    columns : tuple of str
    features : iterator of (where, values by column, shape in WGS 84 or None)
    notes : tuple of str
        How it was read.

    Raises
    ------
    InputError
        If it cannot be read, or its layer or reference system is not known.
    """
    chosen = _chosen(path, layers_with_shapes(path), layer)
    kml = path.suffix.lower() == ".kml"
    try:
        with with_dates_as_written(path) if kml else nullcontext(path) as source:
            meta, _, wkb, fields = pyogrio.raw.read(source, layer=chosen, force_2d=True)
    except (
        pyogrio.errors.DataSourceError,
        pyogrio.errors.DataLayerError,
        pyogrio.errors.FeatureError,
        pyogrio.errors.GeometryError,
        ValueError,
    ) as error:
        raise _unreadable(path, error) from error
    system = crs or meta["crs"]
    if system is None:
        raise InputError(
            f"The file {path.name!r} does not say which reference system it is in.",
            "Name it, as in --crs EPSG:2193.",
        )
    names = [_renamed(str(name), kml) for name in meta["fields"]]
    if source != path:  # its own fields for the dates are empty then
        own = [str(name).casefold() in _RENAMED_DATES for name in meta["fields"]]
        names = [None if o else name for o, name in zip(own, names, strict=True)]
    kept = [place for place, name in enumerate(names) if name is not None]
    columns = tuple(str(names[place]) for place in kept)
    shapes = shapely.from_wkb(wkb, on_invalid="ignore") if wkb is not None else None

    def features() -> Iterator[Feature]:
        count = len(fields[0]) if fields else (0 if shapes is None else len(shapes))
        for index in range(count):
            values = {str(names[p]): _words(fields[p][index]) for p in kept}
            shape = None if shapes is None else shapes[index]
            if shape is not None and str(system).upper() != "EPSG:4326":
                shape = to_wgs84(shape, str(system))
            yield f"feature {index + 1}", values, shape

    return columns, features(), (f"read from layer {chosen!r}, in {_short(system)}",)


def layers_with_shapes(path: Path) -> list[str]:
    """Return the names of a file's layers of shapes; of a GPX those that hold any.

    Raises
    ------
    InputError
        If it cannot be read.
    """
    _refuse_large(path)
    _refuse_by_its_beginning(path)
    try:
        layers = pyogrio.list_layers(path)
        names = [str(row[0]) for row in layers if row[1] is not None]
        _refuse_disguised(path, names)
        if path.suffix.lower() == ".gpx":  # which always has the same five
            names = [
                name
                for name in names
                if name not in _REPEATED
                and pyogrio.read_info(path, layer=name, force_feature_count=True)[
                    "features"
                ]
            ]
    except (pyogrio.errors.DataSourceError, ValueError) as error:
        raise _unreadable(path, error) from error
    return names


def _refuse_disguised(path: Path, layers: list[str]) -> None:
    """Refuse a file that is read as another kind than its name says.

    Some kinds only point at further files, which nobody meant to open.
    """
    expected = _DRIVERS.get(path.suffix.lower())
    if not layers or expected is None:
        return
    found = pyogrio.read_info(path, layer=layers[0])["driver"]
    if found not in expected:
        raise InputError(
            f"The file {path.name!r} is not what its name says: it reads as {found}.",
            "Give it the ending of its kind, or export it anew.",
        )


def _refuse_by_its_beginning(path: Path) -> None:
    """Refuse a file of another kind before it is opened, and may open others.

    A list of layers by another name would have further files and addresses read.
    """
    expected = _BEGIN_WITH.get(path.suffix.lower())
    with path.open("rb") as stream:
        head = stream.read(_LOOKED_AT_BYTES)
    if expected is not None and expected.match(head) is None:
        raise InputError(
            f"The file {path.name!r} is not what its name says: it does not begin as "
            f"{path.suffix.lower()} does.",
            "Give it the ending of its kind, or export it anew.",
        )


def layer_columns(path: Path, layer: str | None = None) -> tuple[str, ...]:
    """Return the columns of a layer."""
    return read_layer(path, layer=layer, crs="EPSG:4326")[0]


def _refuse_large(path: Path) -> None:
    size = path.stat().st_size
    if size == 0:
        raise InputError(f"The file {path.name!r} is empty.", "Copy it again.")
    if size > LARGEST_BYTES:
        raise InputError(
            f"The file {path.name!r} has {size / 1e9:.1f} GB; at most "
            f"{LARGEST_BYTES / 1e9:.0f} GB are read.",
            "Cut it to the ground you need.",
        )


def _chosen(path: Path, layers: list[str], wanted: str | None) -> str:
    if wanted is not None:
        if wanted not in layers:
            raise InputError(
                f"The file {path.name!r} has no layer {wanted!r} with shapes.",
                f"It has: {', '.join(layers) or 'none'}.",
            )
        return wanted
    if len(layers) != 1:
        raise InputError(
            f"The file {path.name!r} has {len(layers)} layers with shapes.",
            f"Choose one of: {', '.join(layers)}." if layers else "Give another file.",
        )
    return layers[0]


def _unreadable(path: Path, error: Exception) -> InputError:
    told = (str(error).strip() or "no reason given").splitlines()[0].rstrip(".")
    told = told.replace(str(path), path.name)
    beside = (
        " The .shx and .dbf of a shapefile must lie beside it."
        if path.suffix.lower() == ".shp"
        else ""
    )
    return InputError(
        f"The file {path.name!r} cannot be read: {told}.",
        "GeoJSON, GeoPackage, KML, GPX, a shapefile or CSV was expected." + beside,
    )


def _renamed(name: str, kml: bool) -> str | None:
    if kml and name.casefold() in _DROPPED:
        return None
    return _RENAMED.get(name.casefold(), name) if kml else name


def _words(value: Any) -> str:
    if value is None or (isinstance(value, float | np.floating) and np.isnan(value)):
        return ""
    if isinstance(value, np.datetime64):
        return "" if np.isnat(value) else str(value)[:10]
    if isinstance(value, float | np.floating) and float(value).is_integer():
        return str(int(value))
    return str(value).strip()


def _short(system: object) -> str:
    words = str(system)
    return words if len(words) < 40 else "its own reference system"
