"""Lay a plate's shadows, and the way to the sun, on the map."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.dating.shadow_points import shadow_points
from wherestood.daybook.sun_of_plate import BySun
from wherestood.earth.geodesy import place_at
from wherestood.terrain.meet import SolidGround, meet_ground

__all__ = ["ShadowOnMap", "distance_on", "shadows_on_map"]

Array = NDArray[np.float64]
#: Distance along the ground [m], of a true bearing [rad] and a tangent of elevation.
DistanceTo = Callable[[float, float], float]


@dataclass(frozen=True)
class ShadowOnMap:
    """Be a shadow as it lies on the ground.

    Attributes
    ----------
    key : str
        Its item's.
    foot_deg, tip_deg : (lon, lat)
        Where the thing stands and its shadow ends [deg].
    sun_bearing_deg : float
        True bearing to the sun [deg].
    sun_elevation_deg : float or None
        Its height [deg]; None where the shadow does not tell.
    """

    key: str
    foot_deg: tuple[float, float]
    tip_deg: tuple[float, float]
    sun_bearing_deg: float
    sun_elevation_deg: float | None


def shadows_on_map(by: BySun, distance_m: DistanceTo) -> tuple[ShadowOnMap, ...]:
    """Lay shadows on the map.

    Parameters
    ----------
    by : BySun
        What was marked.
    distance_m : callable
        How far off the ground is that is seen in a true bearing [rad] and at a tangent
        of elevation [m]; NaN where none is. It places the foot; length and way of the
        shadow follow.

    Returns
    -------
    tuple of ShadowOnMap
        Those whose foot stands on ground that is known.
    """
    found = []
    told = by.directions
    for index, (key, shadow) in enumerate(by.marked.shadows):
        assert told is not None
        foot, tip, _ = shadow_points(
            by.fixed.camera, shadow.foot_px, shadow.tip_px, shadow.top_px,
            np.array(shadow.ground.slope()), 0.0, key,
        )  # fmt: skip
        off_m = distance_m(math.atan2(foot[0], foot[1]), float(foot[2]))
        if not math.isfinite(off_m):
            continue
        high = float(told.elevation_rad[index])
        found.append(
            ShadowOnMap(
                key, _placed(by, foot * off_m), _placed(by, tip * off_m),
                math.degrees(told.bearing_rad[index]),
                None if math.isnan(high) else math.degrees(high),
            )
        )  # fmt: skip
    return tuple(found)


def distance_on(ground: SolidGround, by: BySun) -> DistanceTo:
    """Return how far off the ground of a terrain is, seen from the fix's camera."""
    frame = ground.model.terrain.frame
    lon, lat = by.where.lon_deg, by.where.lat_deg
    east, north = frame.from_lonlat(np.array([lon]), np.array([lat]))
    turn = math.radians(frame.convergence_deg(lon, lat))

    def distance(bearing_rad: float, tangent: float) -> float:
        met = meet_ground(
            ground, east, north, by.fixed.lens_m, np.array([bearing_rad - turn]),
            np.array([tangent]),
        )  # fmt: skip
        return float(met.distance_m[0])

    return distance


def _placed(by: BySun, point_m: Array) -> tuple[float, float]:
    """Return the place so far east and north of the camera [deg]."""
    lon, lat = place_at(
        by.where.lon_deg, by.where.lat_deg,
        math.degrees(math.atan2(point_m[0], point_m[1])),
        float(np.hypot(point_m[0], point_m[1])),
    )  # fmt: skip
    return float(lon), float(lat)
