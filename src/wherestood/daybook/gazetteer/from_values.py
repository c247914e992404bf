"""Make an entry of what the columns of one row or feature say."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

import numpy as np
import pyproj
import shapely
from pyproj.exceptions import CRSError
from shapely.errors import ShapelyError
from shapely.geometry.base import BaseGeometry

from wherestood.daybook.gazetteer.columns import GazetteerColumns
from wherestood.daybook.gazetteer.entry import (
    GazetteerEntry,
    NameRead,
    checked_geometry,
)
from wherestood.earth.grid_reference import read_grid_reference
from wherestood.errors import InputError
from wherestood.evidence.edtf import read_edtf

__all__ = ["entry_of", "to_wgs84"]

_PARTS = (";", "|")
# Places without a letter grid and without a stated error: not known, so left open.
_OTHERS = (("other names", None), ("old name", "old"), ("local name", "local"))


def entry_of(
    where: str,
    values: Mapping[str, str],
    columns: GazetteerColumns,
    *,
    shape: BaseGeometry | None = None,
    crs: str | None = None,
) -> GazetteerEntry:
    """Make an entry.

    Parameters
    ----------
    where : str
        Its place in the file.
    values : mapping of str to str
        Words by column.
    columns : GazetteerColumns
        What the columns mean.
    shape : shapely geometry, optional
        Its place in WGS 84, where the file has shapes; else columns give it.
    crs : str, optional
        Reference system of easting and northing or of shapes in words; WGS 84 for
        shapes in words if left out.

    Raises
    ------
    InputError
        With the reason as its problem.
    """
    said = {meaning: values.get(c, "") for meaning, c in columns.by_meaning.items()}
    imported: dict[str, Any] = {k: v for k, v in values.items() if v}
    sd_m = _number(said.get("standard error", ""), "standard error", least=0.0)
    if shape is None:
        shape, side_m = _place(said, crs)
        if side_m is not None:
            imported["square_side_m"] = side_m
            sd_m = sd_m if sd_m is not None else side_m / math.sqrt(12.0)
    names = _names(said, values, columns)
    what = said.get("what") or None
    if not names and not what:
        raise InputError("it has neither a name nor a kind.", "Give it one of them.")
    dates = {name: said.get(name) or None for name in ("from", "to")}
    unread = [name for name, date in dates.items() if date and not read_edtf(date)]
    return GazetteerEntry(
        where=where,
        names=names,
        geometry=checked_geometry(shape),
        what=what,
        sd_m=sd_m,
        height_m=_number(said.get("height", ""), "height", -500.0, 9000.0),
        existed_from_edtf=None if "from" in unread else dates["from"],
        existed_to_edtf=None if "to" in unread else dates["to"],
        source_words=said.get("source") or None,
        imported=imported,
        unread=tuple(
            f"{where}: its date “{name}” is {dates[name]!r}, which cannot be read; it "
            "is kept as it came and bounds nothing."
            for name in unread
        ),
    )


def _place(
    said: Mapping[str, str], crs: str | None
) -> tuple[BaseGeometry | None, float | None]:
    """Return the place that columns give, and the side of its square [m]."""
    if said.get("grid reference"):
        square = read_grid_reference(said["grid reference"])
        return shapely.Point(square.lon_deg, square.lat_deg), square.side_m
    if said.get("shape"):
        try:
            drawn = shapely.from_wkt(said["shape"])
        except ShapelyError as error:
            raise InputError(
                f"its shape is no WKT ({said['shape'][:40]!r})."
            ) from error
        return (to_wgs84(drawn, crs) if crs else drawn), None
    if said.get("longitude") and said.get("latitude"):
        lon = _number(said["longitude"], "longitude", -360.0, 360.0)
        lat = _number(said["latitude"], "latitude", -90.0, 90.0)
        return shapely.Point(lon, lat), None
    if said.get("east") and said.get("north"):
        if crs is None:
            raise InputError(
                "its easting and northing are in an unknown reference system.",
                "Name it, as in --crs EPSG:27700.",
            )
        east, north = (_number(said[name], name) for name in ("east", "north"))
        return to_wgs84(shapely.Point(east, north), crs), None
    raise InputError(
        "it has no place.",
        "It needs longitude and latitude, a grid reference, easting and northing, or "
        "a shape as WKT.",
    )


def to_wgs84(shape: BaseGeometry, crs: str) -> BaseGeometry:
    """Carry a shape to WGS 84.

    Raises
    ------
    InputError
        If the reference system is not known, or the shape lies outside it.
    """
    transform = _transformer(crs).transform

    def carried(points: Any) -> Any:
        return np.column_stack(transform(points[:, 0], points[:, 1]))

    moved: BaseGeometry = shapely.transform(shape, carried)
    return moved


@lru_cache(maxsize=64)
def _transformer(crs: str) -> pyproj.Transformer:
    try:
        return pyproj.Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
    except CRSError as error:
        raise InputError(
            f"The reference system {crs!r} is not known.",
            "Name it as in EPSG:27700.",
        ) from error


def _number(
    words: str, name: str, least: float = -math.inf, most: float = math.inf
) -> float | None:
    if not words:
        return None
    try:
        value = float(words.replace("\N{MINUS SIGN}", "-"))
    except ValueError:
        # A comma for the point, as half the world writes.
        try:
            value = float(words.replace(",", "."))
        except ValueError as error:
            raise InputError(f"its {name} {words!r} is no number.") from error
    if not math.isfinite(value) or not least <= value <= most:
        raise InputError(
            f"its {name} is {words}; between {least:g} and {most:g} was expected."
        )
    return value


def _names(
    said: Mapping[str, str], values: Mapping[str, str], columns: GazetteerColumns
) -> tuple[NameRead, ...]:
    """Return every name once, in its own spelling."""
    found: list[NameRead] = []
    if said.get("name"):
        found.append(NameRead(said["name"]))
    for column, language in columns.names.items():
        if values.get(column):
            found.append(NameRead(values[column], language))
    for meaning, kind in _OTHERS:
        found += [NameRead(part, None, kind) for part in _parts(said.get(meaning, ""))]
    kept: dict[tuple[str, str | None], NameRead] = {}
    for name in found:
        kept.setdefault((name.name, name.language), name)
    return tuple(kept.values())


def _parts(words: str) -> list[str]:
    for mark in _PARTS:
        if mark in words:
            return [part.strip() for part in words.split(mark) if part.strip()]
    return [words.strip()] if words.strip() else []
