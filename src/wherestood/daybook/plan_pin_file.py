"""Read pins of a plan from a table, each placed in one of four ways."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pyproj
from pyproj.exceptions import CRSError
from sqlalchemy.orm import Session

from wherestood.daybook.keys import find
from wherestood.daybook.plan_pins import pinned_plan
from wherestood.daybook.sheets import SheetRow, read_sheet
from wherestood.daybook.tables import Feature, Plan
from wherestood.earth.datum import find_datum_shift
from wherestood.errors import PlanError

__all__ = ["PIN_COLUMNS", "read_pins"]

PIN_COLUMNS = (
    "name", "x_px", "y_px", "lon_deg", "lat_deg", "east", "north", "feature", "onto",
    "onto_x_px", "onto_y_px", "sd_px", "sd_m",
)  # fmt: skip
_WAYS = (
    "Give each pin x_px and y_px, and lon_deg and lat_deg; or east and north (with "
    "--crs); or feature, a point of the daybook; or onto, onto_x_px and onto_y_px, a "
    "place of another pinned plan."
)


def read_pins(
    session: Session, path: Path, *, crs: str | None = None
) -> list[dict[str, Any]]:
    """Return pins as `wherestood.daybook.plan_pins.pins_as_kept` takes them.

    Parameters
    ----------
    session : Session
        Where features and other plans are found.
    path : Path
        CSV or XLSX with columns of `PIN_COLUMNS`.
    crs : str, optional
        Reference system of ``east`` and ``north``, an old one too: ``EPSG:27200``.

    Raises
    ------
    PlanError
        If a pin is not placed, or not in one way alone.

    Notes
    -----
    A pin put onto a feature or another plan takes their standard error along, unless
    it says its own; that of an old datum is added.
    """
    sheet = read_sheet(path)
    if unknown := set(sheet.columns) - set(PIN_COLUMNS):
        raise PlanError(
            f"The file of pins {path.name!r} has a column {sorted(unknown)[0]!r}.",
            _WAYS,
        )
    if not sheet.rows:
        raise PlanError(f"The file of pins {path.name!r} holds none.", _WAYS)
    pins = []
    for number, row in enumerate(sheet.rows, 1):
        said = {k: v.strip() for k, v in row.values.items() if v and v.strip()}
        pin: dict[str, Any] = {"name": said.get("name", str(number))}
        for field in ("x_px", "y_px"):
            pin[field] = _number(said, field, row, path)
        pin |= _placed(session, said, row, path, crs)
        for field in ("sd_px", "sd_m"):
            if field in said:
                pin[field] = _number(said, field, row, path)
        pins.append(pin)
    return pins


def _number(said: dict[str, str], field: str, row: SheetRow, path: Path) -> float:
    try:
        return float(said[field].replace(",", "."))
    except (KeyError, ValueError) as error:
        raise PlanError(
            f"Row {row.number} of {path.name!r} has no number for {field}: "
            f"{said.get(field, '')!r}.",
            _WAYS,
        ) from error


def _placed(
    session: Session, said: dict[str, str], row: SheetRow, path: Path, crs: str | None
) -> dict[str, Any]:
    """Return where a pin is on the ground, and what doubt came along."""
    ways = [
        way
        for way, column in (
            ("lonlat", "lon_deg"), ("grid", "east"), ("feature", "feature"),
            ("onto", "onto"),
        )
        if column in said
    ]  # fmt: skip
    if len(ways) != 1:
        how = "in more ways than one" if ways else "nowhere on the ground"
        raise PlanError(f"Row {row.number} of {path.name!r} is placed {how}.", _WAYS)
    if ways == ["lonlat"]:
        lon, lat = (_number(said, one, row, path) for one in ("lon_deg", "lat_deg"))
        return {"lon_deg": lon, "lat_deg": lat}
    if ways == ["grid"]:
        east, north = (_number(said, one, row, path) for one in ("east", "north"))
        return _from_grid(east, north, crs, path)
    if ways == ["feature"]:
        return _on_feature(session, said["feature"], row, path)
    at = [_number(said, one, row, path) for one in ("onto_x_px", "onto_y_px")]
    pinned = pinned_plan(find(session, Plan, said["onto"]))
    ground = pinned.pinning.to_ground([at])
    lon, lat = (float(v[0]) for v in pinned.frame.to_lonlat(*ground.T))
    return {"lon_deg": lon, "lat_deg": lat, "sd_m": float(pinned.pinning.sd_m([at])[0])}


def _from_grid(
    east: float, north: float, crs: str | None, path: Path
) -> dict[str, Any]:
    """Return the place of a grid's numbers by a published transformation."""
    if crs is None:
        raise PlanError(
            f"The numbers of {path.name!r} lie in a grid that is not named.",
            "Name it, as in --crs EPSG:27200.",
        )
    try:
        rough = pyproj.Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
    except CRSError as error:
        raise PlanError(
            f"The reference system {crs!r} is not known.",
            "Name it as in EPSG:27200.",
        ) from error
    lon, lat = rough.transform(east, north)
    if not np.all(np.isfinite([lon, lat])):
        raise PlanError(
            f"East {east:g} and north {north:g} are no place of {crs}.",
            "Check the grid, and which number comes first.",
        )
    shift = find_datum_shift(crs, float(lon), float(lat))
    lon, lat = shift.transformer.transform(east, north, direction="INVERSE")
    told = {"lon_deg": float(lon), "lat_deg": float(lat)}
    if np.isfinite(shift.accuracy_m) and shift.accuracy_m > 0.0:
        told["sd_m"] = max(float(shift.accuracy_m), 2.0)
    return told


def _on_feature(
    session: Session, key: str, row: SheetRow, path: Path
) -> dict[str, Any]:
    feature = find(session, Feature, key)
    geometry = feature.geometry or {}
    if geometry.get("type") != "Point":
        raise PlanError(
            f"Row {row.number} of {path.name!r} is pinned to {key!r}, which is no "
            "point.",
            "Pin it to a point, or give longitude and latitude.",
        )
    lon, lat = geometry["coordinates"][:2]
    told = {"lon_deg": float(lon), "lat_deg": float(lat)}
    if feature.sd_m:
        told["sd_m"] = feature.sd_m
    return told
