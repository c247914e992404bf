"""Differentiate the projection of points by camera and station.

Symbols
-------
p, q, h : ideal and seen point from the lens axis, half-diagonal [px], as in
    ``wherestood.camera.model``
a, e, f : a direction along the camera's right, up and forward
J : dp/dq = ``(1 + k1 |q|^2 / h^2) I + 2 k1 q q' / h^2``
kappa : ``(1 - k) / (2 R)``, half the curvature of the ray over the earth [1/m]
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wherestood.camera.model import Camera, axes, project
from wherestood.earth.curvature import DEFAULT_REFRACTION, MEAN_RADIUS_M, drop_m

__all__ = [
    "CAMERA_PARAMETERS",
    "Derivatives",
    "project_points",
    "project_points_derivatives",
    "projection_derivatives",
]

Array = NDArray[np.float64]

CAMERA_PARAMETERS = (
    "bearing_rad",
    "tilt_rad",
    "roll_rad",
    "principal_distance_px",
    "rise_px",
    "cross_px",
    "k1",
)
"""Parameters of a `Camera`, in the order of the columns of derivatives."""


@dataclass(frozen=True)
class Derivatives:
    """Hold pixels and how they move.

    Attributes
    ----------
    pixels : (..., 2) float64 array
        x and y [px]; NaN where `project` gives NaN, and then so is the rest.
    by_camera : (..., 2, 7) float64 array
        By each of `CAMERA_PARAMETERS` [px per rad, px or 1].
    by_direction : (..., 2, 3) float64 array
        By the direction's (or the station's) east, north, up [px per unit].
    """

    pixels: Array
    by_camera: Array
    by_direction: Array


def project_points(
    camera: Camera,
    station_m: ArrayLike,
    points_m: ArrayLike,
    *,
    refraction: float = DEFAULT_REFRACTION,
    radius_m: float = MEAN_RADIUS_M,
) -> tuple[Array, Array]:
    """Return the pixels at which points on the ground are seen.

    Parameters
    ----------
    camera : Camera
    station_m : (3,) array_like of float
        East, north, height of the lens [m].
    points_m : (..., 3) array_like of float
        East, north, height of the points, in the same frame and datum [m].
    refraction : float
        Refraction coefficient k, no unit.
    radius_m : float
        Mean radius of curvature R [m]; infinite on a flat earth.

    Returns
    -------
    x_px, y_px : (...) float64 arrays
        Pixels [px]; NaN as in `project`.
    """
    directions = _directions(station_m, points_m, refraction, radius_m)
    return project(camera, directions)


def projection_derivatives(camera: Camera, directions: ArrayLike) -> Derivatives:
    """Return the pixels of directions, and their derivatives.

    Parameters
    ----------
    camera : Camera
    directions : (..., 3) array_like of float
        Directions east, north, up, of any length.
    """
    world = np.asarray(directions, dtype=np.float64)
    x, y = project(camera, world)
    R_camera_from_enu = axes(camera)
    local = world @ R_camera_from_enu.T
    turned = _turn_derivatives(camera, local)
    per_local = _ideal_by_local(camera, local)
    ideal = np.empty((*local.shape[:-1], 2, 7))
    ideal[..., :3] = per_local @ turned
    ideal[..., 3] = local[..., :2] / local[..., 2:]
    ideal[..., 4:6] = 0.0
    seen = _seen_from_axis(camera, x, y)
    r2 = np.sum(seen**2, axis=-1, keepdims=True) / camera.half_diagonal_px**2
    ideal[..., 6] = -seen * r2  # p held still, q moves against k1
    per_ideal = _seen_by_ideal(camera, seen)
    to_pixel = np.array([-1.0 if camera.reversed else 1.0, -1.0])[:, None]
    by_camera = to_pixel * (per_ideal @ ideal)
    by_camera[..., 1, 4] = 1.0
    by_camera[..., 0, 5] = 1.0 if camera.reversed else -1.0
    by_direction = to_pixel * (per_ideal @ per_local @ R_camera_from_enu)
    lost = np.isnan(x)
    by_camera[lost] = np.nan
    by_direction[lost] = np.nan
    return Derivatives(np.stack([x, y], axis=-1), by_camera, by_direction)


def project_points_derivatives(
    camera: Camera,
    station_m: ArrayLike,
    points_m: ArrayLike,
    *,
    refraction: float = DEFAULT_REFRACTION,
    radius_m: float = MEAN_RADIUS_M,
) -> Derivatives:
    """Return what `project_points` returns, and its derivatives.

    ``by_direction`` is here by the *station's* east, north, height [px/m]; by the
    point's own it is the same with the other sign.
    """
    world = _directions(station_m, points_m, refraction, radius_m)
    found = projection_derivatives(camera, world)
    by_station = -found.by_direction
    # A station moved towards a point shortens the distance, so the drop: d(kappa
    # d^2) = -2 kappa (point - station).
    kappa = float(drop_m(1.0, refraction, radius_m))
    lift = 2.0 * kappa * world[..., None, :2]
    by_station[..., :2] += found.by_direction[..., 2:] * lift
    return Derivatives(found.pixels, found.by_camera, by_station)


def _directions(
    station_m: ArrayLike, points_m: ArrayLike, refraction: float, radius_m: float
) -> Array:
    """Return east, north, up from station to points, lowered by the round earth."""
    offset: Array = np.array(
        np.asarray(points_m, dtype=np.float64) - np.asarray(station_m, dtype=np.float64)
    )
    distance_m = np.hypot(offset[..., 0], offset[..., 1])
    offset[..., 2] -= drop_m(distance_m, refraction, radius_m)
    return offset


def _seen_from_axis(camera: Camera, x_px: Array, y_px: Array) -> Array:
    upright_x = camera.width_px - x_px if camera.reversed else x_px
    right = upright_x - camera.width_px / 2.0 + camera.cross_px
    up = camera.height_px / 2.0 - y_px + camera.rise_px
    return np.stack([right, up], axis=-1)


def _turn_derivatives(camera: Camera, local: Array) -> Array:
    """Return (..., 3, 3): a, e, f by bearing, tilt, roll."""
    st, ct = math.sin(camera.tilt_rad), math.cos(camera.tilt_rad)
    sr, cr = math.sin(camera.roll_rad), math.cos(camera.roll_rad)
    a, e, f = np.moveaxis(local, -1, 0)
    level = a * cr + e * sr
    square = e * cr - a * sr
    turned = np.empty((*local.shape, 3))
    # Of the unrolled axes: level' = st square - ct forward, square' = -st level,
    # forward' = ct level.
    level_b = st * square - ct * f
    square_b = -st * level
    turned[..., 0, 0] = level_b * cr - square_b * sr
    turned[..., 1, 0] = square_b * cr + level_b * sr
    turned[..., 2, 0] = ct * level
    # By tilt: square' = -forward, forward' = square.
    turned[..., 0, 1] = f * sr
    turned[..., 1, 1] = -f * cr
    turned[..., 2, 1] = square
    # By roll: right' = -up, up' = right.
    turned[..., 0, 2] = -e
    turned[..., 1, 2] = a
    turned[..., 2, 2] = 0.0
    return turned


def _ideal_by_local(camera: Camera, local: Array) -> Array:
    """Return (..., 2, 3): the ideal point by a, e, f."""
    a, e, f = np.moveaxis(local, -1, 0)
    c_over_f = camera.principal_distance_px / f
    found = np.zeros((*local.shape[:-1], 2, 3))
    found[..., 0, 0] = c_over_f
    found[..., 1, 1] = c_over_f
    found[..., 0, 2] = -c_over_f * a / f
    found[..., 1, 2] = -c_over_f * e / f
    return found


def _seen_by_ideal(camera: Camera, seen: Array) -> Array:
    """Return (..., 2, 2): the inverse of J, by Sherman and Morrison's formula."""
    h2 = camera.half_diagonal_px**2
    r2 = np.sum(seen**2, axis=-1)[..., None, None] / h2
    lens = 1.0 + camera.k1 * r2
    outer = seen[..., :, None] * seen[..., None, :] / h2
    rank_one = 2.0 * camera.k1 * outer / (lens * (lens + 2.0 * camera.k1 * r2))
    inverse: Array = np.eye(2) / lens - rank_one
    return inverse
