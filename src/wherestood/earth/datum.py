"""Find the published transformation between WGS 84 and another datum.

PROJ answers every request: where no transformation is published, or its grid
file is not installed, it may fall back on a "ballpark" one that ignores the
datums, silently losing 100 to 300 m. Such a fallback is never accepted here.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass

import pyproj
from pyproj.aoi import AreaOfInterest
from pyproj.transformer import TransformerGroup

from wherestood.errors import InputError

__all__ = ["DatumShift", "find_datum_shift"]

# Wide enough to hold a horizon, small enough to pick the local transformation.
_AREA_HALF_SIDE_DEG = 0.25


@dataclass(frozen=True)
class DatumShift:
    """Hold the transformation chosen between WGS 84 and a CRS.

    Attributes
    ----------
    transformer : pyproj.Transformer
        From WGS 84 longitude, latitude [deg] to the CRS, axis order east, north.
    name : str
        Name of the operation in the EPSG register.
    accuracy_m : float
        Published accuracy [m]; NaN where the register gives none.
    missing_grids : tuple of str
        File names of grids that a better operation needs but PROJ does not have.
    """

    transformer: pyproj.Transformer
    name: str
    accuracy_m: float
    missing_grids: tuple[str, ...]


def find_datum_shift(crs: str, lon_deg: float, lat_deg: float) -> DatumShift:
    """Find the best published transformation from WGS 84 to a CRS at a place.

    Parameters
    ----------
    crs : str
        Anything that names a CRS to PROJ.
    lon_deg, lat_deg : float
        The place, WGS 84 [deg].

    Returns
    -------
    DatumShift
        Best of the operations whose grids are installed.

    Raises
    ------
    InputError
        If nothing but a ballpark transformation exists there.
    """
    group = _group(crs, lon_deg, lat_deg)
    missing = tuple(
        dict.fromkeys(
            grid.short_name
            for operation in group.unavailable_operations
            for grid in operation.grids
            if not grid.available
        )
    )
    if not group.transformers:
        raise InputError(*_nothing_published(crs, lon_deg, lat_deg, missing))
    best = group.transformers[0]
    accuracy = float("nan") if best.accuracy < 0 else float(best.accuracy)
    return DatumShift(best, _plain_name(best.description), accuracy, missing)


def _plain_name(description: str) -> str:
    """Leave out the steps that only put axes in order."""
    steps = description.split(" + ")
    return " + ".join(step for step in steps if not step.startswith("axis order"))


def _group(crs: str, lon_deg: float, lat_deg: float) -> TransformerGroup:
    half = _AREA_HALF_SIDE_DEG
    area = AreaOfInterest(
        max(lon_deg - half, -180.0),
        max(lat_deg - half, -90.0),
        min(lon_deg + half, 180.0),
        min(lat_deg + half, 90.0),
    )
    with warnings.catch_warnings():
        # A missing grid is reported in the result instead.
        warnings.simplefilter("ignore", UserWarning)
        return TransformerGroup(
            4326,
            crs,
            always_xy=True,
            # pyproj's stub names a private twin of the public class.
            area_of_interest=area,  # type: ignore[arg-type]
            allow_ballpark=False,
        )


def _nothing_published(
    crs: str, lon_deg: float, lat_deg: float, missing: tuple[str, ...]
) -> tuple[str, str]:
    name = pyproj.CRS(crs).name
    problem = (
        f"No published transformation leads from WGS 84 to {name!r} "
        f"near {lat_deg:.3f}, {lon_deg:.3f}"
    )
    if missing:
        return (
            f"{problem} without the grid {missing[0]}.",
            "Install it with `pyproj sync --file "
            f"{missing[0]}`, or bring the data to a WGS 84 based system first.",
        )
    return (
        f"{problem}; an unstated datum could be out by 100 to 300 m.",
        "Give the data a coordinate system that names its datum.",
    )
