"""Say where the sun stands at an instant, by NREL's solar position algorithm.

SOURCE: I. Reda and A. Andreas, "Solar position algorithm for solar radiation
applications", Solar Energy 76(5), 2004, 577-589; NREL/TP-560-34302, revised January
2008. The algorithm is that of the package ``pvlib``; stated uncertainty 0.0003 deg.
"""

from __future__ import annotations

import importlib.util
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import ModuleType

import numpy as np
from numpy.typing import NDArray

__all__ = ["SunPlace", "seconds_of_day", "sun_at"]

Array = NDArray[np.float64]

#: Air at the sea in the standard atmosphere, and how it thins upwards (ISO 2533).
SEA_MBAR, THINNING_A_M, THINNING_POWER = 1013.25, 2.25577e-5, 5.25588
#: Temperature [deg C] and refraction at the horizon [deg] taken; each matters only
#: within some degrees of it.
AIR_C, HORIZON_REFRACTION_DEG = 10.0, 0.5667
DAY_S = 86_400.0


@dataclass(frozen=True)
class SunPlace:
    """Hold where the sun is seen.

    Attributes
    ----------
    bearing_rad : NDArray[np.float64]
        (instants,) true bearing, clockwise from north [rad].
    elevation_rad : NDArray[np.float64]
        (instants,) above the horizontal, lifted by refraction [rad].
    equation_of_time_s : NDArray[np.float64]
        (instants,) time by the sun less mean time [s].
    """

    bearing_rad: Array
    elevation_rad: Array
    equation_of_time_s: Array


def sun_at(
    when_s: Array,
    lon_deg: float,
    lat_deg: float,
    height_m: float = 0.0,
    *,
    pressure_mbar: float | None = None,
    air_c: float = AIR_C,
    delta_t_s: float | None = None,
) -> SunPlace:
    """Return where the sun is seen.

    Parameters
    ----------
    when_s : NDArray[np.float64]
        (instants,) seconds since 1970-01-01 0 h universal time, below 0 before [s].
    lon_deg, lat_deg : float
        Where, WGS 84 [deg].
    height_m : float
        Height above the sea [m].
    pressure_mbar, air_c : float, optional
        Pressure of the air, else the standard atmosphere's at that height; its
        temperature.
    delta_t_s : float, optional
        Terrestrial less universal time; else that of the middle instant's year, some
        seconds in 1850 to 1900.

    Returns
    -------
    SunPlace

    Notes
    -----
    100 000 instants take some 0.7 s of one core.
    """
    when = np.atleast_1d(np.asarray(when_s, dtype=np.float64))
    spa = _algorithm()
    if delta_t_s is None:
        middle = float(when.mean()) if when.size else 0.0
        year = 1970.0 + middle / (365.2425 * DAY_S)
        delta_t_s = float(spa.calculate_deltat(int(year), 1 + int(12 * (year % 1.0))))
    if pressure_mbar is None:
        thinned = max(0.0, 1.0 - THINNING_A_M * height_m)
        pressure_mbar = SEA_MBAR * thinned**THINNING_POWER
    told = spa.solar_position(
        when, lat_deg, lon_deg, height_m, pressure_mbar, air_c, delta_t_s,
        HORIZON_REFRACTION_DEG,
    )  # fmt: skip
    return SunPlace(np.radians(told[4]), np.radians(told[2]), 60.0 * told[5])


def seconds_of_day(year: int, month: int, day: int) -> float:
    """Return seconds since 1970 of 0 h universal time of a Gregorian day [s].

    Examples
    --------
    >>> seconds_of_day(1871, 1, 1) < 0.0 == seconds_of_day(1970, 1, 1)
    True
    """
    days = np.datetime64(f"{year:04d}-{month:02d}-{day:02d}") - np.datetime64(
        "1970-01-01"
    )
    return float(days / np.timedelta64(1, "s"))


@cache
def _algorithm() -> ModuleType:
    """Load the algorithm's file alone.

    The package around it reads tables and weather from the web when imported, and wants
    what that needs; the algorithm needs numpy.
    """
    package = importlib.util.find_spec("pvlib")
    assert package is not None
    assert package.submodule_search_locations is not None
    file = Path(package.submodule_search_locations[0]) / "spa.py"
    found = importlib.util.spec_from_file_location("_wherestood_spa", file)
    assert found is not None
    assert found.loader is not None
    module = importlib.util.module_from_spec(found)
    found.loader.exec_module(module)
    return module
