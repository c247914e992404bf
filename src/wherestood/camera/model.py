"""Carry scan pixels to directions in the world, and back.

Symbols
-------
b, tau, rho : bearing, tilt, roll [rad]
c : principal distance [px]
h : half the frame's diagonal [px]
q : what is seen, from the lens axis, right and up [px]
p : where a perfect lens would draw it [px], ``p = q (1 + k1 |q|^2 / h^2)``

Senses, signs and sketches: ``docs/conventions.md``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wherestood.errors import InputError, LensError

__all__ = [
    "Camera", "axes", "bearing_elevation", "project", "rays", "seen_over_ideal",
    "sight",
]  # fmt: skip

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Camera:
    """Hold how a camera was set, in pixels of its upright positive scan.

    Attributes
    ----------
    bearing_rad : float
        Grid bearing of the lens axis, clockwise from grid north [rad].
    tilt_rad, roll_rad : float
        Axis above the horizontal; turn clockwise seen from behind [rad].
    principal_distance_px : float
        Lens to plate [px].
    rise_px, cross_px : float
        Frame's centre above and right of the lens axis, trim included [px].
    k1 : float
        Radial term, no unit: ideal = seen (1 + k1 r^2), r the distance seen from
        the lens axis over half the frame's diagonal; positive is barrel.
    width_px, height_px : int
        Size of the scan [px].
    reversed : bool
        Whether the scan is mirrored left to right.

    Raises
    ------
    InputError
        If a value is no finite number or the scan has no size.
    LensError
        If the principal distance is not above zero.
    """

    bearing_rad: float
    tilt_rad: float
    roll_rad: float
    principal_distance_px: float
    rise_px: float
    cross_px: float
    k1: float
    width_px: int
    height_px: int
    reversed: bool = False

    def __post_init__(self) -> None:
        """Refuse what cannot be a camera."""
        for name, value in vars(self).items():
            if not math.isfinite(value):
                raise InputError(
                    f"The camera's {name} must be a finite number, not {value}.",
                    "Give every number of the camera.",
                )
        if self.width_px <= 0 or self.height_px <= 0:
            raise InputError(
                f"The camera's frame must have a size, not {self.width_px} x "
                f"{self.height_px} px.",
                "Give the width and height of the scan.",
            )
        if self.principal_distance_px <= 0.0:
            raise LensError(
                "The principal distance must be above 0 px, not "
                f"{self.principal_distance_px:g} px.",
                "Give lens to plate as a positive length.",
            )

    @property
    def half_diagonal_px(self) -> float:
        """Half the frame's diagonal [px]."""
        return math.hypot(self.width_px, self.height_px) / 2.0

    @property
    def distance_over_diagonal(self) -> float:
        """Principal distance over the frame's diagonal, no unit."""
        return self.principal_distance_px / (2.0 * self.half_diagonal_px)


def axes(camera: Camera) -> Array:
    """Return the camera's axes in the world.

    Returns
    -------
    (3, 3) float64 array
        Rows right, up, forward; columns east, north, up: it carries a vector of
        the world into the (left-handed) frame of the camera.
    """
    sb, cb = math.sin(camera.bearing_rad), math.cos(camera.bearing_rad)
    st, ct = math.sin(camera.tilt_rad), math.cos(camera.tilt_rad)
    sr, cr = math.sin(camera.roll_rad), math.cos(camera.roll_rad)
    forward = np.array([sb * ct, cb * ct, st])
    level = np.array([cb, -sb, 0.0])
    square = np.array([-sb * st, -cb * st, ct])  # level x forward
    return np.stack([level * cr - square * sr, square * cr + level * sr, forward])


def rays(camera: Camera, x_px: ArrayLike, y_px: ArrayLike) -> Array:
    """Return the direction in which each pixel looks.

    Parameters
    ----------
    camera : Camera
    x_px, y_px : array_like of float, of one shape
        Pixels of the upright positive scan [px]; NaN gives NaN.

    Returns
    -------
    (..., 3) float64 array
        Unit vectors east, north, up.
    """
    x, y = np.broadcast_arrays(
        np.asarray(x_px, dtype=np.float64), np.asarray(y_px, dtype=np.float64)
    )
    upright_x = camera.width_px - x if camera.reversed else x
    right = upright_x - camera.width_px / 2.0 + camera.cross_px
    up = camera.height_px / 2.0 - y + camera.rise_px
    lens = 1.0 + camera.k1 * (right**2 + up**2) / camera.half_diagonal_px**2
    forward = np.full_like(right, camera.principal_distance_px)
    local = np.stack([right * lens, up * lens, forward], axis=-1)
    world = local @ axes(camera)
    unit: Array = world / np.linalg.norm(world, axis=-1, keepdims=True)
    return unit


def project(camera: Camera, directions: ArrayLike) -> tuple[Array, Array]:
    """Return the pixel at which each direction is seen.

    Parameters
    ----------
    camera : Camera
    directions : (..., 3) array_like of float
        Directions east, north, up, of any length.

    Returns
    -------
    x_px, y_px : (...) float64 arrays
        Pixels [px], beyond the frame too; NaN behind the camera, and where a
        pincushion lens (k1 < 0) folds back and draws nothing.
    """
    local = np.asarray(directions, dtype=np.float64) @ axes(camera).T
    ahead = np.where(local[..., 2] > 0.0, local[..., 2], np.nan)
    ideal = camera.principal_distance_px * local[..., :2] / ahead[..., None]
    radius = np.hypot(ideal[..., 0], ideal[..., 1]) / camera.half_diagonal_px
    seen = ideal * seen_over_ideal(radius, camera.k1)[..., None]
    return _pixel(camera, seen)


def bearing_elevation(
    camera: Camera, x_px: ArrayLike, y_px: ArrayLike
) -> tuple[Array, Array]:
    """Return where in the world each pixel looks, as two angles.

    Returns
    -------
    bearing_rad : (...) float64 array
        Grid bearings, 0 to 2 pi [rad].
    elevation_rad : (...) float64 array
        Angles above the horizontal at the lens [rad].
    """
    east, north, up = np.moveaxis(rays(camera, x_px, y_px), -1, 0)
    bearing_rad: Array = np.mod(np.arctan2(east, north), 2.0 * np.pi)
    elevation_rad: Array = np.arctan2(up, np.hypot(east, north))
    return bearing_rad, elevation_rad


def sight(camera: Camera) -> tuple[float, float]:
    """Return the bearing and elevation of the frame's centre [rad]."""
    bearing_rad, elevation_rad = bearing_elevation(
        camera, camera.width_px / 2.0, camera.height_px / 2.0
    )
    return float(bearing_rad), float(elevation_rad)


def _pixel(camera: Camera, seen: Array) -> tuple[Array, Array]:
    """Carry what is seen from the lens axis to pixels of the scan."""
    x = seen[..., 0] - camera.cross_px + camera.width_px / 2.0
    y = camera.height_px / 2.0 - (seen[..., 1] - camera.rise_px)
    return (camera.width_px - x if camera.reversed else x), y


def seen_over_ideal(ideal: ArrayLike, k1: ArrayLike) -> Array:
    """Solve ``s + k1 s^3 = ideal`` for ``s / ideal``; NaN where nothing is drawn.

    Parameters
    ----------
    ideal, k1 : array_like of float
        Distance from the lens axis as a perfect lens would draw it, over the half
        diagonal, and the radial term; they broadcast.

    Notes
    -----
    The cubic in closed form, by ``sinh 3u = 3 sinh u + 4 sinh^3 u`` where k1 > 0
    and ``sin 3u = 3 sin u - 4 sin^3 u`` where k1 < 0. Steps from a first guess end
    anywhere far off the axis, where k1 s^2 is no small number.
    """
    ideal, k1 = np.asarray(ideal, dtype=np.float64), np.asarray(k1, dtype=np.float64)
    scale = np.sqrt(3.0 * np.abs(k1))
    straight = (scale == 0.0) | (ideal == 0.0)
    triple = 1.5 * scale * ideal
    drawn = np.where(triple <= 1.0, triple, np.nan)
    third = np.where(
        k1 > 0.0, np.sinh(np.arcsinh(triple) / 3.0), np.sin(np.arcsin(drawn) / 3.0)
    )
    ratio = 2.0 / np.where(straight, 1.0, scale) * third
    ratio = ratio / np.where(straight, 1.0, ideal)
    return np.asarray(np.where(straight & np.isfinite(ideal), 1.0, ratio))
