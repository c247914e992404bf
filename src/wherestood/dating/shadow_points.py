"""Find where foot, tip and top of a shadow lie, as seen by a known camera.

Symbols
-------
f, t, p : unit vectors from the lens to foot, tip of the shadow, top of the thing
F, T, P : those points, the foot at a horizontal distance of 1
g : slope of the ground, rise a unit to the east and to the north
r : tangent of the elevation of p
H : height of the thing; l its lean away from the lens, a unit of height
s : direction of the sun, ``s ~ P - T``

    T = t (F_z - g.F) / (t_z - g.t)     tip on the ground through the foot
    H = (r - F_z) / (1 - r l)           top above the foot, but for its lean;
                                        sideways it leans as it is seen to
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wherestood.camera.model import Camera, rays
from wherestood.errors import EvidenceError

__all__ = [
    "LEVEL_GROUND", "CameraDoubt", "Ground", "Point", "moved", "shadow_points",
    "sights",
]  # fmt: skip

Array = NDArray[np.float64]
Point = tuple[float, float]

#: Doubt of a mark on a shadow [px], of an upright's lean and of the ground's slope as
#: given [deg]: common practice. Tips are soft: the sun is half a degree wide.
MARK_SD_PX, LEAN_SD_DEG, SLOPE_SD_DEG = 3.0, 1.0, 2.0
#: Where each thing is shifted to, in sds: with points there third moments of a
#: Gaussian come out right, and second derivatives are seen.
STEP = math.sqrt(3.0)


@dataclass(frozen=True)
class CameraDoubt:
    """Be how well the camera is known.

    Attributes
    ----------
    bearing_rad, elevation_rad, roll_rad : float
        Standard errors of the sight's bearing and elevation, and of roll [rad].
    log_distance : float
        Of the principal distance, as a share of it.
    """

    bearing_rad: float
    elevation_rad: float
    roll_rad: float
    log_distance: float


@dataclass(frozen=True)
class Ground:
    """Be how the ground lies on which a shadow falls.

    Attributes
    ----------
    rise_deg, towards_deg : float
        How steeply it rises, and in which true bearing [deg]; level unless told.
    sd_deg : float
        Standard error of the slope, each way [deg].
    """

    rise_deg: float = 0.0
    towards_deg: float = 0.0
    sd_deg: float = SLOPE_SD_DEG

    def slope(self) -> tuple[float, float]:
        """Return its rise a unit to the east and to the north."""
        rise = math.tan(math.radians(self.rise_deg))
        towards = math.radians(self.towards_deg)
        return rise * math.sin(towards), rise * math.cos(towards)


#: Ground as it is taken to lie unless told.
LEVEL_GROUND = Ground()


def moved(camera: Camera, by: Array) -> Camera:
    """Turn a camera by bearing, elevation and roll, and draw its lens out."""
    return replace(
        camera,
        bearing_rad=camera.bearing_rad + float(by[0]),
        tilt_rad=camera.tilt_rad + float(by[1]),
        roll_rad=camera.roll_rad + float(by[2]),
        principal_distance_px=camera.principal_distance_px * math.exp(float(by[3])),
    )


def sights(camera: Camera, points_px: Sequence[Point]) -> list[tuple[float, float]]:
    """Return the bearing [rad] of each point of the plate, and its tangent upwards."""
    if not points_px:
        return []
    seen = rays(camera, [x for x, _ in points_px], [y for _, y in points_px])
    return [
        (math.atan2(east, north), up / math.hypot(east, north))
        for east, north, up in seen.tolist()
    ]


def shadow_points(
    camera: Camera,
    foot_px: Point,
    tip_px: Point,
    top_px: Point | None,
    slope: Array,
    lean: float,
    what: str,
) -> tuple[Array, Array, Array | None]:
    """Return foot, tip and top, the foot at a horizontal distance of 1."""
    marked = [foot_px, tip_px, *([] if top_px is None else [top_px])]
    seen = rays(camera, [x for x, _ in marked], [y for _, y in marked])
    foot = seen[0] / np.linalg.norm(seen[0, :2])
    ground = foot[2] - slope @ foot[:2]
    falls = seen[1, 2] - slope @ seen[1, :2]
    if not ground < 0.0 or not falls < 0.0:
        raise EvidenceError(
            f"The ground under {what} and its shadow would lie above the lens.",
            "Mark a shadow on ground below the camera, or tell how that ground slopes.",
        )
    tip = seen[1] * (ground / falls)
    if top_px is None:
        return foot, tip, None
    flat = seen[2] / np.linalg.norm(seen[2, :2])
    height = (flat[2] - foot[2]) / (1.0 - flat[2] * lean)
    return foot, tip, flat * (1.0 + height * lean)
