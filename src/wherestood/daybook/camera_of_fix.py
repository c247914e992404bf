"""Take the camera of a plate's last fix: where it stood, how it looked, how sure."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.camera.model import Camera
from wherestood.dating.shadow_points import CameraDoubt
from wherestood.daybook.seen_kept import Places
from wherestood.daybook.tables import Fix, Plate
from wherestood.errors import InputError
from wherestood.plate.straight import straight_by_corners

__all__ = ["FixedCamera", "fixed_camera", "last_fix"]

#: Standard errors where a fix does not tell them: bearing, elevation, roll [deg], lens.
UNTOLD = (2.0, 1.0, 1.5, 0.1)


@dataclass(frozen=True)
class FixedCamera:
    """Be the camera that a fix found.

    Attributes
    ----------
    fix : str
        The fix's key.
    camera : Camera
        ``bearing_rad`` true.
    doubt : CameraDoubt
        How well it is known.
    lon_deg, lat_deg : float
        Where it stood [deg].
    lens_m : float
        Height of its lens [m].
    places : callable or None
        Carries places of the scan to the straightened plate, where corners are marked.
    answer : dict
        The fix as it was published.
    """

    fix: str
    camera: Camera
    doubt: CameraDoubt
    lon_deg: float
    lat_deg: float
    lens_m: float
    places: Places | None
    answer: dict[str, Any]


def last_fix(session: Session, plate: Plate) -> Fix | None:
    """Return the last fix of a plate that was not set aside."""
    wanted = select(Fix).where(
        Fix.plate_id == plate.id, Fix.removed.is_(False), Fix.withdrawn.is_(None)
    )
    return session.scalars(wanted.order_by(Fix.made.desc()).limit(1)).first()


def fixed_camera(session: Session, plate: Plate) -> FixedCamera:
    """Return the camera of a plate's last fix.

    Raises
    ------
    InputError
        If it has none, or one of a panorama.
    """
    fix = last_fix(session, plate)
    answer = None if fix is None else fix.answer
    if fix is None or answer is None or answer.get("camera") is None:
        raise InputError(
            f"The sun's direction needs the camera's, and {plate.key} has no fix yet.",
            f"Make a fix first: wherestood fix {plate.key}.",
        )
    told, station, scan = answer["camera"], answer["station"], answer["inputs"]["scan"]
    size_px, places = (int(scan["width_px"]), int(scan["height_px"])), None
    if scan.get("corners_px"):
        corners = tuple((float(x), float(y)) for x, y in scan["corners_px"])
        mm = tuple(scan["size_mm"]) if scan.get("size_mm") else None
        straight = straight_by_corners(corners, mm)  # type: ignore[arg-type]
        size_px = (straight.width_px, straight.height_px)

        def places(points: list[list[float]]) -> list[list[float]]:
            carried = straight.to_plate(np.array(points, dtype=np.float64))
            return [[float(x), float(y)] for x, y in carried]

    camera = Camera(
        math.radians(told["bearing_deg"]),
        math.radians(told["tilt_deg"]),
        math.radians(told["roll_deg"]),
        told["principal_distance_px"],
        told["rise_px"],
        told["cross_px"],
        told["k1"],
        *size_px,
        bool(told["reversed"]),
    )
    return FixedCamera(
        fix.key, camera, _doubt(told, camera), station["lon"], station["lat"],
        station["height_m"] or 0.0, places, answer,
    )  # fmt: skip


def _doubt(told: dict[str, Any], camera: Camera) -> CameraDoubt:
    sd = told.get("sd") or {}

    def one(name: str, untold: float) -> float:
        value = sd.get(name)
        return untold if value is None else float(value)

    lens = one("principal_distance_px", UNTOLD[3] * camera.principal_distance_px)
    return CameraDoubt(
        math.radians(one("sight_bearing_deg", UNTOLD[0])),
        math.radians(one("sight_elevation_deg", UNTOLD[1])),
        math.radians(one("roll_deg", UNTOLD[2])),
        lens / camera.principal_distance_px,
    )
