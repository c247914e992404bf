"""Write how a camera stood as an OGC GeoPose 1.0 (OGC 21-056r11).

The outer frame is WGS 84 with a local tangent plane, east, north, up. A pose says how a
body with axes x, y, z is turned against it: yaw about up, then pitch about the turned
y, then roll about the x that results, all right-handed. The standard leaves open which
axis of the body is the lens. Here, and in every file::

    x  along the lens, forwards      y  to the camera's left      z  to its top

so that::

    yaw   = 90 - bearing             counter-clockwise from east
    pitch = -tilt                    a positive pitch tips x down
    roll  = roll                     clockwise seen from behind

The quaternion is that of the same turn, carrying body to east, north, up.
"""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any, Literal

from wherestood.record.atomic import write_text_atomically
from wherestood.record.export.handed import HandedPlate, Place

__all__ = ["BODY", "geopose_of", "write_geopose"]

Target = Literal["Basic-YPR", "Basic-Quaternion"]
BODY = "x along the lens, forwards; y to the camera's left; z to its top"
#: Digits of an angle: a ten-thousandth of a degree is a fortieth of a pixel at most.
_ANGLE_DIGITS = 4


def geopose_of(plate: HandedPlate, target: Target) -> dict[str, Any] | None:
    """Return a plate's pose; None where no one place, or no direction, is told.

    Beside the standard's members, which its schemas allow, ``wherestood`` says which
    axis is the lens, what height was meant, and how far all may be off.
    """
    place = plate.place
    if place is None or place.held is None or plate.answer is None:
        return None
    camera = place.held.camera
    yaw_deg = (90.0 - math.degrees(camera.bearing_rad) + 180.0) % 360.0 - 180.0
    pitch_deg = -math.degrees(camera.tilt_rad)
    roll_deg = math.degrees(camera.roll_rad)
    turned: dict[str, Any]
    if target == "Basic-YPR":
        turned = {
            "angles": {
                "yaw": round(yaw_deg, _ANGLE_DIGITS),
                "pitch": round(pitch_deg, _ANGLE_DIGITS),
                "roll": round(roll_deg, _ANGLE_DIGITS),
            }
        }
    else:
        names = ("x", "y", "z", "w")
        parts = _quaternion(yaw_deg, pitch_deg, roll_deg)
        turned = {
            "quaternion": {n: round(v, 9) for n, v in zip(names, parts, strict=True)}
        }
    position = {
        "lat": round(place.lat_deg, 7),
        "lon": round(place.lon_deg, 7),
        "h": round(place.height_m or 0.0, 2),
    }
    beside = _beside(plate, place, plate.answer.vertical_datum, target)
    return {"position": position, **turned, "wherestood": beside}


def _beside(
    plate: HandedPlate, place: Place, datum: str, target: Target
) -> dict[str, Any]:
    assert place.held is not None
    height = (
        "h is not known, and 0 stands in its place"
        if place.height_m is None
        else "h is in the elevation model's own vertical datum, which may lie tens of "
        "metres off the ellipsoid that the standard means"
    )
    return {
        "target": target,
        "plate": plate.name,
        "body_axes": BODY,
        "height": height,
        "vertical_datum": datum,
        "sd_east_m": place.sd_east_m,
        "sd_north_m": place.sd_north_m,
        "sd_height_m": place.sd_height_m,
        "sd_bearing_deg": place.held.sd.get("bearing_deg"),
        "sd_tilt_deg": place.held.sd.get("tilt_deg"),
        "sd_roll_deg": place.held.sd.get("roll_deg"),
    }


def _quaternion(
    yaw_deg: float, pitch_deg: float, roll_deg: float
) -> tuple[float, float, float, float]:
    """Return x, y, z, w of yaw about z, pitch about y, roll about x, in that order."""
    y, p, r = (math.radians(angle) / 2.0 for angle in (yaw_deg, pitch_deg, roll_deg))
    cy, sy, cp, sp = math.cos(y), math.sin(y), math.cos(p), math.sin(p)
    cr, sr = math.cos(r), math.sin(r)
    return (
        sr * cp * cy - cr * sp * sy,
        cr * sp * cy + sr * cp * sy,
        cr * cp * sy - sr * sp * cy,
        cr * cp * cy + sr * sp * sy,
    )


def write_geopose(folder: Path, plate: HandedPlate, stem: str) -> list[Path]:
    """Write a plate's pose as both targets; nothing where there is none to tell."""
    written = []
    targets: tuple[tuple[Target, str], ...] = (
        ("Basic-YPR", "ypr"), ("Basic-Quaternion", "quaternion"),
    )  # fmt: skip
    for target, ending in targets:
        pose = geopose_of(plate, target)
        if pose is not None:
            path = folder / f"{stem}.geopose-{ending}.json"
            text = json.dumps(pose, indent=1, ensure_ascii=False, allow_nan=False)
            write_text_atomically(path, text + "\n")
            written.append(path)
    return written
