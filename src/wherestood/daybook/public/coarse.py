"""Make a place as coarse as it may be published."""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = ["CoarsePlace", "coarse_place"]

#: Side of the square by precision [m].
SIDES_M = {"100 m": 100.0, "1 km": 1000.0}
#: Metres to a degree of latitude, on average: a square may be a little larger or
#: smaller than its name, and nobody is to measure by it.
_M_A_DEGREE = 111_195.0
_DIGITS = {"100 m": 5, "1 km": 4}
_EXACT_DIGITS = 6


@dataclass(frozen=True)
class CoarsePlace:
    """Hold a place as it may be published.

    Attributes
    ----------
    lon_deg, lat_deg : float
        WGS 84: the place itself, or the middle of a square that holds it [deg].
    side_m : float or None
        Side of the square; None where the place is exact [m].
    """

    lon_deg: float
    lat_deg: float
    side_m: float | None = None


def coarse_place(lon_deg: float, lat_deg: float, precision: str) -> CoarsePlace | None:
    """Return a place as coarse as a precision asks; None where none may be told.

    Parameters
    ----------
    lon_deg, lat_deg : float
        WGS 84 [deg].
    precision : str
        One of `wherestood.daybook.tables.PRECISIONS`.

    Notes
    -----
    Squares lie on one grid over the earth, wherever the place is in them. The same
    place gives the same square each time, so that many copies tell no more than one.
    """
    if precision == "exact":
        return CoarsePlace(round(lon_deg, _EXACT_DIGITS), round(lat_deg, _EXACT_DIGITS))
    side_m = SIDES_M.get(precision)
    if side_m is None:
        return None
    step_deg = side_m / _M_A_DEGREE
    middle_lat = (math.floor(lat_deg / step_deg) + 0.5) * step_deg
    across_deg = step_deg / max(math.cos(math.radians(middle_lat)), 1e-6)
    middle_lon = (math.floor(lon_deg / across_deg) + 0.5) * across_deg
    digits = _DIGITS[precision]
    return CoarsePlace(round(middle_lon, digits), round(middle_lat, digits), side_m)
