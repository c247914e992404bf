"""Write layers of a map as GeoJSON (RFC 7946)."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from shapely.geometry import box, mapping
from shapely.geometry.base import BaseGeometry

from wherestood.record.atomic import write_text_atomically
from wherestood.record.camera_json import LONLAT_DECIMALS
from wherestood.record.export.layers import Layer

__all__ = ["geojson_of", "geometry_of", "write_geojson"]

_HALF_TURN = 180.0


def write_geojson(path: Path, layers: Sequence[Layer]) -> None:
    """Write all layers into one file; ``layer`` says of each feature which."""
    text = json.dumps(geojson_of(layers), indent=1, ensure_ascii=False, allow_nan=False)
    write_text_atomically(path, text + "\n")


def geojson_of(layers: Sequence[Layer]) -> dict[str, Any]:
    """Return all layers as a FeatureCollection.

    Longitude before latitude, WGS 84, without heights: these ride in properties with
    their datum, since RFC 7946 (4) would have them above the ellipsoid. What crosses
    the antimeridian is cut there (3.1.9).
    """
    return {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "geometry": geometry_of(row.shape),
                "properties": {
                    "layer": layer.name,
                    **{k: v for k, v in row.cells.items() if v not in (None, "")},
                },
            }
            for layer in layers
            for row in layer.rows
        ],
    }


def geometry_of(shape: BaseGeometry | None) -> dict[str, Any] | None:
    """Return a shape in longitude and latitude as GeoJSON; None for none."""
    if shape is None or shape.is_empty:
        return None
    form = mapping(_cut(shape))
    return {"type": form["type"], **_inside(form)}


def _inside(form: Any) -> dict[str, Any]:
    if form["type"] == "GeometryCollection":
        return {"geometries": [{"type": one["type"], **_inside(one)}
                               for one in form["geometries"]]}  # fmt: skip
    return {"coordinates": _rounded(form["coordinates"])}


def _cut(shape: BaseGeometry) -> BaseGeometry:
    """Cut what crosses the antimeridian: its longitudes lie more than 180 apart."""
    west, _, east, _ = shape.bounds
    if east - west <= _HALF_TURN or shape.geom_type in ("Point", "MultiPoint"):
        return shape
    whole = shapely.transform(shape, lambda at: at + (at < 0.0) * (360.0, 0.0))
    parts = []
    for first, shift in ((0.0, 0.0), (_HALF_TURN, -360.0)):
        half = whole.intersection(box(first, -90.0, first + _HALF_TURN, 90.0))
        moved = shapely.transform(half, lambda at, by=shift: np.add(at, (by, 0.0)))
        parts += [
            one
            for one in shapely.get_parts(moved)
            if one.geom_type in shape.geom_type  # slivers of the cut are left away
        ]
    joined = shapely.union_all(parts)
    return shapely.orient_polygons(joined, exterior_cw=False)


def _rounded(at: Any) -> Any:
    if isinstance(at, float | int):
        return round(float(at), LONLAT_DECIMALS)
    return [_rounded(part) for part in at]
