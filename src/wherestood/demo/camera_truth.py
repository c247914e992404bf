"""Hold an invented camera as it truly was, written apart from the fitted one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["CameraTruth"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class CameraTruth:
    """Hold how a camera was set and how its scan lies on the plate.

    Attributes
    ----------
    bearing_deg : float
        Grid bearing of the lens axis, clockwise from grid north [deg].
    tilt_deg, roll_deg : float
        Axis above the horizontal; turn clockwise as seen from behind [deg].
    c_px : float
        Principal distance [px].
    x0_px, y0_px : float
        Where the lens axis meets the upright, unreversed scan [px].
    k1 : float
        A point seen at radius ``r`` from the axis stands, for a perfect lens, at
        ``r * (1 + k1 * (r / half_diagonal_px)**2)``; positive: barrel.
    width_px, height_px : int
        Size of the scan [px].
    reversed : bool
        Whether the scan as handed over is mirrored left to right.
    """

    bearing_deg: float
    tilt_deg: float
    roll_deg: float
    c_px: float
    x0_px: float
    y0_px: float
    k1: float
    width_px: int
    height_px: int
    reversed: bool = False

    @property
    def half_diagonal_px(self) -> float:
        """Half the scan's diagonal [px]."""
        return float(np.hypot(self.width_px, self.height_px) / 2.0)

    @property
    def rise_px(self) -> float:
        """Frame centre above the lens axis [px]."""
        return self.y0_px - self.height_px / 2.0

    @property
    def cross_px(self) -> float:
        """Frame centre right of the lens axis [px]."""
        return self.width_px / 2.0 - self.x0_px

    def axes(self) -> Array:
        """Return right, up and forward as rows, in east, north, up."""
        bearing, tilt, roll = np.radians(
            [self.bearing_deg, self.tilt_deg, self.roll_deg]
        )
        turn = _turn_about_up(bearing) @ _turn_about_east(tilt) @ _turn_about_axis(roll)
        # Columns of the product: where camera right, forward, up point.
        return turn.T[[0, 2, 1]]

    def rays(self, x_px: Array, y_px: Array) -> Array:
        """Return the unit direction in east, north, up of each pixel, (n, 3)."""
        x = self._mirror(np.asarray(x_px, dtype=np.float64)) - self.x0_px
        y = self.y0_px - np.asarray(y_px, dtype=np.float64)
        ideal = 1.0 + self.k1 * (np.hypot(x, y) / self.half_diagonal_px) ** 2
        local = np.stack([x * ideal, y * ideal, np.full_like(x, self.c_px)], axis=-1)
        rays = local @ self.axes()
        return np.asarray(rays / np.linalg.norm(rays, axis=-1, keepdims=True))

    def project(self, rays: Array) -> tuple[Array, Array]:
        """Return the pixel of each direction, NaN behind the camera."""
        local = np.asarray(rays, dtype=np.float64) @ self.axes().T
        ahead = np.where(local[..., 2] > 1e-9, local[..., 2], np.nan)
        x, y = self.c_px * local[..., 0] / ahead, self.c_px * local[..., 1] / ahead
        drawn = self._seen_over_ideal(np.hypot(x, y))
        return self._mirror(self.x0_px + x * drawn), self.y0_px - y * drawn

    def _mirror(self, x_px: Array) -> Array:
        return self.width_px - x_px if self.reversed else x_px

    def _seen_over_ideal(self, ideal_px: Array) -> Array:
        """Solve ``r + k1 r^3 = ideal`` by Newton's method, over ``ideal``."""
        ideal = ideal_px / self.half_diagonal_px
        seen = ideal.copy()
        for _ in range(8):
            seen -= (seen + self.k1 * seen**3 - ideal) / (1.0 + 3.0 * self.k1 * seen**2)
        return np.where(ideal > 0.0, seen / np.where(ideal > 0.0, ideal, 1.0), 1.0)


def _turn_about_up(angle_rad: float) -> Array:
    """Turn clockwise seen from above: north goes to the bearing."""
    s, c = np.sin(angle_rad), np.cos(angle_rad)
    return np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])


def _turn_about_east(angle_rad: float) -> Array:
    """Lift north towards up."""
    s, c = np.sin(angle_rad), np.cos(angle_rad)
    return np.array([[1.0, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]])


def _turn_about_axis(angle_rad: float) -> Array:
    """Turn clockwise seen from behind, looking north: up goes to the right."""
    s, c = np.sin(angle_rad), np.cos(angle_rad)
    return np.array([[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]])
