"""Measure on a plate: how tall, how long, how large a pixel, each with its doubt."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wherestood.errors import InputError
from wherestood.ground.mapping import Mapping
from wherestood.ground.raised import meet_as_modelled, meet_raised
from wherestood.terrain.meet import GROUND

__all__ = ["Measured", "PixelOnGround", "height_above", "length_between", "pixel_at"]

Array = NDArray[np.float64]
#: Such a share of the cameras must see ground at every foot, as for a place.
_MUST_MEET = 0.95
#: What a scan resolves takes two of its pixels (the sampling theorem).
_PIXELS_TO_SHOW = 2.0
#: Half of what lies between a twentieth and nineteen twentieths, over a standard error
#: of a normal law: what a stray camera does to a standard error is kept out so.
_NORMAL_HALF = 1.6449


@dataclass(frozen=True)
class Measured:
    """Hold a length and its doubt.

    Attributes
    ----------
    value_m, sd_m : float
        The middle of what is possible, and its standard error [m]; NaN where it cannot
        be told.
    least_m, most_m : float
        Between these 9 times in 10 [m].
    distance_m : float
        From the camera to its foot, or its nearest point [m].
    why_not : str
        Why it cannot be told; empty where it can.
    """

    value_m: float
    sd_m: float
    least_m: float
    most_m: float
    distance_m: float
    why_not: str = ""


@dataclass(frozen=True)
class PixelOnGround:
    """Hold how much one pixel of the scan covers at a place.

    Attributes
    ----------
    across_m, upright_m : float
        Of a thing that faces the camera: to the side, and up [m].
    along_m : float
        Of the ground, away from the camera [m].
    smallest_m : float
        The smallest upright thing that the scan can show there: two pixels [m].
    distance_m : float
        From the camera [m].
    why_not : str
        Why it cannot be told; empty where it can.
    """

    across_m: float
    upright_m: float
    along_m: float
    smallest_m: float
    distance_m: float
    why_not: str = ""


def height_above(
    mapping: Mapping,
    foot_px: tuple[float, float],
    top_px: tuple[float, float],
    rng: np.random.Generator,
) -> Measured:
    """Return how tall an upright thing is, from its foot on the ground and its top.

    Parameters
    ----------
    mapping : Mapping
        Cameras, terrain and doubts.
    foot_px, top_px : (x, y)
        Points of the scan [px].
    rng : numpy.random.Generator
        Where chance comes from.

    Notes
    -----
    Through every camera ``d (T_top - T_foot)``, d the distance of the foot and T the
    tangents of elevation: the earth's curvature is the same for both.
    """
    x = np.array([foot_px[0], top_px[0]])
    y = np.array([foot_px[1], top_px[1]])
    rays = _rays(mapping, x, y, rng)
    met, distance = rays.met[:, :1], rays.distance_m[:, :1]
    tall = (distance * (rays.tangent[:, 1:] - rays.tangent[:, :1]))[:, 0]
    return _measured(tall, met[:, 0], distance[:, 0], rays.angle_rad[:, :1], mapping)


def length_between(
    mapping: Mapping, points_px: ArrayLike, rng: np.random.Generator
) -> Measured:
    """Return how long a line over the ground is, from point to point.

    Parameters
    ----------
    points_px : (n, 2) array_like of float
        Points of the scan on the ground, two at least [px].
    mapping, rng
        As of `height_above`.

    Raises
    ------
    InputError
        If there are fewer than two.
    """
    at = np.atleast_2d(np.asarray(points_px, dtype=np.float64))
    if at.shape[0] < 2 or at.shape[1] != 2:
        raise InputError(
            "A length goes between two points of the scan at least.",
            "Give where it begins and where it ends.",
        )
    rays = _rays(mapping, at[:, 0], at[:, 1], rng)
    east = rays.distance_m * np.sin(rays.bearing)
    north = rays.distance_m * np.cos(rays.bearing)
    up = rays.distance_m * rays.tangent
    steps = (np.diff(part, axis=1) for part in (east, north, up))
    long = np.sqrt(sum(step**2 for step in steps)).sum(axis=1)
    met = np.asarray(rays.met.all(axis=1))
    nearest = rays.distance_m.min(axis=1)
    return _measured(long, met, nearest, rays.angle_rad, mapping)


def pixel_at(
    mapping: Mapping, x_px: float, y_px: float, rng: np.random.Generator
) -> PixelOnGround:
    """Return how much of the ground and of upright things a pixel covers at a place."""
    x, y = np.array([x_px, x_px + 1.0, x_px]), np.array([y_px, y_px, y_px - 1.0])
    rays = _rays(mapping, x, y, rng, reading=False)
    met = rays.met[:, 0]
    share = float(met.mean())
    if share < _MUST_MEET:
        nan = float("nan")
        return PixelOnGround(nan, nan, nan, nan, nan, _why(share))
    distance = rays.distance_m[:, 0]
    side = np.abs(np.sin(rays.bearing[:, 1] - rays.bearing[:, 0])) * distance
    side = np.hypot(side, (rays.tangent[:, 1] - rays.tangent[:, 0]) * distance)
    upright = np.abs(rays.tangent[:, 2] - rays.tangent[:, 0]) * distance
    facing = upright * np.cos(np.arctan(rays.tangent[:, 0]))
    along = facing / np.sin(np.maximum(rays.angle_rad[:, 0], 1e-6))

    def middle(values: Array) -> float:
        return float(np.median(values[met]))

    smallest = _PIXELS_TO_SHOW * max(middle(side), middle(upright))
    return PixelOnGround(
        middle(side), middle(upright), middle(along), smallest, middle(distance)
    )


@dataclass(frozen=True)
class _Rays:
    """Hold rays of all cameras through some points, and the ground they meet."""

    bearing: Array
    tangent: Array
    met: NDArray[np.bool_]
    distance_m: Array
    angle_rad: Array


def _rays(
    mapping: Mapping,
    x: Array,
    y: Array,
    rng: np.random.Generator,
    *,
    reading: bool = True,
) -> _Rays:
    draws = mapping.cameras.draws
    sd_px = mapping.doubts.reading_sd_px if reading else 0.0
    off = rng.normal(0.0, sd_px, (2, len(draws), x.size))
    bearing, tangent = mapping.cameras.directions(x + off[0], y + off[1])
    first = meet_as_modelled(mapping, bearing, tangent)
    # One error of the ground for all points: they lie close together.
    near = np.where(first.what == GROUND, first.distance_m, np.inf).min(
        axis=1, keepdims=True
    )
    raised_m = mapping.ground_off_m(np.where(np.isfinite(near), near, 0.0), rng)
    met = meet_raised(mapping, bearing, tangent, first, raised_m)
    return _Rays(bearing, tangent, met.what == GROUND, met.distance_m, met.grazing_rad)


def _measured(
    values: Array,
    met: NDArray[np.bool_],
    distance: Array,
    angle: Array,
    mapping: Mapping,
) -> Measured:
    nan = float("nan")
    share = float(met.mean())
    if share < _MUST_MEET:
        return Measured(nan, nan, nan, nan, nan, _why(share))
    flat = float(np.median(angle[met], axis=0).min())
    away = float(np.median(distance[met]))
    if flat < mapping.doubts.least_angle_rad:
        return Measured(
            nan, nan, nan, nan, away,
            f"the ground is met too flatly there ({np.degrees(flat):.1f} degrees)",
        )  # fmt: skip
    kept = values[met]
    least, middle, most = np.quantile(kept, (0.05, 0.5, 0.95))
    sd = float(most - least) / (2.0 * _NORMAL_HALF)
    return Measured(float(middle), sd, float(least), float(most), away)


def _why(share: float) -> str:
    return (
        f"only {100.0 * share:.0f} in 100 of the likely cameras see ground there that "
        "the elevation model tells"
    )
