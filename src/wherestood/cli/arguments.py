"""Read what a person typed after an option."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import cast, get_args

from wherestood.errors import InputError, LensError
from wherestood.fix.result import Proposed
from wherestood.fix.settings import Footing

__all__ = [
    "FootingChoice",
    "PrincipalDistance",
    "read_footing",
    "read_lonlat",
    "read_point",
    "read_principal_distance",
    "read_proposed",
]

# Where only a length is given: makers engraved lenses to the nearest few per cent.
# Common practice.
USUAL_LENS_DOUBT = 0.03
_NUMBER = r"(\d+(?:\.\d*)?|\.\d+)"
_LENS_LIMITS = re.compile(rf"^\s*{_NUMBER}\s*\.\.\s*{_NUMBER}\s*(?:mm)?\s*$")
_LENS = re.compile(rf"^\s*{_NUMBER}\s*(?:(?:\+-|\+/-|±)\s*{_NUMBER})?\s*(?:mm)?\s*$")
_FOOTING = re.compile(
    rf"^([a-z -]+?)(?::\s*{_NUMBER}\s*m?(?:\s*(?:\+-|\+/-|±)\s*{_NUMBER}\s*m?)?)?$"
)
_PAIR = re.compile(r"^\s*([-+]?[\d.]+)\s*,\s*([-+]?[\d.]+)\s*$")
_SIGNED = r"([-+]?(?:\d+\.?\d*|\.\d+))"
_PROPOSED = re.compile(
    rf"^\s*{_SIGNED}\s*,\s*{_SIGNED}(?:\s*,\s*{_SIGNED})?"
    r"(?:\s+([^:]*[^:\s])\s*(?::\s*(.*))?)?\s*$"
)


@dataclass(frozen=True)
class PrincipalDistance:
    """Hold lens to plate and its standard deviation, or its limits [mm]."""

    mean_mm: float | None = None
    sd_mm: float | None = None
    least_mm: float | None = None
    most_mm: float | None = None


@dataclass(frozen=True)
class FootingChoice:
    """Hold what the camera stood on, and the lens's height where given [m]."""

    footing: Footing
    height_m: float | None = None
    height_sd_m: float | None = None


def read_principal_distance(text: str) -> PrincipalDistance:
    """Read lens to plate as ``296``, ``296.0+-4.4`` or ``200..320`` [mm].

    Raises
    ------
    LensError
        If it is not a length above zero.
    """
    limits = _LENS_LIMITS.match(text)
    if limits is not None:
        return PrincipalDistance(
            least_mm=float(limits.group(1)), most_mm=float(limits.group(2))
        )
    found = _LENS.match(text)
    if found is None:
        raise LensError(
            f"The principal distance {text!r} cannot be read.",
            "Give millimetres and their doubt, as in 296.0+-4.4, or limits, as in "
            "200..320.",
        )
    mean_mm = float(found.group(1))
    sd_mm = float(found.group(2)) if found.group(2) else USUAL_LENS_DOUBT * mean_mm
    if mean_mm <= 0 or sd_mm <= 0:
        raise LensError(
            f"The principal distance {text!r} and its doubt must both be above 0 mm.",
            "Give millimetres and their doubt, as in 296.0+-4.4.",
        )
    return PrincipalDistance(mean_mm, sd_mm)


def read_footing(text: str) -> FootingChoice:
    """Read ``tripod``, ``roof``, ``roof:9m`` or ``ship:6m+-1m``.

    Raises
    ------
    InputError
        If it is not one of the known footings.
    """
    known = get_args(Footing)
    found = _FOOTING.match(text.strip().lower())
    name = found.group(1).replace("-", " ").strip() if found else ""
    if found is None or name not in known:
        raise InputError(
            f"The footing {text!r} is not known.",
            f"Choose one of: {', '.join(known)}; a height may follow, as in roof:9m.",
        )
    height, sd = (float(part) if part else None for part in found.groups()[1:])
    return FootingChoice(cast(Footing, name), height, sd)


def read_lonlat(text: str) -> tuple[float, float]:
    """Read ``LON,LAT`` in degrees.

    Raises
    ------
    InputError
        If it is not two numbers within the world.
    """
    lon_deg, lat_deg = _pair(text, "place", "longitude and latitude", "8.5,46.1")
    if abs(lon_deg) > 360 or abs(lat_deg) > 90:
        raise InputError(
            f"The place {text.strip()!r} is not on the earth: longitude up to 360 and "
            "latitude up to 90 degrees were expected.",
            "Give longitude first, as in 8.5,46.1.",
        )
    return lon_deg, lat_deg


def read_point(text: str) -> tuple[float, float]:
    """Read ``X,Y`` on the scan [px]."""
    return _pair(text, "point", "x and y in pixels", "1200,340")


def _pair(text: str, name: str, expected: str, example: str) -> tuple[float, float]:
    found = _PAIR.match(text)
    try:
        if found is not None:
            return float(found.group(1)), float(found.group(2))
    except ValueError:
        pass
    raise InputError(
        f"The {name} {text.strip()!r} cannot be read; {expected} were expected.",
        f"Write it as {example}.",
    )


def read_proposed(text: str, number: int = 1) -> Proposed:
    """Read a proposed position: longitude, latitude, and what else is said of it.

    Parameters
    ----------
    text : str
        ``LON,LAT``, then if wanted ``,BEARING``, and after a space whose answer it is
        or what the place is called, and after a colon why.
    number : int
        Which of several it is: its name where it has none.

    Raises
    ------
    InputError
        If it cannot be one.
    """
    found = _PROPOSED.match(text)
    if found is None:
        raise InputError(
            f"A proposed position was given as {text.strip()!r}.",
            "Give longitude, latitude and, if wanted, a true bearing in degrees, whose "
            "answer it is and why, as in '8.5121,46.1037,215 the sexton: as his "
            "father told him'.",
        )
    lon, lat, bearing, name, reason = found.groups()
    return Proposed(
        (name or f"proposed {number}").strip(),
        float(lon),
        float(lat),
        bearing_deg=float(bearing) if bearing else None,
        reason=(reason or "").strip(),
    )
