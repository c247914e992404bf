"""Weigh an order: one detail left of, or above, another.

Symbols
-------
b, t : grid bearing [rad] and tangent of elevation, no unit, of the first (farther
left, or higher) and the second detail
D : distances [m]; Phi the normal integral; c principal distance; W the picture's width

    left of:  P = Phi((b_2 - b_1) / sd)
    above:    P = Phi((t_1 - t_2) / sd)

The step is as soft as both features, the reading, the lens's height (1 / D_1 - 1 / D_2)
and, across a gap, the camera's lean make it. Two things so far apart that no lens
believed in shows both cannot be seen in any order: P carries the probability that
``c < W / (2 tan(|b_2 - b_1| / 2))``.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from wherestood.evidence.directions import Directions, directions
from wherestood.evidence.in_line import (
    bearing_difference_sd_rad,
    gap_of,
    pair_weights,
)
from wherestood.evidence.items.reference import id_of
from wherestood.evidence.items.relations import Order
from wherestood.evidence.lean import Lean
from wherestood.evidence.placed import Placement
from wherestood.evidence.stations import Stations
from wherestood.evidence.weighed import Weighed, turned, weigh_answer

__all__ = ["weigh_order"]

Array = NDArray[np.float64]

_AT_ONCE = 2_000_000
#: A lens known this well or better, as a relative sd: no step is sharper.
_LEAST_LN_SD = 0.02


def weigh_order(
    item: Order, placement: Placement, stations: Stations, lean: Lean
) -> Weighed:
    """Weigh an order at stations.

    Parameters
    ----------
    item : Order
        What was seen.
    placement : Placement
        Where features and marks are.
    stations : Stations
        For which it is weighed.
    lean : Lean
        What is believed of the camera: how much a picture holds, and its lean.

    Returns
    -------
    Weighed
        Log probability. Where a height that matters is not known, above and below
        are as likely as not.
    """
    first = placement.candidates(id_of(item.first), item.at)
    second = placement.candidates(id_of(item.second), item.at)
    weight = pair_weights(first, second)
    chance = np.empty(stations.count)
    step = max(1, _AT_ONCE // weight.size)
    for begin in range(0, stations.count, step):
        chunk = slice(begin, begin + step)
        part = stations.part(chunk)
        a, b = directions(part, first), directions(part, second)
        apart = turned(b.azimuth_rad[:, None, :] - a.azimuth_rad[:, :, None])
        if item.sideways:
            noise = bearing_difference_sd_rad(a, b, first, second, part)
            step_at = apart / np.hypot(noise, _reading_sd_rad(item, placement, lean))
        else:
            step_at = _higher(item, placement, a, b, part, lean)
        each = ndtr(step_at) * _both_fit(apart, lean)
        chance[chunk] = np.einsum("sab,ab->s", each, weight)
    return weigh_answer(chance, item.trust)


def _reading_sd_rad(item: Order, placement: Placement, lean: Lean) -> float:
    reading = math.radians(item.sd_deg)
    if item.touching:
        return reading
    gap, x_px = gap_of(item, item.gap_share, placement, lean)
    return math.hypot(reading, lean.sideways_sd_rad(gap, x_px))


def _higher(
    item: Order,
    placement: Placement,
    a: Directions,
    b: Directions,
    stations: Stations,
    lean: Lean,
) -> Array:
    """Return how many sd the first stands above the second, 0 where not known."""
    above = a.tangent[:, :, None] - b.tangent[:, None, :]
    by_lens = (
        stations.lens_sd_m
        * (a.tangent_by_lens[:, :, None] - b.tangent_by_lens[:, None, :])
    ) ** 2
    by_place = sum(
        (
            stations.cell_sd_m
            * (getattr(a, name)[:, :, None] - getattr(b, name)[:, None, :])
        )
        ** 2
        for name in ("tangent_by_east", "tangent_by_north")
    )
    reading = math.radians(item.sd_deg) ** 2
    if not item.touching:
        gap, x_px = gap_of(item, item.gap_share, placement, lean)
        steep = np.nanmedian(np.abs(a.tangent)) if np.isfinite(a.tangent).any() else 0.0
        reading += lean.upward_sd(float(steep), gap, x_px) ** 2
    variance = (
        a.sd_tangent[:, :, None] ** 2
        + b.sd_tangent[:, None, :] ** 2
        + by_lens
        + by_place
        + reading
    )
    return np.asarray(np.nan_to_num(above / np.sqrt(variance)))


def _both_fit(apart_rad: Array, lean: Lean) -> Array:
    """Return the probability that one picture holds both."""
    half = np.tan(np.clip(np.abs(apart_rad) / 2.0, 1e-9, 0.5 * math.pi - 1e-9))
    longest = lean.width_over_distance / (2.0 * half)
    return np.asarray(ndtr(np.log(longest) / max(lean.ln_distance_sd, _LEAST_LN_SD)))
