"""Write what a plate shows as features of the map, and read features to draw on it."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import Any

import numpy as np
import pyogrio
import pyogrio.errors
import pyproj
import shapely
from numpy.typing import NDArray
from shapely.geometry import mapping as as_mapping
from shapely.geometry.base import BaseGeometry

from wherestood.earth.frame import Frame
from wherestood.errors import InputError
from wherestood.ground.drawn import MappedShape
from wherestood.ground.mapping import Mapping
from wherestood.record.atomic import write_text_atomically
from wherestood.record.camera_json import LONLAT_DECIMALS

__all__ = [
    "DrawnShape",
    "MapFeature",
    "feature_form",
    "read_drawn",
    "read_map_features",
    "write_map_features",
]

Array = NDArray[np.float64]
_FIELDS = (
    "name", "note", "source", "doubt_m", "most_doubt_m", "height_m", "nearest_m",
    "farthest_m", "share", "flagged", "hidden_between", "caution",
)  # fmt: skip


@dataclass(frozen=True)
class DrawnShape:
    """Hold something that was drawn on a plate.

    Attributes
    ----------
    shape : shapely geometry
        In scan pixels.
    name, note : str
    """

    shape: BaseGeometry
    name: str = ""
    note: str = ""


@dataclass(frozen=True)
class MapFeature:
    """Hold something on the map that is to be drawn on a plate.

    Attributes
    ----------
    shape : shapely geometry
        In frame metres.
    name : str
    sd_m : float or None
        How far it may be off, where that is known [m].
    mark_px : (x, y, sd) or None
        Where it is marked on the plate, and how surely [px].
    """

    shape: BaseGeometry
    name: str = ""
    sd_m: float | None = None
    mark_px: tuple[float, float, float] | None = None


def read_drawn(path: Path | str) -> list[DrawnShape]:
    """Read what was drawn on a plate: GeoJSON whose coordinates are scan pixels.

    Raises
    ------
    InputError
        If the file cannot be read or holds no shape.
    """
    name = Path(path).name
    try:
        form = json.loads(Path(path).read_text(encoding="utf-8"))
        features = form.get("features", [form])
        drawn = []
        for feature in features:
            told = feature.get("properties") or {}
            whole = shapely.from_geojson(json.dumps(feature.get("geometry", feature)))
            drawn += [
                DrawnShape(part, str(told.get("name", "")), str(told.get("note", "")))
                for part in shapely.get_parts(whole)
                if not part.is_empty
            ]
    except OSError as error:
        raise InputError(
            f"The file {str(path)!r} cannot be read ({error.strerror}).",
            "Name a GeoJSON file of what was drawn.",
        ) from error
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise InputError(
            f"The file {name!r} is no GeoJSON of what was drawn: {error}.",
            "Give features whose coordinates are pixels of the scan, x right, y down.",
        ) from error
    except shapely.errors.GEOSException as error:
        raise InputError(
            f"The file {name!r} is no GeoJSON of what was drawn: {error}.",
            "Give features whose coordinates are pixels of the scan, x right, y down.",
        ) from error
    if not drawn:
        raise InputError(f"The file {name!r} holds no shape.", "Draw something first.")
    return drawn


def feature_form(
    drawn: DrawnShape, mapped: MappedShape, mapping: Mapping, plate: str
) -> dict[str, Any]:
    """Return what was drawn as a GeoJSON feature in WGS 84, with source and doubt."""
    frame = mapping.ground.model.terrain.frame
    geometry = None
    if mapped.geometry is not None:
        laid = shapely.transform(mapped.geometry, lambda at: _lonlat(frame, at))
        if laid.geom_type == "Polygon":
            laid = shapely.orient_polygons(laid, exterior_cw=False)
        geometry = as_mapping(shapely.set_precision(laid, 10.0**-LONLAT_DECIMALS))
    flagged = ", ".join(f"{count} {why}" for why, count in mapped.flagged.items())
    told = {
        "name": drawn.name,
        "note": drawn.note,
        "source": f"drawn on plate {plate}, carried to the ground",
        "doubt_m": _rounded(mapped.doubt_m),
        "most_doubt_m": _rounded(mapped.most_doubt_m),
        "height_m": _rounded(mapped.height_m),
        "nearest_m": _rounded(mapped.nearest_m),
        "farthest_m": _rounded(mapped.farthest_m),
        "share": round(mapped.share, 3),
        "flagged": flagged,
        "hidden_between": mapped.broken,
        "caution": " ".join(_cautions(mapped, mapping)),
    }
    return {"type": "Feature", "properties": told, "geometry": geometry}


def _cautions(mapped: MappedShape, mapping: Mapping) -> list[str]:
    said = [mapping.caution()] if mapping.caution() else []
    if mapped.torn:
        said.append("Some of it may lie on a nearer or a farther hill.")
    if mapping.rough:
        said.append("The fix was kept without drawn cameras: doubts are rough.")
    said.append("No evidence of a boundary or of title.")
    return said


def write_map_features(path: Path, features: Sequence[dict[str, Any]]) -> None:
    """Write features as GeoJSON (RFC 7946), or as GeoPackage by the file's name.

    Raises
    ------
    InputError
        If the name ends otherwise, or a GeoPackage cannot be written.
    """
    ending = path.suffix.lower()
    if ending in (".geojson", ".json"):
        form = {"type": "FeatureCollection", "features": list(features)}
        text = json.dumps(form, indent=1, ensure_ascii=False, allow_nan=False)
        write_text_atomically(path, text + "\n")
        return
    if ending != ".gpkg":
        raise InputError(
            f"Features are not written as {PurePath(path).suffix or 'such a file'!r}.",
            "End the name in .geojson or .gpkg.",
        )
    kept = [one for one in features if one["geometry"] is not None]
    if not kept:
        raise InputError(
            "Nothing that was drawn could be carried to the ground.",
            "Read the flags; write .geojson to keep them.",
        )
    shapes = shapely.from_geojson([json.dumps(one["geometry"]) for one in kept])
    table = [
        np.array([_cell(one["properties"][name]) for one in kept], dtype=_dtype(name))
        for name in _FIELDS
    ]
    passing = path.with_name(f".{path.stem}-passing.gpkg")
    try:
        passing.unlink(missing_ok=True)
        pyogrio.raw.write(
            passing, shapely.to_wkb(shapes), table, list(_FIELDS),
            layer="on the ground", driver="GPKG", geometry_type="Unknown",
            crs="EPSG:4326",
        )  # fmt: skip
        passing.replace(path)
    except (pyogrio.errors.DataSourceError, OSError) as error:
        raise InputError(
            f"The file {path.name!r} cannot be written: {error}.", "Choose another."
        ) from error
    finally:
        passing.unlink(missing_ok=True)


def read_map_features(path: Path | str, frame: Frame) -> list[MapFeature]:
    """Read features of the map, of any kind that GDAL reads, into a frame.

    Raises
    ------
    InputError
        If the file cannot be read, or does not say where on the earth it is.
    """
    name = Path(path).name
    try:
        meta, _, wkb, columns = pyogrio.raw.read(Path(path))
    except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError) as error:
        raise InputError(
            f"The file {name!r} cannot be read as features: {error}.",
            "Give GeoJSON, GeoPackage, KML, GPX or a shapefile.",
        ) from error
    if not meta["crs"]:
        raise InputError(
            f"The file {name!r} does not say in which coordinates it is.",
            "Give one that does, such as GeoJSON in longitude and latitude.",
        )
    to_wgs84 = pyproj.Transformer.from_crs(meta["crs"], "EPSG:4326", always_xy=True)

    def laid(points: Array) -> Array:
        lon, lat = to_wgs84.transform(points[:, 0], points[:, 1])
        return np.column_stack(frame.from_lonlat(lon, lat))

    fields = [str(field).lower() for field in meta["fields"]]
    names = columns[fields.index("name")] if "name" in fields else [""] * len(wkb)
    shapes = shapely.force_2d(shapely.from_wkb(wkb))
    return [
        MapFeature(shapely.transform(shape, laid), "" if name is None else str(name))
        for shape, name in zip(shapes, names, strict=True)
        if shape is not None and not shape.is_empty
    ]


def _lonlat(frame: Frame, points: Array) -> Array:
    return np.column_stack(frame.to_lonlat(points[:, 0], points[:, 1]))


def _rounded(value: float) -> float | None:
    return round(float(value), 1) if np.isfinite(value) else None


def _cell(value: Any) -> Any:
    return np.nan if value is None else value


def _dtype(name: str) -> Any:
    words = ("name", "note", "source", "flagged", "caution")
    if name == "hidden_between":
        return np.int32
    return object if name in words else np.float64
