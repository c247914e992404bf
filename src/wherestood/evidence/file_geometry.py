"""Read the geometry of a feature, written in the evidence file or beside it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import shapely
from shapely.geometry import shape
from shapely.geometry.base import BaseGeometry

from wherestood.errors import EvidenceError
from wherestood.evidence.items.check import names_like

__all__ = ["geometry_of", "geometry_to_values"]


def geometry_of(values: dict[str, Any], folder: Path) -> BaseGeometry:
    """Take the geometry out of a feature's values, and return it.

    Parameters
    ----------
    values : dict
        One of ``point``, ``line``, ``area``, ``geometry`` and ``geojson`` is taken.
    folder : Path
        Where the evidence file lies.

    Raises
    ------
    EvidenceError
        If it cannot be read, or the file beside holds no such feature.
    """
    try:
        if "point" in values:
            return shapely.Point(values.pop("point")[:2])
        if "line" in values:
            return shapely.LineString([p[:2] for p in values.pop("line")])
        if "area" in values:
            return shapely.Polygon([p[:2] for p in values.pop("area")])
        if "geometry" in values:
            return shapely.force_2d(shape(values.pop("geometry")))
        name = values.pop("geojson")
        return _from_file(folder / name, values.pop("geojson_id", None))
    except (ValueError, TypeError, IndexError, shapely.errors.ShapelyError) as error:
        raise EvidenceError(
            f"its geometry cannot be read: {error}.",
            "Check its coordinates: [longitude, latitude], in degrees.",
            field="geometry",
        ) from error


def geometry_to_values(geometry: BaseGeometry) -> dict[str, Any]:
    """Return a geometry as an evidence file writes it."""
    if geometry.geom_type == "Point":
        return {"point": [geometry.x, geometry.y]}
    if geometry.geom_type == "LineString":
        return {"line": shapely.get_coordinates(geometry).tolist()}
    if geometry.geom_type == "Polygon" and not geometry.interiors:
        return {"area": shapely.get_coordinates(geometry)[:-1].tolist()}
    return {"geometry": json.loads(shapely.to_geojson(geometry))}


def _from_file(path: Path, name: str | None) -> BaseGeometry:
    try:
        content = json.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise EvidenceError(
            f"the GeoJSON file {path.name!r} cannot be read.",
            "Put it beside the evidence file.",
            field="geojson",
        ) from error
    except ValueError as error:
        raise EvidenceError(
            f"the file {path.name!r} is not JSON: {error}.",
            "Save it as GeoJSON (RFC 7946).",
            field="geojson",
        ) from error
    features = _features(content)
    if name is not None:
        features = [part for part in features if name in _names(part)]
    if len(features) != 1:
        known = [n for part in _features(content) for n in _names(part)]
        what = f"called {name!r}" if name is not None else "alone"
        raise EvidenceError(
            f"the file {path.name!r} holds {len(features)} features {what}; one was "
            "expected.",
            f"Say which by geojson_id. {names_like(name or '', known)}",
            field="geojson",
        )
    return shapely.force_2d(shape(features[0]["geometry"]))


def _features(content: Any) -> list[dict[str, Any]]:
    kind = content.get("type") if isinstance(content, dict) else None
    if kind == "FeatureCollection":
        return list(content.get("features") or [])
    if kind == "Feature":
        return [content]
    return [{"geometry": content}] if kind else []


def _names(feature: dict[str, Any]) -> list[str]:
    properties = feature.get("properties") or {}
    given = (feature.get("id"), properties.get("id"), properties.get("name"))
    return [str(name) for name in given if name is not None]
