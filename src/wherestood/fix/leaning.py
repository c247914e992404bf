"""Ask how far a fix leans on ground that was otherwise in the plate's years."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wherestood.fix.answers import Chosen
from wherestood.fix.ground_then import GroundThen
from wherestood.fix.problem import Problem
from wherestood.fix.result import ChangedGroundTold
from wherestood.fix.view import directions_in_view
from wherestood.terrain.horizon import HorizonModel, nearest_start_m

__all__ = ["told_of_changed_ground"]

Array = NDArray[np.float64]


def told_of_changed_ground(
    problem: Problem, chosen: Chosen
) -> tuple[ChangedGroundTold, ...]:
    """Return what every state of the ground means for an answer.

    A horizon leans on changed ground where it stands on it, and where it would if the
    ground were as the elevation model has it: a hill cut away shows as much as one
    heaped up.
    """
    then = problem.then
    if then is None:
        return ()
    leaning = iter(_leaning(problem, then, chosen))
    told = []
    for state in then.states:
        share, under, reached = next(leaning) if state.chance > 0.0 else (0.0, False, 0)
        told.append(
            ChangedGroundTold(
                state.item.id,
                state.item.change,
                state.chance,
                state.why,
                share,
                under,
                reached,
            )
        )
    return tuple(told)


def _leaning(
    problem: Problem, then: GroundThen, chosen: Chosen
) -> list[tuple[float, bool, int]]:
    """Return share of the width, whether the camera stands there, nodes, a change."""
    ground = then.ground
    if ground is None:
        return []
    radius_m = problem.maker.model.radius_m
    ends = [
        _horizon_ends(problem, model, chosen)
        for model in (problem.maker.model, HorizonModel.of(then.before, radius_m))
    ]
    east_m, north_m, _ = chosen.cell_m[:, None]
    found = []
    for number in range(len(ground.reached)):
        on = [ground.covers(number, *end) for end in ends]
        share = float((on[0] | on[1]).mean()) if problem.has_skyline else 0.0
        under = bool(ground.covers(number, east_m, north_m)[0])
        found.append((share, under, int(ground.reached[number][1].sum())))
    return found


def _horizon_ends(
    problem: Problem, model: HorizonModel, chosen: Chosen
) -> tuple[Array, Array]:
    """Return where the horizon stands, evenly along the plate's width [m]."""
    bearing_rad = directions_in_view(problem, chosen)
    east_m, north_m, lens_m = chosen.cell_m[:, None]
    seen = model.horizons(
        east_m,
        north_m,
        lens_m,
        bearing_rad,
        nearest_m=nearest_start_m(problem.terrain.source_cell_m),
        farthest_m=problem.settings.horizon_radius_m,
    )
    reach_m = seen.distance_m[0]
    return (
        east_m + reach_m * np.sin(bearing_rad),
        north_m + reach_m * np.cos(bearing_rad),
    )
