"""Hold cameras as a fix leaves them possible: each with its place and its lens.

What a fix tells of single unknowns is not enough to go on from: tilt and rise, bearing
and cross, lens and distance make up for one another, and only together are they known.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

__all__ = ["CameraDraws"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class CameraDraws:
    """Hold cameras drawn from a fix, all equally probable.

    Attributes
    ----------
    east_m, north_m, lens_m : (n,) float64 array
        Station in the frame, and height of the lens in the model's datum [m].
    bearing_rad, tilt_rad, roll_rad : (n,) float64 array
        Grid bearing of the lens axis, tilt and roll [rad].
    principal_distance_px, rise_px, cross_px : (n,) float64 array
        In pixels of the straightened plate [px].
    k1, vertical_scale : (n,) float64 array
        Radial term; how much taller than wide the picture is, less 1; no unit.
    warp_two_px, warp_three_px : (n,) float64 array
        Second and third order bending of the plate upwards, across it [px].
    reversed : (n,) bool array
        Whether the scan, as opened, is mirrored left to right.
    """

    east_m: Array
    north_m: Array
    lens_m: Array
    bearing_rad: Array
    tilt_rad: Array
    roll_rad: Array
    principal_distance_px: Array
    rise_px: Array
    cross_px: Array
    k1: Array
    vertical_scale: Array
    warp_two_px: Array
    warp_three_px: Array
    reversed: NDArray[np.bool_]

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self.east_m)

    def take(self, which: NDArray[np.int64] | NDArray[np.bool_]) -> CameraDraws:
        """Return some of them."""
        return CameraDraws(
            *(getattr(self, field.name)[which] for field in fields(self))
        )
