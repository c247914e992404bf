"""Hold the ground searched."""

from __future__ import annotations

import json
import math
import re
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon, shape
from shapely.validation import explain_validity

from wherestood.earth.frame import Frame
from wherestood.errors import AreaError

__all__ = ["RING_REACH", "Area", "area_in_words", "read_area"]

#: The ring has half the area again, and so a radius larger by 1.5 ** 0.5.
RING_REACH = 1.25
CIRCLE_SIDES = 120
LARGEST_STEP_M = 500.0  # edges are cut this short before they are projected
#: The international foot, and what is made of it; 66 feet are a chain.
_FOOT_M = 0.3048
_METRES = {
    "m": 1.0,
    "km": 1000.0,
    **dict.fromkeys(("mi", "mile", "miles"), 5280.0 * _FOOT_M),
    **dict.fromkeys(("ft", "feet"), _FOOT_M),
    **dict.fromkeys(("yd", "yards"), 3.0 * _FOOT_M),
    **dict.fromkeys(("ch", "chains"), 66.0 * _FOOT_M),
}
#: A radius without a unit is more likely meant in metres from here on.
_FEWEST_METRES = 50.0
_WGS84 = pyproj.Geod(ellps="WGS84")
_NUMBER = r"\s*([-+]?(?:\d+\.?\d*|\.\d+))\s*"
_BOX = re.compile(rf"^{_NUMBER},{_NUMBER},{_NUMBER},{_NUMBER}$")
_CIRCLE = re.compile(rf"^{_NUMBER},{_NUMBER},{_NUMBER}([a-zA-Z]*)\s*$")
_FORMS = (
    "Give a GeoJSON file, a box as WEST,SOUTH,EAST,NORTH in degrees "
    "(8.45,46.05,8.55,46.15), or a point with a radius (8.5,46.1,3km)."
)
_WGS84_NAMES = ("CRS84", "4326", "4979")


@dataclass(frozen=True)
class Area:
    """Hold the area in which a station is sought.

    Attributes
    ----------
    polygon : Polygon or MultiPolygon
        WGS 84 longitude and latitude [deg].
    source : str
        The words or the file name it came from.
    """

    polygon: Polygon | MultiPolygon
    source: str

    @cached_property
    def centre(self) -> tuple[float, float]:
        """Return the middle of the area, longitude and latitude [deg]."""
        west, south, east, north = self.polygon.bounds
        return (west + east) / 2, (south + north) / 2

    @cached_property
    def radius_m(self) -> float:
        """Return the distance from the middle to the farthest corner [m]."""
        corners = shapely.get_coordinates(self.polygon)
        lon, lat = self.centre
        count = len(corners)
        _, _, distance_m = _WGS84.inv(
            np.full(count, lon), np.full(count, lat), corners[:, 0], corners[:, 1]
        )
        return float(np.max(distance_m))

    @cached_property
    def size_km2(self) -> float:
        """Return the area on the ellipsoid [km2]."""
        return abs(_WGS84.geometry_area_perimeter(self.polygon)[0]) / 1e6

    def in_frame(self, frame: Frame) -> Polygon | MultiPolygon:
        """Return the area in frame metres, long edges bent as they should be."""
        step_deg = LARGEST_STEP_M / 111_320.0
        fine = shapely.segmentize(self.polygon, step_deg)

        def project(points: NDArray[np.float64]) -> NDArray[np.float64]:
            return np.column_stack(frame.from_lonlat(points[:, 0], points[:, 1]))

        projected: Polygon | MultiPolygon = shapely.transform(fine, project)
        return projected


def read_area(text_or_path: str | Path) -> Area:
    """Read the ground searched from words or from a GeoJSON file.

    Parameters
    ----------
    text_or_path : str or Path
        A GeoJSON file (RFC 7946: Polygon, MultiPolygon, Feature,
        FeatureCollection, GeometryCollection); a box ``W,S,E,N`` [deg], with
        west above east where it crosses the 180th meridian; or a point with a
        radius, ``LON,LAT,3km`` or ``LON,LAT,500m``.

    Raises
    ------
    AreaError
        If it is none of these, or the shape is open, crossed or empty.
    """
    said = area_in_words(str(text_or_path))
    return said if said is not None else _from_file(Path(text_or_path))


def area_in_words(text: str) -> Area | None:
    """Read a box, or a point with a radius; None where it is neither.

    Raises
    ------
    AreaError
        If its numbers make no area.
    """
    if box := _BOX.match(text):
        return _from_box(text, *(float(part) for part in box.groups()))
    if circle := _CIRCLE.match(text):
        lon, lat, radius = (float(part) for part in circle.groups()[:3])
        return _from_circle(text, lon, lat, radius, circle.group(4))
    return None


def _from_box(text: str, west: float, south: float, east: float, north: float) -> Area:
    for lon, lat in ((west, south), (east, north)):
        _check_lonlat(lon, lat, f"the box {text!r}")
    if west > east:
        east += 360.0
    if south >= north or west == east or east - west > 180.0:
        raise AreaError(
            f"The box {text!r} has no inside: it must run from west to east and "
            f"from south to north, but got {west:g} to {east:g} and {south:g} to "
            f"{north:g} degrees.",
            "Give WEST,SOUTH,EAST,NORTH in degrees.",
        )
    return Area(shapely.box(west, south, east, north), text)


def _meant(radius: float, unit: str) -> str:
    """Return a length as it may have been meant: nobody means 600 km, nor 3 m."""
    if unit or radius <= 0.0:
        return "3km"
    if radius < _FEWEST_METRES:
        return f"{radius:g}km"
    return f"{radius:g}m or {radius / 1000.0:g}km"


def _from_circle(text: str, lon: float, lat: float, radius: float, unit: str) -> Area:
    _check_lonlat(lon, lat, f"the point {text!r}")
    if unit not in _METRES:
        got = f"the unit {unit!r}" if unit else "no unit"
        raise AreaError(
            f"The radius in {text!r} has {got}; m or km was expected, or miles, "
            "feet, yards or chains.",
            f"Write {lon:g},{lat:g} and a length such as {_meant(radius, unit)}.",
        )
    radius_m = radius * _METRES[unit]
    if not 0 < radius_m <= 500_000:
        raise AreaError(
            f"The radius in {text!r} is {radius_m:g} m; more than 0 and at most "
            "500 km was expected.",
            "Give a radius such as 3km.",
        )
    # Sides are drawn round the circle, so that the whole of it is inside.
    outer_m = radius_m / math.cos(math.pi / CIRCLE_SIDES)
    azimuth_deg = -360.0 * np.arange(CIRCLE_SIDES) / CIRCLE_SIDES
    start = np.full(CIRCLE_SIDES, 1.0)
    lons, lats, _ = _WGS84.fwd(start * lon, start * lat, azimuth_deg, start * outer_m)
    lons = lon + (np.asarray(lons) - lon + 180.0) % 360.0 - 180.0
    return Area(Polygon(np.column_stack((lons, lats))), text)


def _from_file(path: Path) -> Area:
    try:
        content = json.loads(path.read_text(encoding="utf-8-sig"))
    except (FileNotFoundError, IsADirectoryError, OSError) as error:
        raise AreaError(
            f"The ground searched {str(path)!r} is neither numbers nor a file that "
            f"can be read ({error.strerror or 'no such file'}).",
            _FORMS,
        ) from error
    except (UnicodeDecodeError, json.JSONDecodeError) as error:
        raise AreaError(
            f"The file {path.name!r} of the ground searched is not JSON: {error}.",
            "Save the area as GeoJSON (RFC 7946).",
        ) from error
    _check_crs(content, path.name)
    polygons = _polygons(content, path.name)
    if not polygons:
        raise AreaError(
            f"The file {path.name!r} holds no polygon.",
            "The ground searched must be a GeoJSON Polygon or MultiPolygon.",
        )
    whole = shapely.union_all(polygons) if len(polygons) > 1 else polygons[0]
    if not isinstance(whole, Polygon | MultiPolygon) or whole.is_empty:
        raise AreaError(
            f"The area in {path.name!r} is empty.", "Draw a polygon with an inside."
        )
    return Area(shapely.orient_polygons(whole), path.name)


def _check_crs(content: Any, name: str) -> None:
    """Refuse the old ``crs`` member where it names another grid than WGS 84."""
    crs = content.get("crs") if isinstance(content, dict) else None
    if crs is None:
        return
    words = json.dumps(crs)
    if not any(known in words for known in _WGS84_NAMES):
        raise AreaError(
            f"The file {name!r} is in another grid than WGS 84: {words}.",
            "GeoJSON holds longitude and latitude (RFC 7946); save it as EPSG:4326.",
        )


def _polygons(content: Any, name: str) -> list[Polygon | MultiPolygon]:
    """Gather every polygon of a GeoJSON object."""
    kind = content.get("type") if isinstance(content, dict) else None
    members = {"FeatureCollection": "features", "GeometryCollection": "geometries"}
    if kind in members:
        parts = content.get(members[kind]) or []
        return [polygon for part in parts for polygon in _polygons(part, name)]
    if kind == "Feature":
        return _polygons(content.get("geometry"), name)
    if kind in ("Polygon", "MultiPolygon"):
        return [_polygon(content, name)]
    got = f"a {kind}" if kind else "no GeoJSON type"
    raise AreaError(
        f"The file {name!r} holds {got} where a Polygon or MultiPolygon was expected.",
        "Draw the ground searched as a polygon.",
    )


def _polygon(geometry: dict[str, Any], name: str) -> Polygon | MultiPolygon:
    coordinates = geometry.get("coordinates") or []
    groups = [coordinates] if geometry["type"] == "Polygon" else coordinates
    for rings in groups:
        for number, ring in enumerate(rings, start=1):
            _check_ring(ring, number, name)
    try:
        made = shape(geometry)
    except (ValueError, TypeError, IndexError, shapely.errors.ShapelyError) as error:
        raise AreaError(
            f"A polygon in {name!r} cannot be read: {error}.",
            "Check its coordinates.",
        ) from error
    if not made.is_valid:
        raise AreaError(
            f"A polygon in {name!r} is not valid: {explain_validity(made)} "
            "(longitude latitude).",
            "Redraw it so that its outline does not cross or touch itself.",
        )
    if made.is_empty or made.area == 0 or not isinstance(made, Polygon | MultiPolygon):
        raise AreaError(f"A polygon in {name!r} has no inside.", "Redraw it.")
    return made


def _check_ring(ring: Any, number: int, name: str) -> None:
    """Refuse a ring that is short, open, or not in longitude and latitude."""
    where = f"ring {number} of a polygon in {name!r}"
    if not isinstance(ring, list) or len(ring) < 4:
        raise AreaError(
            f"The {where} needs at least 4 positions, the last equal to the first.",
            "Redraw the polygon.",
        )
    for position in ring:
        numbers = isinstance(position, list) and len(position) >= 2
        if not numbers or not all(isinstance(v, int | float) for v in position[:2]):
            raise AreaError(
                f"A position of {where} is {position!r}; two numbers were expected.",
                "Each position is [longitude, latitude] in degrees.",
            )
        _check_lonlat(position[0], position[1], where)
    if ring[0][:2] != ring[-1][:2]:
        raise AreaError(
            f"The {where} is not closed: it begins at {ring[0][:2]} and ends at "
            f"{ring[-1][:2]}.",
            "Repeat the first position at the end (RFC 7946, 3.1.6).",
        )


def _check_lonlat(lon: float, lat: float, where: str) -> None:
    if not (math.isfinite(lon) and math.isfinite(lat)):
        raise AreaError(f"A position of {where} is not finite.", "Give degrees.")
    if abs(lon) > 360.0 or abs(lat) > 90.0:
        raise AreaError(
            f"A position of {where} is {lon:g}, {lat:g}; longitude and latitude in "
            "degrees were expected (it looks like metres in a map grid, or the two "
            "are swapped).",
            "Give longitude first, then latitude, in WGS 84 degrees.",
        )
