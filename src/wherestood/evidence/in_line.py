"""Weigh two details seen in line, or so many degrees apart.

Symbols
-------
b_A, b_B : grid bearings of A and B from the station [rad]; D_A, D_B distances [m]
a : how far A stands left of B, as read [rad]; 0 in line
s, p : standard errors of a feature's own place and of its plan's shift [m]

    residual = a - (b_B - b_A)
    variance = reading^2 + lean^2 + s_A^2 / D_A^2 + s_B^2 / D_B^2 + shift + cell

Features of one plan are displaced together, which moves both bearings by
``p^2 (1 / D_A^2 + 1 / D_B^2 - 2 cos(b_B - b_A) / (D_A D_B))``; features of two plans
apart. A cell is averaged over: its variance (side^2 / 12) enters through that same
factor. Of a line, an area or an uncertain identity, densities of all points are summed.

Grid bearings stand for true ones: their difference is the same to 0.001 deg within
50 km of the frame's centre.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.directions import Directions, directions
from wherestood.evidence.items.relations import InLine, Order
from wherestood.evidence.lean import Lean
from wherestood.evidence.placed import Candidates, Placement
from wherestood.evidence.stations import Stations
from wherestood.evidence.weighed import Weighed, turned, weigh_value, wrapped_normal

__all__ = [
    "BLUNDER_SPAN_RAD",
    "Reading",
    "bearing_difference_sd_rad",
    "pair_weights",
    "read_in_line",
    "weigh_in_line",
]

Array = NDArray[np.float64]

#: A spacing read wrongly still lies within a picture or so either way [rad].
BLUNDER_SPAN_RAD = 2.0 * math.pi / 3.0
#: Numbers held at once while pairs of points are gone through.
_AT_ONCE = 2_000_000


@dataclass(frozen=True)
class Reading:
    """Hold what was read of an in line, as an angle.

    Attributes
    ----------
    left_rad : float
        How far A stands left of B [rad].
    sd_rad : float
        Standard error, reading, lens and lean together [rad].
    """

    left_rad: float
    sd_rad: float


def read_in_line(item: InLine, placement: Placement, lean: Lean) -> Reading:
    """Return what was read as an angle, with all doubt but the features'."""
    variance = math.radians(item.sd_deg) ** 2
    left_rad = math.radians(item.left_deg or 0.0)
    if item.left_widths is not None:
        left_rad, lens_sd = lean.angle_of_widths(item.left_widths)
        reading_sd, _ = lean.angle_of_widths(item.sd_widths)
        variance = reading_sd**2 + lens_sd**2
    if not item.touching:
        gap, x_px = gap_of(item, item.gap_heights, placement, lean)
        variance += lean.sideways_sd_rad(gap, x_px) ** 2
    return Reading(left_rad, math.sqrt(variance))


def gap_of(
    item: InLine | Order, given: float | None, placement: Placement, lean: Lean
) -> tuple[float | None, float | None]:
    """Return the gap between two marks and where it is, None where not known.

    Parameters
    ----------
    item : InLine or Order
        The relation.
    given : float or None
        The gap as a share of the side, where somebody measured it.
    placement : Placement
        Where marks are looked up.
    lean : Lean
        Holds the size of the scan.

    Returns
    -------
    gap : float or None
        As a share of the picture's height, or, of elevations, of its width.
    x_px : float or None
        Middle of the two [px].
    """
    marks = [placement.marks.get(name) for name in item.speaks_of()]
    a, b = marks[0], marks[1]
    if a is None or b is None:
        return given, None
    middle = (a.x_px + b.x_px) / 2.0
    if given is not None:
        return given, middle
    if isinstance(item, Order) and not item.sideways:
        return abs(a.x_px - b.x_px) / lean.width_px, middle
    return abs(a.y_px - b.y_px) / lean.height_px, middle


def weigh_in_line(
    item: InLine, placement: Placement, stations: Stations, lean: Lean
) -> Weighed:
    """Weigh an in line at stations.

    Parameters
    ----------
    item : InLine
        What was read.
    placement : Placement
        Where features and marks are.
    stations : Stations
        For which it is weighed; their height does not matter.
    lean : Lean
        What is believed of the camera, for readings in widths or across a gap.

    Returns
    -------
    Weighed
        Log density a radian.
    """
    reading = read_in_line(item, placement, lean)
    first, second = (placement.candidates(name) for name in item.speaks_of())
    weight = pair_weights(first, second)
    density = np.empty(stations.count)
    step = max(1, _AT_ONCE // weight.size)
    for begin in range(0, stations.count, step):
        chunk = slice(begin, begin + step)
        part = stations.part(chunk)
        a, b = directions(part, first), directions(part, second)
        difference = b.azimuth_rad[:, None, :] - a.azimuth_rad[:, :, None]
        noise = bearing_difference_sd_rad(a, b, first, second, part)
        sd = np.hypot(noise, reading.sd_rad)
        each = wrapped_normal(turned(reading.left_rad - difference), sd)
        density[chunk] = np.einsum("sab,ab->s", each, weight)
    return weigh_value(density, item.trust, BLUNDER_SPAN_RAD)


def pair_weights(first: Candidates, second: Candidates) -> Array:
    """Return the probability of each pair of points, (first, second).

    Two details are never one and the same feature.
    """
    same = np.array([[a == b for b in second.feature_ids] for a in first.feature_ids])
    weight = np.outer(first.weight, second.weight) * ~same
    whole = weight.sum()
    return np.asarray(weight / whole if whole > 0.0 else weight)


def bearing_difference_sd_rad(
    a: Directions,
    b: Directions,
    first: Candidates,
    second: Candidates,
    stations: Stations,
) -> Array:
    """Return the standard error of b_B - b_A, (stations, first, second) [rad].

    From the places of both features, their plans' shifts and the cell's size.
    """
    one = _over_distance(a, first)[:, :, None, :]
    other = _over_distance(b, second)[:, None, :, :]
    apart = one - other
    both = (apart**2).sum(axis=-1)
    own_a = first.sd_m[:, None] ** 2 * (one**2).sum(axis=-1)
    own_b = second.sd_m[None, :] ** 2 * (other**2).sum(axis=-1)
    shifted_a = first.shift_sd_m[:, None] ** 2 * (one**2).sum(axis=-1)
    shifted_b = second.shift_sd_m[None, :] ** 2 * (other**2).sum(axis=-1)
    shared = np.array(
        [[p == q and p != "" for q in second.plan_ids] for p in first.plan_ids]
    )
    shift = np.where(
        shared, first.shift_sd_m[:, None] ** 2 * both, shifted_a + shifted_b
    )
    variance = own_a + own_b + shift + stations.cell_sd_m**2 * both
    return np.asarray(np.sqrt(np.minimum(variance, math.pi**2 / 3.0)))


def _over_distance(way: Directions, points: Candidates) -> Array:
    """Return the bearing's change as the point moves east and north [rad/m].

    Softened near the point, as in `directions`.
    """
    variance = points.sd_m**2 + points.shift_sd_m**2
    softened = np.sqrt(way.distance_m**2 + 3.0 * variance / math.pi**2)
    return (
        np.stack([np.cos(way.azimuth_rad), -np.sin(way.azimuth_rad)], axis=-1)
        / (softened[..., None])
    )
