"""Hold one feature as a file tells of it."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from wherestood.errors import InputError

__all__ = ["MOST_POINTS", "GazetteerEntry", "NameRead", "checked_geometry"]

# A shore of a whole county has some ten thousand.
MOST_POINTS = 100_000
_KINDS = {
    "Point",
    "LineString",
    "Polygon",
    "MultiPoint",
    "MultiLineString",
    "MultiPolygon",
}


@dataclass(frozen=True)
class NameRead:
    """Hold a name in its source's spelling, its language and whose it is."""

    name: str
    language: str | None = None
    kind: str | None = None


@dataclass(frozen=True)
class GazetteerEntry:
    """Hold a feature as a file tells of it.

    Attributes
    ----------
    where : str
        Its place in the file: ``row 12`` or ``feature 3``.
    names : tuple of NameRead
        Every name, the first the one it is listed by.
    geometry : dict
        GeoJSON, WGS 84.
    what : str or None
        What it is.
    sd_m : float or None
        Standard error of its position, one axis [m].
    height_m : float or None
        Height of its foot [m].
    existed_from_edtf, existed_to_edtf : str or None
        Since and until when it stood, as written.
    source_words : str or None
        Where its position is from.
    imported : dict
        All that the file said, column by column.
    unread : tuple of str
        Dates that could not be read, and so bound nothing, in sentences.
    """

    where: str
    names: tuple[NameRead, ...]
    geometry: dict[str, Any]
    what: str | None = None
    sd_m: float | None = None
    height_m: float | None = None
    existed_from_edtf: str | None = None
    existed_to_edtf: str | None = None
    source_words: str | None = None
    imported: dict[str, Any] = field(default_factory=dict)
    unread: tuple[str, ...] = ()


def checked_geometry(shape: BaseGeometry | None) -> dict[str, Any]:
    """Return a geometry as GeoJSON, or refuse it.

    Parameters
    ----------
    shape : shapely geometry or None
        In WGS 84 longitude and latitude [deg].

    Raises
    ------
    InputError
        If there is none, it is empty, has too many points, or leaves the earth.
    """
    if shape is None or shape.is_empty:
        raise InputError("it has no place.", "Give it one, or leave it out.")
    if shape.geom_type not in _KINDS:
        raise InputError(
            f"its shape is a {shape.geom_type}; a point, line or outline was expected."
        )
    points = shapely.get_coordinates(shape)
    if len(points) > MOST_POINTS:
        raise InputError(
            f"its outline has {len(points)} points; at most {MOST_POINTS} are taken.",
            "Simplify it.",
        )
    if not np.isfinite(points).all():
        raise InputError("a coordinate of it is no number.")
    if np.abs(points[:, 0]).max() > 360.0 or np.abs(points[:, 1]).max() > 90.0:
        worst = points[np.abs(points).max(axis=1).argmax()]
        raise InputError(
            f"its place {worst[0]:.6g}, {worst[1]:.6g} is not on the earth: longitude "
            "and latitude in degrees were expected.",
            "Name the reference system of its numbers.",
        )
    flat = shapely.force_2d(shape)
    record: dict[str, Any] = json.loads(shapely.to_geojson(flat))
    return record
