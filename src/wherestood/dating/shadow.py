"""Read the sun's direction off a shadow on a plate.

Solves for the sun's bearing and elevation from the marks of one upright thing and its
shadow, the camera known; one answer. Lengths fall out: everything scales with the
height of the lens above the ground shown, which need not be known.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.camera.model import Camera
from wherestood.dating.shadow_points import (
    LEAN_SD_DEG,
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

__all__ = [
    "Directions",
    "Shadow",
    "directions_of_plates",
    "sun_directions",
]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Shadow:
    """Be the marks of an upright thing and its shadow on open ground.

    Attributes
    ----------
    foot_px, tip_px : (float, float)
        Where it meets the ground, and where its shadow ends (or, without a top, any
        later point of the shadow's middle) [px].
    top_px : (float, float) or None
        Its top, that throws the tip; without it the shadow tells the bearing alone.
    ground : Ground
        The ground between foot and tip.
    sd_px : float
        Standard error of each mark, each way [px].
    lean_sd_deg : float
        How far it may lean towards the lens or away [deg].
    """

    foot_px: Point
    tip_px: Point
    top_px: Point | None = None
    ground: Ground = LEVEL_GROUND
    sd_px: float = MARK_SD_PX
    lean_sd_deg: float = LEAN_SD_DEG


@dataclass(frozen=True)
class Directions:
    """Hold the sun's direction as each shadow of a plate tells it, with joint doubt.

    Attributes
    ----------
    bearing_rad, elevation_rad : NDArray[np.float64]
        (shadows,) true bearing, and elevation [rad]; NaN where no top was marked.
    covariance : NDArray[np.float64]
        (2 shadows, 2 shadows): of bearings times the elevation's cosine first, then of
        elevations [rad^2]. The camera's errors are shared by all.
    """

    bearing_rad: Array
    elevation_rad: Array
    covariance: Array

    @property
    def level(self) -> Array:
        """Return the cosine of each elevation; 1 where that is not known."""
        return np.where(np.isnan(self.elevation_rad), 1.0, np.cos(self.elevation_rad))

    @property
    def used(self) -> NDArray[np.intp]:
        """Return the rows that say something: elevations not known say nothing."""
        known = np.concatenate(
            [np.ones(len(self.bearing_rad), bool), ~np.isnan(self.elevation_rad)]
        )
        return np.flatnonzero(known)


def sun_directions(
    camera: Camera, doubt: CameraDoubt, shadows: Sequence[Shadow]
) -> Directions:
    """Read the sun's direction off every shadow of a plate.

    Parameters
    ----------
    camera : Camera
        As the fix has it, ``bearing_rad`` true.
    doubt : CameraDoubt
        How well that is known.
    shadows : sequence of Shadow
        At least one.

    Returns
    -------
    Directions

    Raises
    ------
    EvidenceError
        If a shadow cannot lie on the ground as told, or is no longer than its marks'
        doubt.
    """
    return directions_of_plates([(camera, tuple(shadows))], doubt)


def directions_of_plates(
    plates: Sequence[tuple[Camera, tuple[Shadow, ...]]], doubt: CameraDoubt
) -> Directions:
    """Read the sun's direction off the shadows of several plates of one station.

    Errors of bearing and principal distance are shared by all plates, those of
    elevation and roll by the shadows of one plate.

    Parameters
    ----------
    plates : sequence of (Camera, tuple of Shadow)
        Each with its shadows.
    doubt : CameraDoubt
        Of every camera alike.

    Returns
    -------
    Directions
        Of all shadows, plate by plate.

    Raises
    ------
    EvidenceError
        As of `sun_directions`.
    """
    camera_sds = np.array(
        [doubt.bearing_rad, doubt.elevation_rad, doubt.roll_rad, doubt.log_distance]
    )
    count = sum(len(shadows) for _, shadows in plates)
    told = np.full((count, 2), np.nan)
    covariance = np.zeros((2 * count, 2 * count))
    by_all = np.zeros((2 * count, 2))
    by_plate = np.zeros((2 * count, 2 * len(plates)))
    index = 0
    for number, (camera, shadows) in enumerate(plates):
        for shadow in shadows:
            rows = [index, count + index]
            moves = _moves(camera, shadow, camera_sds)
            told[index] = moves.middle
            level = 1.0 if shadow.top_px is None else math.cos(moves.middle[1])
            first, second = moves.first * [level, 1.0], moves.second * [level, 1.0]
            own = first[: -len(camera_sds)]
            covariance[np.ix_(rows, rows)] += own.T @ own + 2.0 * second.T @ second
            by_all[rows] = first[[-4, -1]].T
            by_plate[rows, 2 * number] = first[-3]
            by_plate[rows, 2 * number + 1] = first[-2]
            index += 1
    covariance += by_all @ by_all.T + by_plate @ by_plate.T
    told[:, 0] %= 2.0 * math.pi
    return Directions(told[:, 0], told[:, 1], covariance)


def _direction(
    camera: Camera,
    shadow: Shadow,
    by: Array | None = None,
) -> tuple[float, float | None]:
    """Return the sun's bearing and elevation, everything shifted by some amounts.

    ``by``: six of marks, two of slope, one of lean, four of the camera.
    """
    by = np.zeros(13) if by is None else by
    marks: list[Point | None] = [shadow.foot_px, shadow.tip_px, shadow.top_px]
    points = [
        None if mark is None else (mark[0] + by[2 * i], mark[1] + by[2 * i + 1])
        for i, mark in enumerate(marks)
    ]
    assert points[0] is not None
    assert points[1] is not None
    foot, tip, top = shadow_points(
        moved(camera, by[9:]), points[0], points[1], points[2],
        np.array(shadow.ground.slope()) + by[6:8], float(by[8]), "the thing",
    )  # fmt: skip
    # Without a top: an upright thing's shadow runs straight away from the sun.
    to_sun = (foot if top is None else top) - tip
    flat = math.hypot(to_sun[0], to_sun[1])
    if flat < 1e-6 * float(np.linalg.norm(tip)):
        raise EvidenceError(
            "Foot and tip of the shadow are one point.", "Mark where the shadow ends."
        )
    bearing = math.atan2(to_sun[0], to_sun[1]) % (2.0 * math.pi)
    if top is None:
        return bearing, None
    if top[2] <= foot[2]:
        raise EvidenceError(
            "The top of the thing is marked below its foot.", "Exchange the two marks."
        )
    return bearing, math.atan2(to_sun[2], flat)


@dataclass(frozen=True)
class _Moves:
    """Hold what one sd of each thing does to bearing and elevation [rad].

    ``middle`` is the direction on average over all doubts, ``first`` the change by one
    sd and ``second`` half the second change by it, (things, 2) each.
    """

    middle: Array
    first: Array
    second: Array


def _moves(camera: Camera, shadow: Shadow, camera_sds: Array) -> _Moves:
    """Shift each thing both ways: six of marks, two of slope, lean, four of camera.

    What is told bends with its doubts where ground is seen at a flat angle: the second
    changes move its middle and widen its doubt (as in the unscented transform of Julier
    and Uhlmann, 1997, one thing at a time).
    """
    slope_sd = math.tan(math.radians(shadow.ground.sd_deg))
    lean_sd = math.tan(math.radians(shadow.lean_sd_deg))
    sds = np.concatenate([[shadow.sd_px] * 6, [slope_sd] * 2, [lean_sd], camera_sds])
    still = _direction(camera, shadow)
    first, second = np.zeros((len(sds), 2)), np.zeros((len(sds), 2))
    for index, sd in enumerate(sds):
        by = np.zeros(len(sds))
        by[index] = STEP * sd
        try:
            ahead = _off(_direction(camera, shadow, by), still)
            behind = _off(_direction(camera, shadow, -by), still)
        except EvidenceError as trouble:
            raise EvidenceError(
                "The shadow is so small, or seen at so flat an angle, that its doubt "
                "leaves the sun's direction open.",
                "Mark a longer or nearer shadow, or its points more closely.",
            ) from trouble
        first[index] = (ahead - behind) / (2.0 * STEP)
        second[index] = (ahead + behind) / (2.0 * STEP**2)
    middle = np.array([still[0], math.nan if still[1] is None else still[1]])
    return _Moves(middle + second.sum(axis=0), first, second)


def _off(told: tuple[float, float | None], still: tuple[float, float | None]) -> Array:
    """Return how far one direction lies from another; 0 where it is not known."""
    turn = (told[0] - still[0] + math.pi) % (2.0 * math.pi) - math.pi
    rise = 0.0 if told[1] is None or still[1] is None else told[1] - still[1]
    return np.array([turn, rise])
