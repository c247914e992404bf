"""Keep the edges of a feature beside its geometry, so that maps find it fast."""

from __future__ import annotations

import shapely
from shapely.errors import ShapelyError
from shapely.geometry import shape

from wherestood.daybook.tables import Feature
from wherestood.errors import InputError

__all__ = ["set_edges"]

_ROUNDED = 7  # decimals of a degree: about a centimetre (RFC 7946, section 11.2)


def set_edges(feature: Feature) -> None:
    """Set west, south, east and north of a feature from its geometry [deg].

    Raises
    ------
    InputError
        If the geometry is no GeoJSON geometry in longitude and latitude.
    """
    if feature.geometry is None:
        edges: tuple[float | None, ...] = (None, None, None, None)
    else:
        edges = _edges(feature)
    names = ("west_deg", "south_deg", "east_deg", "north_deg")
    for name, edge in zip(names, edges, strict=True):
        if getattr(feature, name) != edge:
            setattr(feature, name, edge)


def _edges(feature: Feature) -> tuple[float, ...]:
    try:
        found = shape(feature.geometry)
        bounds = [float(edge) for edge in shapely.bounds(found)]
    except (AttributeError, KeyError, ShapelyError, TypeError, ValueError) as error:
        raise InputError(
            f"The geometry of feature {feature.key!r} is no GeoJSON geometry: {error}.",
            'Give one such as {"type": "Point", "coordinates": [8.5, 46.1]}.',
        ) from error
    west, south, east, north = bounds
    if not (abs(west) <= 360 and abs(east) <= 360 and -90 <= south <= north <= 90):
        raise InputError(
            f"The geometry of feature {feature.key!r} is empty or no longitude and "
            f"latitude in degrees: it spans {west:g} to {east:g} and {south:g} to "
            f"{north:g}.",
            "Give longitude first, then latitude, in WGS 84 degrees.",
        )
    return tuple(round(edge, _ROUNDED) for edge in bounds)
