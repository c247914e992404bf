"""Read a plane that holds the sun off the shadow of a wall's top edge.

The edge is level and its direction known; the beam from a point of it to a point of its
shadow, and the edge itself, span the plane. Which point of the edge throws the marked
point of the shadow need not be known.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.camera.model import Camera
from wherestood.dating.shadow_points import (
    LEVEL_GROUND,
    MARK_SD_PX,
    STEP,
    CameraDoubt,
    Ground,
    Point,
    moved,
    shadow_points,
)
from wherestood.errors import EvidenceError

__all__ = ["Edge", "edge_normal"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Edge:
    """Be the marks of a level edge of known direction and its shadow's edge.

    Attributes
    ----------
    foot_px, top_px : (float, float)
        A point at the wall's foot, and the point of its top edge above it [px].
    shadow_px : (float, float)
        Any point of the top edge's shadow on the ground [px].
    bearing_deg, bearing_sd_deg : float
        True bearing in which the wall runs, either way [deg].
    ground : Ground
        The ground between.
    sd_px : float
        Standard error of each mark, each way [px].
    """

    foot_px: Point
    top_px: Point
    shadow_px: Point
    bearing_deg: float
    bearing_sd_deg: float = 1.0
    ground: Ground = LEVEL_GROUND
    sd_px: float = MARK_SD_PX


def edge_normal(camera: Camera, doubt: CameraDoubt, edge: Edge) -> tuple[Array, Array]:
    """Return the plane in which a level edge's shadow says the sun lies.

    Returns
    -------
    normal : (3,) float64 array
        Unit vector square to edge and sunbeam, east, north, up.
    covariance : (3, 3) float64 array
        Of the normal, by marks, camera, wall and ground [rad^2].

    Raises
    ------
    EvidenceError
        If the marks cannot lie on the ground as told.
    """
    sds = [
        *([edge.sd_px] * 6),
        *([math.tan(math.radians(edge.ground.sd_deg))] * 2),
        math.radians(edge.bearing_sd_deg),
        doubt.bearing_rad,
        doubt.elevation_rad,
        doubt.roll_rad,
        doubt.log_distance,
    ]
    normal = _normal(camera, edge, np.zeros(len(sds)))
    shifts = []
    for index, sd in enumerate(sds):
        by = np.zeros(len(sds))
        by[index] = STEP * sd
        ahead, behind = _normal(camera, edge, by), _normal(camera, edge, -by)
        shifts.append((ahead - behind) / (2.0 * STEP))
    spread = np.array(shifts)
    return normal, spread.T @ spread


def _normal(camera: Camera, edge: Edge, by: Array) -> Array:
    turned = moved(camera, by[9:])
    points = [
        (point[0] + by[2 * index], point[1] + by[2 * index + 1])
        for index, point in enumerate((edge.foot_px, edge.top_px, edge.shadow_px))
    ]
    slope = np.array(edge.ground.slope()) + by[6:8]
    foot, tip, top = shadow_points(
        turned, points[0], points[2], points[1], slope, 0.0, "the wall"
    )
    assert top is not None
    along = math.radians(edge.bearing_deg) + by[8]
    normal = np.cross([math.sin(along), math.cos(along), 0.0], top - tip)
    length = float(np.linalg.norm(normal))
    if length < 1e-9 or float(np.linalg.norm(top - foot)) < 1e-6:
        raise EvidenceError(
            "The shadow's edge lies straight under the wall's own top.",
            "Mark a point of the shadow away from the wall's foot.",
        )
    return np.asarray(normal / length)
