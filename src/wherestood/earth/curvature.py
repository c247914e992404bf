"""Work out the lowering of distant ground by curvature less refraction.

Symbols: R mean radius of curvature [m], k refraction coefficient (the radius
of the earth over the radius of the ray), d distance [m], h height of eye [m].
A straight ray over an earth of radius R / (1 - k) replaces the bent one.
"""

from __future__ import annotations

import numpy as np
import pyproj
from numpy.typing import NDArray

from wherestood.errors import InputError

__all__ = [
    "DEFAULT_REFRACTION",
    "MEAN_RADIUS_M",
    "curvature_radius_m",
    "drop_m",
    "sea_horizon_dip_rad",
    "sea_horizon_distance_m",
]

DEFAULT_REFRACTION = 0.13
"""Refraction coefficient k, no unit: Gauss 1826, good to about a quarter."""

MEAN_RADIUS_M = 6_371_008.8
"""Mean radius (2a + b) / 3 of the WGS 84 ellipsoid [m]."""

_WGS84 = pyproj.Geod(ellps="WGS84")


def drop_m(
    distance_m: NDArray[np.float64] | float,
    refraction: float = DEFAULT_REFRACTION,
    radius_m: float = MEAN_RADIUS_M,
) -> NDArray[np.float64]:
    """Return how far ground at a distance appears lowered [m].

    Parameters
    ----------
    distance_m : array or float
        Distances along the ground [m].
    refraction : float
        Refraction coefficient k, no unit.
    radius_m : float
        Mean radius of curvature R [m].

    Returns
    -------
    float64 array, shape of ``distance_m``
        ``(1 - k) d^2 / (2 R)`` [m]; NaN where the distance is NaN.

    Notes
    -----
    The next term, ``d^4 / (8 R^3)``, is 0.05 m at 100 km.
    """
    distance = np.asarray(distance_m, dtype=np.float64)
    return np.asarray(distance**2 * _half_curvature(refraction, radius_m))


def sea_horizon_dip_rad(
    eye_height_m: NDArray[np.float64] | float,
    refraction: float = DEFAULT_REFRACTION,
    radius_m: float = MEAN_RADIUS_M,
) -> NDArray[np.float64]:
    """Return how far the sea horizon lies below the level line [rad].

    Parameters
    ----------
    eye_height_m : array or float
        Heights of eye above the water [m], none negative.
    refraction : float
        Refraction coefficient k, no unit.
    radius_m : float
        Mean radius of curvature R [m].

    Returns
    -------
    float64 array, shape of ``eye_height_m``
        ``sqrt(2 h (1 - k) / R)`` [rad], positive downwards.
    """
    height = _checked_eye_height(eye_height_m)
    return np.asarray(np.sqrt(4.0 * height * _half_curvature(refraction, radius_m)))


def sea_horizon_distance_m(
    eye_height_m: NDArray[np.float64] | float,
    refraction: float = DEFAULT_REFRACTION,
    radius_m: float = MEAN_RADIUS_M,
) -> NDArray[np.float64]:
    """Return the distance of the sea horizon [m].

    Parameters
    ----------
    eye_height_m : array or float
        Heights of eye above the water [m], none negative.
    refraction : float
        Refraction coefficient k, no unit.
    radius_m : float
        Mean radius of curvature R [m].

    Returns
    -------
    float64 array, shape of ``eye_height_m``
        ``sqrt(2 h R / (1 - k))`` [m].
    """
    height = _checked_eye_height(eye_height_m)
    return np.asarray(np.sqrt(height / _half_curvature(refraction, radius_m)))


def curvature_radius_m(lat_deg: float) -> float:
    """Return the Gaussian mean radius of curvature of WGS 84 [m].

    Parameters
    ----------
    lat_deg : float
        Geodetic latitude [deg].

    Returns
    -------
    float
        ``sqrt(M N) = b / (1 - e^2 sin^2 lat)`` [m], M and N the radii of
        curvature in the meridian and across it.
    """
    sine = np.sin(np.radians(lat_deg))
    return float(_WGS84.b / (1.0 - _WGS84.es * sine**2))


def _half_curvature(refraction: float, radius_m: float) -> float:
    """Return ``(1 - k) / (2 R)`` [1/m] of checked values."""
    if not refraction < 1.0:
        raise InputError(
            f"The refraction coefficient must be below 1, not {refraction:g}.",
            "The usual value is 0.13.",
        )
    if not radius_m > 0.0:
        raise InputError(
            f"The radius of curvature must be positive, not {radius_m:g} m.",
            f"The mean radius of the earth is {MEAN_RADIUS_M:g} m.",
        )
    return (1.0 - refraction) / (2.0 * radius_m)


def _checked_eye_height(
    eye_height_m: NDArray[np.float64] | float,
) -> NDArray[np.float64]:
    height = np.asarray(eye_height_m, dtype=np.float64)
    if np.any(height < 0.0):
        raise InputError(
            f"The height of eye must not be negative, not {np.min(height):g} m.",
            "Give heights above the water.",
        )
    return height
