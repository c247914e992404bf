"""Publish the cameras that a fix leaves possible, and read them again."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from wherestood.earth.frame import Frame
from wherestood.fix.camera_draws import CameraDraws
from wherestood.record.camera_json import LONLAT_DECIMALS

__all__ = ["draws_form", "read_draws"]

Array = NDArray[np.float64]
#: What is published of each camera beside its place and bearing: the name outside, the
#: name inside, what the one is of the other, and decimals.
_COLUMNS = (
    ("height_m", "lens_m", 1.0, 2),
    ("tilt_deg", "tilt_rad", 180.0 / np.pi, 5),
    ("roll_deg", "roll_rad", 180.0 / np.pi, 5),
    ("principal_distance_px", "principal_distance_px", 1.0, 2),
    ("rise_px", "rise_px", 1.0, 2),
    ("cross_px", "cross_px", 1.0, 2),
    ("k1", "k1", 1.0, 6),
    ("vertical_scale", "vertical_scale", 1.0, 6),
    ("warp_two_px", "warp_two_px", 1.0, 3),
    ("warp_three_px", "warp_three_px", 1.0, 3),
)


def draws_form(draws: CameraDraws, frame: Frame) -> dict[str, Any]:
    """Return drawn cameras in columns; bearings true, places in WGS 84."""
    lon_deg, lat_deg = frame.to_lonlat(draws.east_m, draws.north_m)
    bearing_deg = np.degrees(draws.bearing_rad) + _turns_deg(frame, lon_deg, lat_deg)
    form: dict[str, Any] = {
        "lon": _column(lon_deg, LONLAT_DECIMALS),
        "lat": _column(lat_deg, LONLAT_DECIMALS),
        "bearing_deg": _column(bearing_deg % 360.0, 5),
    }
    for outside, inside, factor, decimals in _COLUMNS:
        form[outside] = _column(getattr(draws, inside) * factor, decimals)
    form["reversed"] = [bool(turned) for turned in draws.reversed]
    return form


def read_draws(form: dict[str, Any], frame: Frame) -> CameraDraws:
    """Return the cameras of a published form, in a frame.

    Parameters
    ----------
    form : dict
        As `draws_form` makes it, and the schema of a fix checks it.
    frame : Frame
        Of the terrain that they are to look at; it need not be the search's own.
    """
    lon_deg, lat_deg = np.array(form["lon"]), np.array(form["lat"])
    east_m, north_m = frame.from_lonlat(lon_deg, lat_deg)
    turn_deg = _turns_deg(frame, lon_deg, lat_deg)
    inner = {
        inside: np.array(form[outside], dtype=np.float64) / factor
        for outside, inside, factor, _ in _COLUMNS
    }
    return CameraDraws(
        east_m=east_m,
        north_m=north_m,
        bearing_rad=np.radians(np.array(form["bearing_deg"]) - turn_deg),
        reversed=np.array(form["reversed"], dtype=np.bool_),
        **inner,
    )


def _turns_deg(frame: Frame, lon_deg: Array, lat_deg: Array) -> Array:
    return np.array(
        [
            frame.convergence_deg(float(lon), float(lat))
            for lon, lat in zip(lon_deg, lat_deg, strict=True)
        ]
    )


def _column(values: Array, decimals: int) -> list[float]:
    return [round(float(value), decimals) for value in values]
