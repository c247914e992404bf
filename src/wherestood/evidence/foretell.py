"""Foretell where cameras would show what lies in a known direction.

Symbols
-------
az, t : bearing [rad] and tangent of elevation of a point from the station
alpha : bearing from the lens axis; c principal distance over the diagonal
tau, rho : tilt and roll [rad]
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.unknowns import CAMERA, COUNT

__all__ = ["plate_gradient", "plate_points"]

Array = NDArray[np.float64]

#: Steps of the difference quotients: a plate is smooth on this scale, bearing and
#: tangent likewise.
_STEP = 1e-5
_WARP_ROUNDS = 5
#: Directions this far from the axis cannot be shown: their cosine.
_LEAST_AHEAD = 0.05


def plate_points(
    theta: Array, azimuth_rad: Array, tangent: Array, half_width: float
) -> Array:
    """Return where cameras would show points, over the diagonal, Y up.

    Parameters
    ----------
    theta : (..., unknowns) float64 array
        Cameras.
    azimuth_rad, tangent : (...) float64 array
        Directions of the points from each camera's station.
    half_width : float
        Half of the scan's width over its diagonal, which the warp is counted by.

    Returns
    -------
    (..., 2) float64 array
        NaN for what lies behind the camera.
    """
    alpha = azimuth_rad - theta[..., 0]
    c = np.exp(theta[..., 1])
    tilt, roll = theta[..., 2], theta[..., 3]
    right, ahead = np.sin(alpha), np.cos(alpha)
    axis = ahead * np.cos(tilt) + tangent * np.sin(tilt)
    axis = np.where(axis > _LEAST_AHEAD, axis, np.nan)
    over = -ahead * np.sin(tilt) + tangent * np.cos(tilt)
    x = c * (right * np.cos(roll) - over * np.sin(roll)) / axis
    y = c * (right * np.sin(roll) + over * np.cos(roll)) / axis
    seen_x, seen_y = x, y
    for _ in range(_WARP_ROUNDS):
        lens = 1.0 + theta[..., 6] * 4.0 * (seen_x**2 + seen_y**2)
        seen_x, seen_y = x / lens, y / lens
    plate_x = seen_x - theta[..., 5]
    across = plate_x / half_width
    warp = theta[..., 8] * (1.5 * across**2 - 0.5)
    warp = warp + theta[..., 9] * (2.5 * across**3 - 1.5 * across)
    plate_y = (seen_y - theta[..., 4] - warp) / (1.0 + theta[..., 7])
    return np.stack((plate_x, plate_y), axis=-1)


def plate_gradient(
    theta: Array, azimuth_rad: Array, tangent: Array, half_width: float
) -> tuple[Array, Array]:
    """Return how the points move with the camera's unknowns and with the direction.

    Returns
    -------
    by_camera : (..., 2, unknowns) float64 array
        Nought for unknowns that are none of the camera's own.
    by_direction : (..., 2, 2) float64 array
        By bearing and by tangent.
    """

    def at(moved: Array, turn: float, rise: float) -> Array:
        return plate_points(
            theta + moved, azimuth_rad + turn, tangent + rise, half_width
        )

    shape = np.broadcast_shapes(theta.shape[:-1], np.shape(azimuth_rad))
    by_camera = np.zeros((*shape, 2, COUNT))
    none = np.zeros(COUNT)
    for unknown in range(CAMERA):
        moved = none.copy()
        moved[unknown] = _STEP
        change = at(moved, 0.0, 0.0) - at(-moved, 0.0, 0.0)
        by_camera[..., unknown] = change / (2.0 * _STEP)
    by_direction = np.stack(
        [
            (at(none, turn, rise) - at(none, -turn, -rise)) / (2.0 * _STEP)
            for turn, rise in ((_STEP, 0.0), (0.0, _STEP))
        ],
        axis=-1,
    )
    return by_camera, by_direction
