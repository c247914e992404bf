"""Find the bearings of points on a plate.

Symbols: X, Y plate coordinates from the plate's centre, right and up; c the
principal distance; f, r, u the axes forward, right and up of the camera, as in
``docs/conventions.md``.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wherestood.fix.result import CameraAnswer

__all__ = ["bearings_deg", "edge_bearings_deg"]


def bearings_deg(
    camera: CameraAnswer,
    x_px: NDArray[np.float64],
    y_px: NDArray[np.float64],
    width_px: int,
    height_px: int,
) -> NDArray[np.float64]:
    """Return true bearings of scan points, within half a turn of the sight.

    Parameters
    ----------
    camera : CameraAnswer
        How the camera was held.
    x_px, y_px : (n,) float64 array
        Points on the scan [px].
    width_px, height_px : int
        Size of the scan [px].

    Returns
    -------
    (n,) float64 array
        Bearings [deg], continuous across north.
    """
    hand = -1.0 if camera.reversed else 1.0
    right = hand * (np.asarray(x_px) - width_px / 2) + camera.cross_px
    above = height_px / 2 - np.asarray(y_px) + camera.rise_px
    half_diagonal_px = np.hypot(width_px, height_px) / 2
    perfect = 1.0 + camera.k1 * (right**2 + above**2) / half_diagonal_px**2
    right, above = right * perfect, above * perfect
    b, tau, rho = np.radians([camera.bearing_deg, camera.tilt_deg, camera.roll_deg])
    f = np.array([np.sin(b) * np.cos(tau), np.cos(b) * np.cos(tau), np.sin(tau)])
    r0 = np.array([np.cos(b), -np.sin(b), 0.0])
    u0 = np.cross(r0, f)
    r = r0 * np.cos(rho) - u0 * np.sin(rho)
    u = u0 * np.cos(rho) + r0 * np.sin(rho)
    ray = (
        np.outer(right, r) + np.outer(above, u) + camera.principal_distance_px * f[None]
    )
    bearing = np.degrees(np.arctan2(ray[:, 0], ray[:, 1]))
    turned: NDArray[np.float64] = (
        camera.bearing_deg + (bearing - camera.bearing_deg + 180.0) % 360.0 - 180.0
    )
    return turned


def edge_bearings_deg(
    camera: CameraAnswer, width_px: int, height_px: int
) -> tuple[float, float]:
    """Return the bearings of the left and right edges of the view, halfway up."""
    found = bearings_deg(
        camera,
        np.array([0.0, float(width_px)]),
        np.full(2, height_px / 2),
        width_px,
        height_px,
    )
    return float(found.min()), float(found.max())
