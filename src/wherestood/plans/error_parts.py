"""Part the error of what is read on a sheet into what all share, and each its own."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wherestood.plans.pinned import Pinning

__all__ = ["own_sd_m", "shared_shift_sd_m"]

Floats = NDArray[np.float64]

#: Places along each side of the pins' rectangle, at which the shared part is taken.
_ASIDE = 5


def shared_shift_sd_m(pinning: Pinning) -> float:
    """Return the standard error of the shift that all of a sheet shares.

    Returns
    -------
    float
        Along one axis: the mean covariance of two places' errors, over places spread
        across the pins [m].
    """
    low = pinning.pins.sheet_px.min(axis=0)
    high = pinning.pins.sheet_px.max(axis=0)
    along = (np.arange(_ASIDE) + 0.5) / _ASIDE
    places = low + np.stack(np.meshgrid(along, along), -1).reshape(-1, 2) * (high - low)
    whole = pinning.joint_covariance_m2(places)
    east, north = whole[0::2, 0::2], whole[1::2, 1::2]
    apart = ~np.eye(len(places), dtype=bool)
    shared = float((east[apart].mean() + north[apart].mean()) / 2.0)
    return float(np.sqrt(max(shared, 0.0)))


def own_sd_m(
    pinning: Pinning, points_px: ArrayLike, drawn_sd_m: float, shared_m: float
) -> float:
    """Return the standard error of a traced thing beside the sheet's shared shift.

    Parameters
    ----------
    pinning : Pinning
        The sheet.
    points_px : (points, 2) array_like
        What was traced [px].
    drawn_sd_m : float
        How far off it was drawn or read, along one axis [m].
    shared_m : float
        As of `shared_shift_sd_m` [m].

    Returns
    -------
    float
        Along one axis, mean square over its points [m].
    """
    mean_square = float((pinning.sd_m(points_px) ** 2).mean())
    return float(np.sqrt(max(mean_square - shared_m**2, 0.0) + drawn_sd_m**2))
