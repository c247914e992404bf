"""Settle the coordinate reference system of a raster."""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass
from pathlib import Path

import pyproj
from pyproj.exceptions import CRSError, ProjError

from wherestood.earth.datum import DatumShift, find_datum_shift
from wherestood.errors import InputError, TerrainError
from wherestood.terrain.intake import ElevationFile
from wherestood.terrain.units import vertical_part

__all__ = ["HorizontalReference", "crs_from_sidecar", "settle_reference", "sidecar_of"]

# A shift published as good to 5 m, or to 0.3 of a cell, hides in the tracing.
_ACCURACY_NEEDED_M = 5.0
_ACCURACY_NEEDED_CELLS = 0.3

_WGS84_LIKE_AXIS_M = 6_378_137.0
_WGS84_LIKE_FLATTENING = 298.2572


@dataclass(frozen=True)
class HorizontalReference:
    """Hold the horizontal reference of a raster and the way to it.

    Attributes
    ----------
    crs : str
        Two-dimensional CRS, an authority code where there is one, or WKT.
    shift : DatumShift
        The way from WGS 84 to it.
    vertical_datum : str
        Name of the vertical datum, ``"unknown"`` where the file does not say.
    notes : tuple of str
        What was assumed, in plain words.
    """

    crs: str
    shift: DatumShift
    vertical_datum: str
    notes: tuple[str, ...]


def sidecar_of(file: ElevationFile) -> Path:
    """Return the file that names the CRS of a raster which does not."""
    path = file.checksum_path
    if path.suffix.lower() == ".adf":
        return path.with_name("prj.adf")
    return path.with_suffix(".prj")


def crs_from_sidecar(file: ElevationFile) -> pyproj.CRS | None:
    """Read the CRS from the file beside a raster that names none."""
    path = sidecar_of(file)
    if not path.is_file() or path.stat().st_size > 1_000_000:
        return None
    text = path.read_text(encoding="utf-8", errors="replace").strip()
    try:
        return pyproj.CRS.from_user_input(text)
    except CRSError:
        return None


def settle_reference(
    name: str, crs: pyproj.CRS, place_deg: tuple[float, float], cell_m: float
) -> HorizontalReference:
    """Find the published way from WGS 84 to the CRS of a raster.

    Parameters
    ----------
    name : str
        Name of the file, for messages.
    crs : pyproj.CRS
        The raster's whole CRS.
    place_deg : (lon, lat)
        Where it will be used [deg].
    cell_m : float
        Cell size [m].

    Returns
    -------
    HorizontalReference
        The reference.

    Raises
    ------
    TerrainError
        If no published datum shift is at hand, or only a coarse one.
    """
    flat, notes = _named_datum(_horizontal_part(crs))
    text = _authority_code(flat) or flat.to_wkt()
    try:
        shift = find_datum_shift(text, *place_deg)
    except (InputError, ProjError) as error:
        problem = error.problem if isinstance(error, InputError) else str(error)
        remedy = error.remedy if isinstance(error, InputError) else ""
        raise TerrainError(f"{name}: {problem}", remedy) from error
    notes += _judge_shift(name, flat, shift, cell_m)
    return HorizontalReference(text, shift, _vertical_datum(crs), notes)


def _judge_shift(
    name: str, crs: pyproj.CRS, shift: DatumShift, cell_m: float
) -> tuple[str, ...]:
    needed_m = max(_ACCURACY_NEEDED_M, _ACCURACY_NEEDED_CELLS * cell_m)
    if math.isnan(shift.accuracy_m):
        return (f"Warning: datum shift of unstated accuracy ({shift.name})",)
    if shift.accuracy_m > needed_m:
        grids = " or ".join(shift.missing_grids) or "a better transformation"
        raise TerrainError(
            f"{name}: the best datum shift at hand for {crs.name!r} is only good to "
            f"{shift.accuracy_m:g} m, and at most {needed_m:.0f} m is needed.",
            f"Install {grids} (`pyproj sync --file NAME`), or bring the data to a "
            "WGS 84 based system first.",
        )
    if shift.accuracy_m > 0.0 and shift.missing_grids:
        return (
            f"datum shift good to {shift.accuracy_m:g} m ({shift.name}); "
            f"a better one needs {shift.missing_grids[0]}",
        )
    if shift.accuracy_m > 0.0:
        return (f"datum shift good to {shift.accuracy_m:g} m",)
    return ()


def _horizontal_part(crs: pyproj.CRS) -> pyproj.CRS:
    for part in crs.sub_crs_list:
        if part.is_projected or part.is_geographic:
            return _horizontal_part(part)
    return crs.to_2d()


def _authority_code(crs: pyproj.CRS) -> str | None:
    authority = crs.to_authority(min_confidence=100)
    return None if authority is None else ":".join(authority)


def _named_datum(crs: pyproj.CRS) -> tuple[pyproj.CRS, tuple[str, ...]]:
    """Take an unnamed datum on the WGS 84 or GRS 80 ellipsoid as WGS 84."""
    datum, ellipsoid = crs.datum, crs.ellipsoid
    if datum is None or ellipsoid is None or crs.is_bound:
        return crs, ()
    unnamed = any(w in datum.name.lower() for w in ("unknown", "unnamed", "based on"))
    alike = (
        abs(ellipsoid.semi_major_metre - _WGS84_LIKE_AXIS_M) < 0.01
        and abs(ellipsoid.inverse_flattening - _WGS84_LIKE_FLATTENING) < 0.001
    )
    if not (unnamed and alike):
        return crs, ()
    with warnings.catch_warnings():
        # Losing the CRS's name and remarks on the way is meant.
        warnings.simplefilter("ignore", UserWarning)
        terms = crs.to_dict()
    terms = {k: v for k, v in terms.items() if k not in ("ellps", "a", "rf", "b")}
    note = f"datum not named, only its ellipsoid {ellipsoid.name}; taken as WGS 84"
    return pyproj.CRS.from_dict({**terms, "datum": "WGS84"}), (note,)


def _vertical_datum(crs: pyproj.CRS) -> str:
    vertical = vertical_part(crs)
    if vertical is not None:
        return str(vertical.name)
    if crs.is_geographic and len(crs.axis_info) == 3:
        return f"ellipsoid of {crs.name}"
    return "unknown"
