"""Draw the sun's way over a place: its direction at every minute of every day.

The sun is computed at every eighth minute of every second day, and directions between
are drawn straight, which errs by less than 0.01 deg.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.dating.sun import seconds_of_day, sun_at

__all__ = ["Horizon", "Where", "sun_table"]

Array = NDArray[np.float64]
Horizon = Callable[[Array], Array]

NODE_DAYS, NODE_MIN = 2, 8


@dataclass(frozen=True)
class Where:
    """Be where the shadow lies.

    Attributes
    ----------
    lon_deg, lat_deg : float
        WGS 84 [deg].
    height_m : float
        Above the sea [m].
    horizon : callable or None
        Elevation of the hills [rad] along true bearings [rad]; None where not known.
    """

    lon_deg: float
    lat_deg: float
    height_m: float = 0.0
    horizon: Horizon | None = None


def sun_table(
    where: Where, year: int, days: NDArray[np.int64], minutes: NDArray[np.int64]
) -> Array:
    """Return the sun's direction: (days, minutes, 3) unit vectors."""
    if not days.size or not minutes.size:
        return np.zeros((len(days), len(minutes), 3))
    day_nodes = _nodes(days, NODE_DAYS)
    minute_nodes = _nodes(minutes, NODE_MIN)
    begin = seconds_of_day(year, 1, 1)
    local = begin + 86_400.0 * (day_nodes[:, None] - 1.0) + 60.0 * minute_nodes
    universal = local - 240.0 * where.lon_deg
    sun = sun_at(universal.ravel(), where.lon_deg, where.lat_deg, where.height_m)
    level = np.cos(sun.elevation_rad)
    vectors = np.stack(
        [
            level * np.sin(sun.bearing_rad),
            level * np.cos(sun.bearing_rad),
            np.sin(sun.elevation_rad),
        ],
        axis=-1,
    ).reshape(*local.shape, 3)
    by_day = _between(day_nodes, days)
    by_minute = _between(minute_nodes, minutes)
    fine = np.einsum("dn,nmk,em->dek", by_day, vectors, by_minute, optimize=True)
    return np.asarray(fine / np.linalg.norm(fine, axis=-1, keepdims=True))


def _nodes(values: NDArray[np.int64], step: int) -> Array:
    """Return whole nodes, a step apart, that enclose all values.

    Whole, since a part of a day would be another time of day.
    """
    count = max(2, math.ceil((int(values[-1]) - int(values[0])) / step) + 1)
    return np.asarray(values[0] + step * np.arange(count), dtype=np.float64)


def _between(nodes: Array, values: NDArray[np.int64]) -> Array:
    """Return the weights that draw a straight line between nodes: (values, nodes)."""
    step = nodes[1] - nodes[0]
    at = np.clip((values - nodes[0]) / step, 0.0, len(nodes) - 1.0)
    near = 1.0 - np.abs(at[:, None] - np.arange(len(nodes)))
    return np.asarray(np.clip(near, 0.0, None), dtype=np.float64)
