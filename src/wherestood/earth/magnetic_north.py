"""Tell where a compass pointed in a past year."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import ppigrf

from wherestood.errors import InputError

__all__ = ["FIRST_YEAR", "LAST_YEAR", "Declination", "declination"]

#: Years that the model knows.
FIRST_YEAR, LAST_YEAR = 1900.0, 2030.0
#: Standard error of a declination, as of the World Magnetic Model's error model: a
#: constant, and one over the horizontal intensity (from memory: 0.26 deg, 5417 nT deg).
#: It stands for the crust, which no model of the core holds, so it serves all years.
_SD_DEG, _SD_NT_DEG = 0.26, 5417.0
#: Nearer to a magnetic pole than this a compass is of no use [nT].
_LEAST_NT = 2000.0


@dataclass(frozen=True)
class Declination:
    """Hold where a compass pointed.

    Attributes
    ----------
    east_deg : float
        Bearing of magnetic north from true north, east positive [deg].
    sd_deg : float
        Its standard error; iron near the compass is not in it [deg].
    source : str
        What it comes from.
    """

    east_deg: float
    sd_deg: float
    source: str


def declination(lon_deg: float, lat_deg: float, year: float) -> Declination:
    """Return where a compass pointed at a place in a year.

    Parameters
    ----------
    lon_deg, lat_deg : float
        The place, WGS 84 [deg].
    year : float
        The year and its part; 1871.5 is the middle of 1871.

    Raises
    ------
    InputError
        If the model does not reach the year, or a compass is of no use there.

    Notes
    -----
    The International Geomagnetic Reference Field by ``ppigrf``, at sea level. Before
    1900 nothing is guessed: who has the value that stands on the plan, or one of a
    historical model, gives it with its doubt.

    References
    ----------
    P. Alken et al., "International Geomagnetic Reference Field: the thirteenth
    generation", Earth, Planets and Space 73 (2021) 49; from memory.
    """
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise InputError(
            f"The model of magnetic north reaches from {FIRST_YEAR:.0f} to "
            f"{LAST_YEAR:.0f}, not to {year:g}.",
            "Give the declination that stands on the plan, or in a table of its "
            "year, with how far off it may be.",
        )
    whole = int(min(year, LAST_YEAR - 1e-9))
    begins = datetime(whole, 1, 1)
    length = datetime(whole + 1, 1, 1) - begins
    moment = begins + timedelta(seconds=length.total_seconds() * (year - whole))
    east, north, _ = (
        float(np.ravel(one)[0]) for one in ppigrf.igrf(lon_deg, lat_deg, 0.0, moment)
    )
    level = float(np.hypot(east, north))
    if level < _LEAST_NT:
        raise InputError(
            f"At {lat_deg:.2f}, {lon_deg:.2f} the magnetic pole was so near in "
            f"{year:g} that a compass told no direction.",
            "Use true bearings there.",
        )
    return Declination(
        float(np.degrees(np.arctan2(east, north))),
        float(np.hypot(_SD_DEG, _SD_NT_DEG / level)),
        f"IGRF-14 of {year:g}",
    )
