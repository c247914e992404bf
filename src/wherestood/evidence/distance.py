"""Weigh a distance from the station to a feature that somebody states.

Symbols: D distance along the ground [m]; s standard error of the feature's place along
each axis [m].

    residual = stated - D,    variance = sd^2 + s^2 + cell
"""

from __future__ import annotations

import math

import numpy as np

from wherestood.evidence.directions import directions
from wherestood.evidence.items.relations import KnownDistance
from wherestood.evidence.placed import Placement
from wherestood.evidence.stations import Stations
from wherestood.evidence.weighed import Weighed, weigh_value

__all__ = ["weigh_distance"]

#: Distances that people state of a view, right or wrong, are below this [m].
BLUNDER_SPAN_M = 10_000.0


def weigh_distance(
    item: KnownDistance, placement: Placement, stations: Stations
) -> Weighed:
    """Weigh a stated distance at stations.

    Parameters
    ----------
    item : KnownDistance
        What is stated.
    placement : Placement
        Where features are.
    stations : Stations
        For which it is weighed; their height does not matter.

    Returns
    -------
    Weighed
        Log density a metre.
    """
    points = placement.candidates(item.speaks_of()[0])
    distance = directions(stations, points).distance_m
    variance = (
        item.sd_m**2 + points.sd_m**2 + points.shift_sd_m**2 + stations.cell_sd_m**2
    )
    each = np.exp(-0.5 * (item.distance_m - distance) ** 2 / variance)
    density = (each / np.sqrt(2.0 * math.pi * variance)) @ points.weight
    return weigh_value(density, item.trust, BLUNDER_SPAN_M)
