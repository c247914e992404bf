"""Carry scan pixels to directions and back through all cameras a fix leaves possible.

Symbols: X, Y what is seen from the lens axis, right and up [px]; w the place across the
plate, -1 at its left edge to 1 at its right. Beside `wherestood.camera.model` a picture
may here be a little taller than wide and bent, as the search allows it:
``Y = y (1 + vertical_scale) + warp_two (1.5 w^2 - 0.5) + warp_three (2.5 w^3 - 1.5 w)
+ rise``.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wherestood.camera.model import seen_over_ideal
from wherestood.fix.camera_draws import CameraDraws
from wherestood.plate.straight import StraightPlate

__all__ = ["PlateCameras"]

Array = NDArray[np.float64]
#: Directions this far from the lens axis are not on any plate: their cosine.
_LEAST_AHEAD = 0.05


@dataclass(frozen=True)
class PlateCameras:
    """Hold cameras with the plate that they exposed.

    Attributes
    ----------
    draws : CameraDraws
        The cameras, equally probable.
    width_px, height_px : int
        Size of the plate: of the scan, or of the straightened plate where corners are
        marked.
    straight : StraightPlate or None
        How the scan lies on it.
    """

    draws: CameraDraws
    width_px: int
    height_px: int
    straight: StraightPlate | None = None

    def __len__(self) -> int:
        """Return how many cameras there are."""
        return len(self.draws)

    def take(self, which: NDArray[np.int64] | NDArray[np.bool_]) -> PlateCameras:
        """Return some of them."""
        return replace(self, draws=self.draws.take(which))

    def directions(self, x_px: ArrayLike, y_px: ArrayLike) -> tuple[Array, Array]:
        """Return where each camera looks at each scan point.

        Parameters
        ----------
        x_px, y_px : (points,) or (cameras, points) array_like of float
            Points of the scan [px].

        Returns
        -------
        bearing_rad : (cameras, points) float64 array
            Grid bearings [rad].
        tangent : (cameras, points) float64 array
            Tangent of the elevation above the horizontal; NaN for points so far off
            the plate that they lie behind the camera.
        """
        x, y = self._on_plate(x_px, y_px)
        d = self.draws
        right_of = x - 0.5 * self.width_px
        right_of = np.where(d.reversed[:, None], -right_of, right_of)
        up_of = 0.5 * self.height_px - y
        across = right_of / (0.5 * self.width_px)
        axis_x = right_of + d.cross_px[:, None]
        axis_y = (
            up_of * (1.0 + d.vertical_scale[:, None])
            + d.warp_two_px[:, None] * (1.5 * across**2 - 0.5)
            + d.warp_three_px[:, None] * (2.5 * across**3 - 1.5 * across)
            + d.rise_px[:, None]
        )
        lens = 1.0 + d.k1[:, None] * (axis_x**2 + axis_y**2) / self._half_square
        axis_x, axis_y = axis_x * lens, axis_y * lens
        sr, cr = np.sin(d.roll_rad)[:, None], np.cos(d.roll_rad)[:, None]
        st, ct = np.sin(d.tilt_rad)[:, None], np.cos(d.tilt_rad)[:, None]
        right = axis_x * cr + axis_y * sr
        over = axis_y * cr - axis_x * sr
        ahead = d.principal_distance_px[:, None] * ct - over * st
        up = d.principal_distance_px[:, None] * st + over * ct
        bearing = d.bearing_rad[:, None] + np.arctan2(right, ahead)
        level = np.hypot(right, ahead)
        tangent = np.where(ahead > _LEAST_AHEAD * level, up / level, np.nan)
        return bearing, tangent

    def pixels(self, bearing_rad: Array, tangent: Array) -> tuple[Array, Array]:
        """Return the scan points at which cameras show directions.

        Parameters
        ----------
        bearing_rad, tangent : (cameras, points) float64 array
            As `directions` returns them.

        Returns
        -------
        x_px, y_px : (cameras, points) float64 array
            Beyond the scan's edges too; NaN for what lies behind the camera, and where
            a pincushion lens (k1 < 0) folds back and draws nothing.
        """
        d = self.draws
        off = bearing_rad - d.bearing_rad[:, None]
        sr, cr = np.sin(d.roll_rad)[:, None], np.cos(d.roll_rad)[:, None]
        st, ct = np.sin(d.tilt_rad)[:, None], np.cos(d.tilt_rad)[:, None]
        ahead = np.cos(off) * ct + tangent * st
        ahead = np.where(ahead > _LEAST_AHEAD, ahead, np.nan)
        right = np.sin(off) / ahead * d.principal_distance_px[:, None]
        over = tangent * ct - np.cos(off) * st
        over = over / ahead * d.principal_distance_px[:, None]
        ideal_x, ideal_y = right * cr - over * sr, right * sr + over * cr
        radius = np.hypot(ideal_x, ideal_y) / np.sqrt(self._half_square)
        drawn_in = seen_over_ideal(radius, d.k1[:, None])
        seen_x, seen_y = ideal_x * drawn_in, ideal_y * drawn_in
        right_of = seen_x - d.cross_px[:, None]
        across = right_of / (0.5 * self.width_px)
        warp = d.warp_two_px[:, None] * (1.5 * across**2 - 0.5)
        warp = warp + d.warp_three_px[:, None] * (2.5 * across**3 - 1.5 * across)
        up_of = (seen_y - d.rise_px[:, None] - warp) / (1.0 + d.vertical_scale[:, None])
        right_of = np.where(d.reversed[:, None], -right_of, right_of)
        x, y = 0.5 * self.width_px + right_of, 0.5 * self.height_px - up_of
        if self.straight is None:
            return x, y
        on_scan = self.straight.to_scan(np.stack((x, y), axis=-1))
        return on_scan[..., 0], on_scan[..., 1]

    @property
    def _half_square(self) -> float:
        return 0.25 * (self.width_px**2 + self.height_px**2)

    def _on_plate(self, x_px: ArrayLike, y_px: ArrayLike) -> tuple[Array, Array]:
        x, y = np.broadcast_arrays(
            np.asarray(x_px, dtype=np.float64), np.asarray(y_px, dtype=np.float64)
        )
        if self.straight is not None:
            laid = self.straight.to_plate(np.stack((x, y), axis=-1))
            x, y = laid[..., 0], laid[..., 1]
        return np.atleast_2d(x), np.atleast_2d(y)
