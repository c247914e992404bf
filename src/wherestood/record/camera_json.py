"""Publish a station and how a camera was held."""

from __future__ import annotations

from typing import Any

from wherestood.fix.result import CameraAnswer, StationAnswer
from wherestood.record.plain import plain, rounded

__all__ = ["LONLAT_DECIMALS", "camera_form", "station_form"]

LONLAT_DECIMALS = 7  # about a centimetre (RFC 7946, section 11.2)


def station_form(station: StationAnswer) -> dict[str, Any]:
    """Return where a camera stood."""
    return {
        "lon": rounded(station.lon_deg, LONLAT_DECIMALS),
        "lat": rounded(station.lat_deg, LONLAT_DECIMALS),
        "height_m": rounded(station.height_m, 2),
        "sd_east_m": rounded(station.sd_east_m, 2),
        "sd_north_m": rounded(station.sd_north_m, 2),
        "sd_height_m": rounded(station.sd_height_m, 2),
    }


def camera_form(camera: CameraAnswer) -> dict[str, Any]:
    """Return how a camera was held."""
    return {
        "bearing_deg": rounded(camera.bearing_deg % 360, 4),
        "grid_bearing_deg": rounded(camera.grid_bearing_deg % 360, 4),
        "tilt_deg": rounded(camera.tilt_deg, 4),
        "roll_deg": rounded(camera.roll_deg, 4),
        "principal_distance_px": rounded(camera.principal_distance_px, 2),
        "principal_distance_mm": rounded(camera.principal_distance_mm, 3),
        "rise_px": rounded(camera.rise_px, 2),
        "rise_mm": rounded(camera.rise_mm, 3),
        "cross_px": rounded(camera.cross_px, 2),
        "cross_mm": rounded(camera.cross_mm, 3),
        "k1": rounded(camera.k1, 6),
        "reversed": bool(camera.reversed),
        "sight": {
            "bearing_deg": rounded(camera.sight_bearing_deg % 360, 4),
            "elevation_deg": rounded(camera.sight_elevation_deg, 4),
        },
        "sd": plain({name: _short(value) for name, value in camera.sd.items()}),
        "prior_share": plain(
            {name: _short(value) for name, value in camera.prior_share.items()}
        ),
    }


def _short(value: float) -> float | None:
    """Return a number at five significant digits."""
    return rounded(float(f"{value:.5g}"), 12)
