"""Say how probable it is that hills hid the sun at the hours that fit."""

from __future__ import annotations

import numpy as np

from wherestood.dating.sun_fit import SunFit, clear_of_hills
from wherestood.dating.sun_path import Where, sun_table

__all__ = ["behind_hills"]


def behind_hills(fit: SunFit, where: Where) -> float:
    """Return how probable it is that hills hid the sun, by a fit that left them out.

    Parameters
    ----------
    fit : SunFit
        Made without a horizon.
    where : Where
        With the horizon; without one nothing hides the sun.
    """
    if where.horizon is None or not fit.possible:
        return 0.0
    directions = sun_table(where, fit.year, fit.days, fit.minutes)
    bearing = np.arctan2(directions[..., 0], directions[..., 1])
    elevation = np.arcsin(np.clip(directions[..., 2], -1.0, 1.0))
    clear = clear_of_hills(where.horizon, bearing, elevation)
    return float((fit.probability * (1.0 - clear)).sum())
