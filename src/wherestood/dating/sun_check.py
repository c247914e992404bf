"""Check a camera's bearing by the sun, where day and hour are known."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from wherestood.camera.model import Camera
from wherestood.dating.shadow import Shadow, sun_directions
from wherestood.dating.shadow_points import CameraDoubt
from wherestood.dating.sun import seconds_of_day, sun_at
from wherestood.dating.sun_path import Where
from wherestood.errors import EvidenceError

__all__ = ["BearingBySun", "bearing_by_sun"]


@dataclass(frozen=True)
class BearingBySun:
    """Say how far a camera would have to turn for its shadows to fit the sun.

    Attributes
    ----------
    turn_rad : float
        Clockwise, from the bearing that the fix has [rad].
    sd_rad : float
        Standard error of that, by marks, ground and hour [rad].
    fix_sd_rad : float
        Standard error of the fix's own bearing [rad].
    sun_bearing_rad, sun_elevation_rad : float
        Where the sun stood [rad].
    """

    turn_rad: float
    sd_rad: float
    fix_sd_rad: float
    sun_bearing_rad: float
    sun_elevation_rad: float

    @property
    def off(self) -> float:
        """Return the turn over what it may well be, no unit: 2 and more disagrees."""
        return abs(self.turn_rad) / math.hypot(self.sd_rad, self.fix_sd_rad)


def bearing_by_sun(
    camera: Camera,
    doubt: CameraDoubt,
    shadows: Sequence[Shadow],
    where: Where,
    day: tuple[int, int, int],
    local_mean_min: float,
    sd_min: float,
) -> BearingBySun:
    """Compare the bearing of shadows with the sun's at a known day and hour.

    Parameters
    ----------
    camera : Camera
        As the fix has it, ``bearing_rad`` true.
    doubt : CameraDoubt
        How well that is known.
    shadows : sequence of Shadow
        At least one.
    where : Where
        Where they lie.
    day : (int, int, int)
        Year, month, day, Gregorian.
    local_mean_min, sd_min : float
        Local mean time and its standard error [min].

    Returns
    -------
    BearingBySun

    Raises
    ------
    EvidenceError
        If the sun was down then, or a shadow cannot be used.
    """
    at = seconds_of_day(*day) + 60.0 * local_mean_min - 240.0 * where.lon_deg
    around = np.array([at, at - 30.0, at + 30.0])
    sun = sun_at(around, where.lon_deg, where.lat_deg, where.height_m)
    if not sun.elevation_rad[0] > 0.0:
        raise EvidenceError(
            "At that day and hour the sun was "
            f"{-math.degrees(sun.elevation_rad[0]):.1f} deg below the level.",
            "Check the date, the hour, and by which clock it was read.",
        )
    # The bearing looked for must not count as known.
    told = sun_directions(camera, replace(doubt, bearing_rad=0.0), shadows)
    count = len(told.bearing_rad)
    level = told.level
    turns = np.array([_turn(sun.bearing_rad[0] - one) for one in told.bearing_rad])
    covariance = told.covariance[:count, :count] / np.outer(level, level)
    weights = np.linalg.solve(covariance, np.ones(count))
    rate_a_minute = _turn(float(sun.bearing_rad[2] - sun.bearing_rad[1]))
    variance = 1.0 / float(weights.sum()) + (rate_a_minute * sd_min) ** 2
    return BearingBySun(
        float(weights @ turns / weights.sum()),
        math.sqrt(variance),
        doubt.bearing_rad,
        float(sun.bearing_rad[0]),
        float(sun.elevation_rad[0]),
    )


def _turn(angle: float) -> float:
    return (angle + math.pi) % (2.0 * math.pi) - math.pi
