"""Say where a place is on the grid that people there have on their maps."""

from __future__ import annotations

import math

import numpy as np
import pyproj
from pyproj.exceptions import CRSError

from wherestood.earth.datum import find_datum_shift
from wherestood.earth.grid_letters import grid_square, utm_zone
from wherestood.errors import InputError
from wherestood.record.doubt import round_to_doubt

__all__ = ["local_grid"]

#: A map of the whole world is nobody's grid.
_OF_NO_PLACE = "Popular Visualisation Pseudo Mercator"


def local_grid(lon_deg: float, lat_deg: float, sd_m: float, crs: str = "") -> str:
    """Return a place on a local grid, in words, with its doubt.

    Parameters
    ----------
    lon_deg, lat_deg : float
        WGS 84 [deg].
    sd_m : float
        Standard error of it, either way [m].
    crs : str
        Grid of the terrain; where that is in degrees, or of no one place, the Universal
        Transverse Mercator grid is taken.

    Returns
    -------
    str
        Empty where there is none, as near a pole.
    """
    own = _own_grid(crs)
    found = None if own is None else _laid(own, lon_deg, lat_deg)
    zone = utm_zone(lon_deg, lat_deg)
    if own is None or found is None:
        if zone is None:
            return ""
        own = pyproj.CRS.from_epsg((32600 if lat_deg >= 0.0 else 32700) + zone[0])
        found = _laid(own, lon_deg, lat_deg)
        if found is None:
            return ""
    east, north, shift_sd_m = found
    sd_m = math.hypot(sd_m, shift_sd_m)
    unit_m = own.axis_info[0].unit_conversion_factor
    unit = "m" if unit_m == 1.0 else "ft"
    told_zone = own.utm_zone
    number = int(told_zone[:-1]) if told_zone else None
    square = grid_square(east, north, number, own.to_epsg() or 0) if unit == "m" else ""
    told_east, _ = round_to_doubt(east, sd_m / unit_m)
    told_north, doubt = round_to_doubt(north, sd_m / unit_m)
    name = own.name
    if number is not None and zone is not None:
        name = f"UTM {number}{zone[1]}, {own.geodetic_crs.name}"  # type: ignore[union-attr]
    letters = f"square {square}: " if square else ""
    return (
        f"{letters}{told_east} E, {told_north} N, give or take {doubt} {unit} ({name})"
    )


def _laid(
    grid: pyproj.CRS, lon_deg: float, lat_deg: float
) -> tuple[float, float, float] | None:
    """Return a place on a grid and how far off its datum may put it [m]."""
    try:
        shift = find_datum_shift(grid.to_string(), lon_deg, lat_deg)
    except InputError:
        return None
    at = shift.transformer.transform(np.array([lon_deg]), np.array([lat_deg]))
    east, north = (float(part[0]) for part in at)
    if not math.isfinite(east + north):
        return None
    return east, north, float(np.nan_to_num(shift.accuracy_m))


def _own_grid(crs: str) -> pyproj.CRS | None:
    """Return a grid that a map of the country may have; None if it is none."""
    if not crs:
        return None
    try:
        own = pyproj.CRS(crs)
    except CRSError:
        return None
    horizontal = own.sub_crs_list[0] if own.is_compound else own
    if not horizontal.is_projected or horizontal.to_epsg() is None:
        return None
    ways = [axis.direction for axis in horizontal.axis_info[:2]]
    operation = horizontal.coordinate_operation
    unit_m = horizontal.axis_info[0].unit_conversion_factor
    if unit_m != 1.0 and not 0.3 < unit_m < 0.31:
        return None
    if sorted(ways) != ["east", "north"] or operation is None:
        return None
    return None if operation.method_name == _OF_NO_PLACE else horizontal
