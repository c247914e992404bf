"""Say where a plate's frame looks, and draw that on the map as a wedge.

Symbols
-------
c : principal distance [px]
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pyproj
from numpy.typing import NDArray
from shapely.geometry import Polygon, box

from wherestood.camera.model import Camera, bearing_elevation
from wherestood.record.export.handed import Place

__all__ = ["WEDGE_M", "View", "square", "view_of", "wedge"]

#: How far a wedge reaches: a sign of which way, and no claim of what is in sight [m].
WEDGE_M = 3000.0
_STEP_DEG = 3.0
_M_A_DEGREE = 111_195.0
_WGS84 = pyproj.Geod(ellps="WGS84")


@dataclass(frozen=True)
class View:
    """Hold where a frame's edges look.

    Attributes
    ----------
    left_deg, right_deg : float
        True bearings of the middles of the left and right edges, of the view as it
        was seen: where the scan is left for right its edges change places [deg].
    bottom_deg, top_deg : float
        Elevations of the middles of the lower and upper edges [deg].
    """

    left_deg: float
    right_deg: float
    bottom_deg: float
    top_deg: float

    @property
    def across_deg(self) -> float:
        """Return how wide the plate sees [deg]."""
        return (self.right_deg - self.left_deg) % 360.0


def view_of(camera: Camera) -> View:
    """Return where the edges of a camera's frame look; its bearing is true."""
    width_px, height_px = float(camera.width_px), float(camera.height_px)
    first_px, last_px = 0.0, width_px
    if camera.reversed:
        first_px, last_px = last_px, first_px
    x_px = np.array([first_px, last_px, width_px / 2, width_px / 2])
    y_px = np.array([height_px / 2, height_px / 2, height_px, 0.0])
    bearing, elevation = (np.degrees(v) for v in bearing_elevation(camera, x_px, y_px))
    return View(
        float(bearing[0]), float(bearing[1]), float(elevation[2]), float(elevation[3])
    )


def wedge(place: Place, reach_m: float = WEDGE_M) -> Polygon | None:
    """Return the ground before a camera, as wide as it sees.

    Returns
    -------
    shapely Polygon or None
        Longitude and latitude, counter-clockwise, its first corner the station; None
        where it is not told how the camera looked [deg].
    """
    if place.held is None:
        return None
    view = view_of(place.held.camera)
    count = max(2, math.ceil(view.across_deg / _STEP_DEG) + 1)
    # From right to left, which is counter-clockwise.
    bearings = view.right_deg - np.linspace(0.0, view.across_deg, count)
    points = _points(place, bearings, reach_m)
    corner = (place.lon_deg, place.lat_deg)
    return Polygon([corner, *map(tuple, points.tolist()), corner])


def square(place: Place) -> Polygon:
    """Return the square by which a place is told, about its middle.

    Metres are taken as `wherestood.daybook.public.coarse` lays its grid: so many to a
    degree on average, and nobody is to measure by it.
    """
    assert place.side_m is not None
    half_lat = place.side_m / _M_A_DEGREE / 2.0
    half_lon = half_lat / max(math.cos(math.radians(place.lat_deg)), 1e-6)
    return box(
        place.lon_deg - half_lon,
        place.lat_deg - half_lat,
        place.lon_deg + half_lon,
        place.lat_deg + half_lat,
    )


def _points(
    place: Place, bearings_deg: NDArray[np.float64], reach_m: float
) -> NDArray[np.float64]:
    count = len(bearings_deg)
    lon, lat, _ = _WGS84.fwd(
        np.full(count, place.lon_deg),
        np.full(count, place.lat_deg),
        bearings_deg,
        np.full(count, reach_m),
    )
    return np.column_stack((lon, lat))
