"""Tell the unit of heights from what a raster says about itself."""

from __future__ import annotations

import re
from dataclasses import dataclass

import pyproj

__all__ = ["HeightUnit", "height_unit", "vertical_part"]

_FOOT_M = 0.3048
_US_SURVEY_FOOT_M = 1200.0 / 3937.0

_METRES_BY_NAME = {
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), 1.0),
    **dict.fromkeys(("ft", "foot", "feet", "international foot"), _FOOT_M),
    **dict.fromkeys(
        ("us survey foot", "us survey feet", "us-ft", "ft-us", "ftus", "us foot"),
        _US_SURVEY_FOOT_M,
    ),
    **dict.fromkeys(("dm", "decimetre", "decimeter"), 0.1),
    **dict.fromkeys(("cm", "centimetre", "centimeter"), 0.01),
    **dict.fromkeys(("mm", "millimetre", "millimeter"), 0.001),
}
_FEET_WORD = re.compile(r"\b(ft|foot|feet)\b", re.IGNORECASE)


@dataclass(frozen=True)
class HeightUnit:
    """Hold the unit of heights.

    Attributes
    ----------
    metres : float
        Metres in one unit [m].
    note : str
        What the unit was taken from, in plain words.
    """

    metres: float
    note: str


def height_unit(
    band_unit: str | None, band_description: str | None, crs: pyproj.CRS
) -> HeightUnit:
    """Tell the unit of heights of a raster.

    What the band itself says comes first, then the vertical part of the CRS,
    then the band's description. Where all are silent it is metres, and said so.

    Parameters
    ----------
    band_unit, band_description : str or None
        Unit and description tags of the band.
    crs : pyproj.CRS
        The raster's whole CRS, with its vertical part if it has one.

    Returns
    -------
    HeightUnit
        The unit and where it comes from.
    """
    named = (band_unit or "").strip()
    if named:
        metres = _METRES_BY_NAME.get(re.sub(r"[\s_]+", " ", named.lower()))
        if metres is not None:
            return HeightUnit(metres, f"heights in {named}, as the file says")
    by_crs = _height_axis_unit(crs)
    if by_crs is not None:
        return by_crs
    if _FEET_WORD.search(band_description or ""):
        return HeightUnit(
            _FOOT_M, f"heights in feet, by the label {band_description!r}"
        )
    if named:
        return HeightUnit(
            1.0, f"Warning: unknown height unit {named!r}; heights taken as metres"
        )
    if crs.is_projected and not _is_metric(crs):
        return HeightUnit(
            1.0,
            "Warning: height unit not stated and the grid is laid out in "
            f"{crs.axis_info[0].unit_name}; heights taken as metres, they may be feet",
        )
    return HeightUnit(1.0, "height unit not stated; heights taken as metres")


def vertical_part(crs: pyproj.CRS) -> pyproj.CRS | None:
    """Return the vertical part of a compound CRS, None where there is none."""
    for part in crs.sub_crs_list:
        if part.is_vertical:
            return part
    return None


def _height_axis_unit(crs: pyproj.CRS) -> HeightUnit | None:
    vertical = vertical_part(crs)
    if vertical is not None:
        axis = vertical.axis_info[-1]
    elif len(crs.axis_info) == 3:
        axis = crs.axis_info[2]
    else:
        return None
    return HeightUnit(
        float(axis.unit_conversion_factor),
        f"heights in {axis.unit_name}, by the file's coordinate system",
    )


def _is_metric(crs: pyproj.CRS) -> bool:
    return bool(abs(crs.axis_info[0].unit_conversion_factor - 1.0) < 1e-9)
