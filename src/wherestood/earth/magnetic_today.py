"""Tell where a compass points today, by the World Magnetic Model.

The model holds for five years and is not asked beyond: no bearing beats a wrong one.
"""

from __future__ import annotations

from datetime import date
from functools import cache

from pygeomag import GeoMag

from wherestood.earth.magnetic_north import Declination
from wherestood.errors import InputError

__all__ = ["FIRST_DAY", "LAST_DAY", "declination_today"]

#: Days that WMM2025 holds for.
FIRST_DAY, LAST_DAY = date(2025, 1, 1), date(2029, 12, 31)
#: Nearer to a magnetic pole than this the model's makers warn of compasses [nT].
_LEAST_NT = 2000.0


def declination_today(
    lon_deg: float, lat_deg: float, day: date, height_m: float = 0.0
) -> Declination:
    """Return where a compass points at a place on a day.

    Parameters
    ----------
    lon_deg, lat_deg : float
        The place, WGS 84 [deg].
    day : date
        The day.
    height_m : float
        Above the ellipsoid; a few hundred metres change nothing [m].

    Raises
    ------
    InputError
        If the model does not hold for the day, or a compass is of no use there.

    Notes
    -----
    WMM2025 by ``pygeomag``, its standard error by the model's own error model.

    References
    ----------
    NOAA and British Geological Survey, "The US/UK World Magnetic Model for 2025-2030"
    (2024), from memory.
    """
    if not FIRST_DAY <= day <= LAST_DAY:
        raise InputError(
            f"The World Magnetic Model of 2025 holds from {FIRST_DAY} to {LAST_DAY}, "
            f"not for {day}.",
            "Use the true bearing, or a compass's own tables.",
        )
    length = (date(day.year + 1, 1, 1) - date(day.year, 1, 1)).days
    year = day.year + (day - date(day.year, 1, 1)).days / length
    found = _model().calculate(
        glat=lat_deg, glon=lon_deg, alt=height_m / 1000.0, time=year
    )
    if found.h < _LEAST_NT:
        raise InputError(
            f"At {lat_deg:.2f}, {lon_deg:.2f} the magnetic pole is so near that a "
            "compass tells no direction.",
            "Use true bearings there.",
        )
    sd = float(found.calculate_uncertainty().d)
    return Declination(float(found.d), sd, f"WMM2025 of {day}")


@cache
def _model() -> GeoMag:
    return GeoMag(coefficients_file="wmm/WMM_2025.COF")
