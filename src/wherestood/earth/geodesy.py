"""Measure distances and true bearings on the WGS 84 ellipsoid."""

from __future__ import annotations

import numpy as np
import pyproj
from numpy.typing import NDArray

__all__ = ["distance_and_bearing", "place_at"]

_WGS84 = pyproj.Geod(ellps="WGS84")

_FloatArray = NDArray[np.float64]


def distance_and_bearing(
    from_lon_deg: _FloatArray | float,
    from_lat_deg: _FloatArray | float,
    to_lon_deg: _FloatArray | float,
    to_lat_deg: _FloatArray | float,
) -> tuple[_FloatArray, _FloatArray]:
    """Return the geodesic from one place to another.

    Parameters
    ----------
    from_lon_deg, from_lat_deg, to_lon_deg, to_lat_deg : array or float
        WGS 84 positions [deg], of one shape.

    Returns
    -------
    distance_m : float64 array
        Length [m].
    bearing_deg : float64 array
        True bearing at the start, 0 to 360 [deg].
    """
    lon_1, lat_1, lon_2, lat_2 = _same_shape(
        from_lon_deg, from_lat_deg, to_lon_deg, to_lat_deg
    )
    bearing, _, distance = _WGS84.inv(lon_1, lat_1, lon_2, lat_2)
    return np.asarray(distance), np.asarray(bearing) % 360.0


def place_at(
    lon_deg: _FloatArray | float,
    lat_deg: _FloatArray | float,
    bearing_deg: _FloatArray | float,
    distance_m: _FloatArray | float,
) -> tuple[_FloatArray, _FloatArray]:
    """Return where a geodesic of given bearing and length ends.

    Parameters
    ----------
    lon_deg, lat_deg : array or float
        WGS 84 positions of the start [deg].
    bearing_deg : array or float
        True bearings at the start [deg].
    distance_m : array or float
        Lengths [m].

    Returns
    -------
    lon_deg, lat_deg : float64 arrays
        WGS 84 positions of the end [deg].
    """
    lon_1, lat_1, bearing, distance = _same_shape(
        lon_deg, lat_deg, bearing_deg, distance_m
    )
    lon, lat, _ = _WGS84.fwd(lon_1, lat_1, bearing, distance)
    return np.asarray(lon), np.asarray(lat)


def _same_shape(*values: _FloatArray | float) -> list[_FloatArray]:
    arrays = np.broadcast_arrays(*(np.asarray(v, dtype=np.float64) for v in values))
    return [np.array(a) for a in arrays]
