"""Choose near and far things whose gap tells a photographer which way to move.

Symbols: d distance [m]; b bearing [rad]; g = b_far - b_near, the gap, positive where
the far thing shows right of the near one. A step e to the right, square to the sight,
turns the near thing left by e / d_near and the far one by e / d_far: the gap grows by
``e (1 / d_near - 1 / d_far)``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.visit.spot_found import GapPair, step_by_gaps

__all__ = [
    "FINGER_RAD",
    "READING_SD_DEG",
    "Move",
    "ParallaxPair",
    "SeenThing",
    "parallax_pairs",
    "way_to_go",
    "way_to_picture",
]

Array = NDArray[np.float64]
#: A finger at arm's length: common practice.
FINGER_RAD = np.radians(2.0)
#: How well a gap is read in the field: common practice with a rule at arm's length.
READING_SD_DEG = 0.1
#: Things farther apart than this cannot be judged by eye or in one picture.
_WIDEST_RAD = np.radians(15.0)
#: A pair must tell a step of 1 m by this at least [rad a metre]: 0.02 degrees.
_LEAST_RAD_PER_M = np.radians(0.02)


@dataclass(frozen=True)
class SeenThing:
    """Hold a thing that shows on the plate and stands there still.

    Attributes
    ----------
    name : str
    east_m, north_m : float
        In the frame [m].
    sd_m : float
        How far it may be off [m].
    x_px, y_px : float
        Where it shows [px].
    mark_sd_px : float or None
        How surely that was marked on the plate; None where it is worked out of the map
        and the fix [px].
    """

    name: str
    east_m: float
    north_m: float
    sd_m: float
    x_px: float
    y_px: float
    mark_sd_px: float | None = None


@dataclass(frozen=True)
class ParallaxPair:
    """Hold a near and a far thing, and what their gap tells.

    Attributes
    ----------
    near, far : SeenThing
    near_m, far_m : float
        Their distances from the very spot [m].
    near_rad, far_rad : float
        Their grid bearings from it [rad].
    gap_rad : float
        How far right of the near one the far one shows from the very spot [rad].
    m_per_deg : float
        Step to the right by which the gap grows by a degree [m].
    by_east, by_north : float
        How the gap goes with a step [rad/m].
    sd_rad : float
        How far the gap may be off, since the things are [rad].
    px_per_m : float
        How far the gap on the plate goes with a step of 1 m to the right [px].
    picture_rad, picture_sd_rad : float or None
        The gap as the picture itself has it, where both things are marked on the plate,
        and its standard error [rad].
    """

    near: SeenThing
    far: SeenThing
    near_m: float
    far_m: float
    near_rad: float
    far_rad: float
    gap_rad: float
    m_per_deg: float
    by_east: float
    by_north: float
    sd_rad: float
    px_per_m: float
    picture_rad: float | None = None
    picture_sd_rad: float | None = None

    @property
    def m_per_finger(self) -> float:
        """Return the step by which the gap goes by a finger's width [m]."""
        return self.m_per_deg * float(np.degrees(FINGER_RAD))


@dataclass(frozen=True)
class Move:
    """Hold which way to go to the very spot.

    Attributes
    ----------
    east_m, north_m : float
        The step [m].
    sd_east_m, sd_north_m : float
        Its standard errors [m].
    sd_along_m, sd_across_m : float
        Standard errors of its length, and to either side of it [m].
    """

    east_m: float
    north_m: float
    sd_east_m: float
    sd_north_m: float
    sd_along_m: float
    sd_across_m: float


def parallax_pairs(
    things: Sequence[SeenThing],
    station_m: tuple[float, float],
    px_per_rad: float,
    most: int = 4,
) -> list[ParallaxPair]:
    """Return the pairs that tell most, of things that show near one another.

    Parameters
    ----------
    things : sequence of SeenThing
    station_m : (east, north)
        The very spot [m].
    px_per_rad : float
        Pixels of the plate to a radian: the principal distance [px].
    most : int
        How many at most.

    Returns
    -------
    list of ParallaxPair
        One by one each that, with those before it, leaves the least doubt of the spot;
        empty where nothing stands near enough to tell.
    """
    found = [
        pair
        for near in things
        for far in things
        if near is not far
        and (pair := _pair(near, far, station_m, px_per_rad)) is not None
    ]
    chosen: list[ParallaxPair] = []
    reading = np.radians(READING_SD_DEG)
    # A weak prior, so that the first pair can be compared with the others.
    precision = np.eye(2) / 50.0**2
    while found and len(chosen) < most:
        told = [precision + _information(pair, reading, px_per_rad) for pair in found]
        left = [float(np.trace(np.linalg.inv(one))) for one in told]
        k = left.index(min(left))
        best, precision = found.pop(k), told[k]
        chosen.append(best)
        # Two pairs of the same near thing tell much the same.
        found = [one for one in found if one.near is not best.near] or found
    return chosen


def way_to_go(
    pairs: Sequence[ParallaxPair],
    read_rad: Sequence[float],
    reading_sd_rad: float,
    guess_sd_m: float = 50.0,
) -> Move:
    """Return the step to the very spot from gaps read where one stands.

    Parameters
    ----------
    pairs : sequence of ParallaxPair
    read_rad : sequence of float
        The gaps as read, far right of near positive [rad].
    reading_sd_rad : float
        Standard error of a reading [rad].
    guess_sd_m : float
        How far off one may stand at all, either way [m]: what pairs do not tell stays
        unmoved.

    Notes
    -----
    Least squares by the things' own places: the gaps are worked out anew where one
    seems to stand, so that a step of tens of metres is as true as one of one.
    """
    weight = np.array([1.0 / (pair.sd_rad**2 + reading_sd_rad**2) for pair in pairs])
    read = np.asarray(read_rad, dtype=np.float64)
    prior = np.eye(2) / guess_sd_m**2
    at = np.zeros(2)
    for _ in range(8):
        gaps, slopes = _gaps_at(pairs, at)
        off = (read - gaps + np.pi) % (2.0 * np.pi) - np.pi
        precision = (slopes * weight[:, None]).T @ slopes + prior
        step = np.linalg.solve(precision, slopes.T @ (weight * off) - prior @ at)
        at = at + np.clip(step, -guess_sd_m, guess_sd_m)
    return _move(-at, np.linalg.inv(precision))


def way_to_picture(
    pairs: Sequence[ParallaxPair],
    read_rad: Sequence[float],
    reading_sd_rad: float,
    about_m: tuple[float, float],
) -> Move | None:
    """Return the step to where the gaps are those of the picture.

    Parameters
    ----------
    pairs : sequence of ParallaxPair
        Those whose gap the picture does not tell are passed over.
    read_rad : sequence of float
        The gaps as read, far right of near positive [rad].
    reading_sd_rad : float
        Standard error of a reading [rad].
    about_m : (east, north)
        Where they were read, to some tens of metres [m].

    Returns
    -------
    Move or None
        None where what the picture tells of these pairs leaves the step open.

    Notes
    -----
    Neither the fix nor, to first order, an error of the map is in it
    (`wherestood.visit.spot_found`).
    """
    told = [
        GapPair(
            (pair.far.east_m, pair.far.north_m), (pair.near.east_m, pair.near.north_m),
            pair.far.sd_m, pair.near.sd_m, read, pair.picture_rad, reading_sd_rad,
            pair.picture_sd_rad or reading_sd_rad,
        )
        for pair, read in zip(pairs, read_rad, strict=True)
        if pair.picture_rad is not None
    ]  # fmt: skip
    found = step_by_gaps(told, about_m)
    if found is None:
        return None
    return _move(np.array([found.east_m, found.north_m]), found.covariance_m2)


def _move(step: Array, covariance: Array) -> Move:
    sd = np.sqrt(np.diag(covariance))
    length = float(np.hypot(*step))
    along = step / length if length > 0.0 else np.array([0.0, 1.0])
    across = np.array([along[1], -along[0]])
    return Move(
        float(step[0]),
        float(step[1]),
        float(sd[0]),
        float(sd[1]),
        float(np.sqrt(along @ covariance @ along)),
        float(np.sqrt(across @ covariance @ across)),
    )


def _gaps_at(pairs: Sequence[ParallaxPair], at: Array) -> tuple[Array, Array]:
    """Return gaps, and how they go with a step, at an offset from the very spot."""
    gaps, slopes = [], []
    for pair in pairs:
        ways = []
        for sign, away_m, angle in (
            (1.0, pair.far_m, pair.far_rad),
            (-1.0, pair.near_m, pair.near_rad),
        ):
            east = away_m * np.sin(angle) - at[0]
            north = away_m * np.cos(angle) - at[1]
            square = max(east**2 + north**2, 1.0)
            ways.append((sign, np.arctan2(east, north), -north / square, east / square))
        gap = sum(sign * bearing for sign, bearing, _, _ in ways)
        gaps.append((gap + np.pi) % (2.0 * np.pi) - np.pi)
        slopes.append((sum(w[0] * w[2] for w in ways), sum(w[0] * w[3] for w in ways)))
    return np.array(gaps), np.array(slopes)


def _pair(
    near: SeenThing,
    far: SeenThing,
    station_m: tuple[float, float],
    px_per_rad: float,
) -> ParallaxPair | None:
    """Return what two things tell; None if that is too little, or too wide apart."""
    off = [
        (one.east_m - station_m[0], one.north_m - station_m[1]) for one in (near, far)
    ]
    near_m, far_m = (float(np.hypot(*one)) for one in off)
    near_rad, far_rad = (float(np.arctan2(*one)) for one in off)
    gap = (far_rad - near_rad + np.pi) % (2.0 * np.pi) - np.pi
    apart = abs(gap)
    if near.mark_sd_px is not None and far.mark_sd_px is not None:
        # The picture knows better than the fix how wide apart they show.
        apart = abs(far.x_px - near.x_px) / px_per_rad
    if near_m < 1.0 or near_m >= far_m or apart > _WIDEST_RAD:
        return None
    rate = 1.0 / near_m - 1.0 / far_m
    if rate < _LEAST_RAD_PER_M:
        return None
    return ParallaxPair(
        near,
        far,
        near_m,
        far_m,
        near_rad,
        far_rad,
        gap,
        float(np.radians(1.0) / rate),
        float(np.cos(near_rad) / near_m - np.cos(far_rad) / far_m),
        float(np.sin(far_rad) / far_m - np.sin(near_rad) / near_m),
        float(np.hypot(near.sd_m / near_m, far.sd_m / far_m)),
        px_per_rad * rate,
    )


def _information(pair: ParallaxPair, reading_rad: float, px_per_rad: float) -> Array:
    slope = np.array([pair.by_east, pair.by_north])
    near_px, far_px = pair.near.mark_sd_px, pair.far.mark_sd_px
    if near_px is not None and far_px is not None:
        # The picture's own gap is compared: where the things are does not come in.
        sd_rad = np.hypot(near_px, far_px) / px_per_rad
    else:
        sd_rad = pair.sd_rad
    return np.asarray(np.outer(slope, slope) / (sd_rad**2 + reading_rad**2))
