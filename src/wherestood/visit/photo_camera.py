"""Carry what a plate shows to where a photograph made near its station shows it.

Symbols: v a direction before the plate's camera, its level length 1, along right,
forward, up of the plate's sight; w one over the level distance [1/m]; t where the
photograph's lens stands, right, forward, up of the plate's [m].

A thing at ``v / w`` from the plate's lens lies along ``v - w t`` from the photograph's.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["UNKNOWNS", "PhotoCamera"]

Array = NDArray[np.float64]
#: What is solved for, in this order; the lens's place first.
UNKNOWNS = (
    "right_m", "forward_m", "up_m", "turn_rad", "tilt_rad", "roll_rad",
    "log_distance", "k1", "axis_x", "axis_y",
)  # fmt: skip


@dataclass(frozen=True)
class PhotoCamera:
    """Hold where a photograph's camera stood and how it was held.

    Attributes
    ----------
    values : (10,) float64 array
        In the order of `UNKNOWNS`: place [m]; bearing less the plate's, tilt and roll
        [rad]; logarithm of the principal distance over the diagonal; radial term; where
        the axis meets the picture from its middle, over the diagonal.
    width_px, height_px : int
        Of the photograph [px].
    mirrored : bool
        Whether the file shows it left for right.
    """

    values: Array
    width_px: int
    height_px: int
    mirrored: bool = False

    @property
    def offset_m(self) -> Array:
        """Return right, forward and up of the plate's lens [m]."""
        return self.values[:3]

    @property
    def principal_distance_px(self) -> float:
        """Return lens to picture [px]."""
        return float(np.exp(self.values[6])) * self.diagonal_px

    @property
    def diagonal_px(self) -> float:
        """Return the photograph's diagonal [px]."""
        return float(np.hypot(self.width_px, self.height_px))

    def pixels(self, directions: Array, inverse_m: Array) -> Array:
        """Return where things show.

        Parameters
        ----------
        directions : (..., 3) float64 array
            v, no unit.
        inverse_m : (...) float64 array
            w [1/m]; 0 for what is endlessly far.

        Returns
        -------
        (..., 2) float64 array
            On the photograph [px]; NaN for what lies behind its lens.
        """
        right, forward, up, turn, tilt, roll, log_c, k1, axis_x, axis_y = self.values
        seen = directions - inverse_m[..., None] * np.array([right, forward, up])
        local = seen @ _axes(turn, tilt, roll).T
        ahead = np.where(local[..., 2] > 1e-6, local[..., 2], np.nan)
        diagonal = self.diagonal_px
        ideal = np.exp(log_c) * diagonal * local[..., :2] / ahead[..., None]
        at = ideal
        for _ in range(4):
            lens = (
                1.0 + k1 * (at**2).sum(axis=-1, keepdims=True) * (2.0 / diagonal) ** 2
            )
            at = ideal / lens
        x = 0.5 * self.width_px + axis_x * diagonal + at[..., 0]
        y = 0.5 * self.height_px + axis_y * diagonal - at[..., 1]
        if self.mirrored:
            x = self.width_px - x
        return np.stack((x, y), axis=-1)


def _axes(turn: float, tilt: float, roll: float) -> Array:
    """Return right, up and forward as rows, in right, forward, up of the plate."""
    st, ct = np.sin(tilt), np.cos(tilt)
    sr, cr = np.sin(roll), np.cos(roll)
    level = np.array([np.cos(turn), -np.sin(turn), 0.0])
    over = np.array([-np.sin(turn) * st, -np.cos(turn) * st, ct])
    ahead = np.array([np.sin(turn) * ct, np.cos(turn) * ct, st])
    return np.stack([level * cr - over * sr, over * cr + level * sr, ahead])
