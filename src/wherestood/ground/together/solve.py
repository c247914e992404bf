"""Solve stations, cameras and shared things of several plates as one.

Solves for 13 unknowns a plate, one a habit and three a thing, from each plate's own fix
and marks of shared things; one answer, the nearest to where the plates' own fixes
begin. Levenberg's and Marquardt's damped steps, things taken out of the normal
equations (Brown 1958; Triggs et al. 2000, "Bundle adjustment: a modern synthesis",
section 6.1), and wrong marks weighed down as a mixture of right and wrong ones (EM).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import linalg

from wherestood.errors import InputError
from wherestood.ground.together.answer import Together
from wherestood.ground.together.astray import held_back
from wherestood.ground.together.begin import MOST_WALKED
from wherestood.ground.together.draw_near import draw_near
from wherestood.ground.together.plate_prior import UNKNOWNS, PlatePrior
from wherestood.ground.together.problem import Problem
from wherestood.ground.together.told import GroundHeights, Habit, Link, Outing, Thing
from wherestood.progress import SILENT, Progress

__all__ = ["solve_together"]

Array = NDArray[np.float64]
_MOST_ROUNDS, _MOST_DAMPING = 100, 1e12
#: At rest when a step is this small against every unknown's standard error.
_REST = 1e-3
#: Damping under which a step is small because little is left to go.
_LIGHT = 1e-2
#: Within how far of their things marks are well heard, step by step; at last by how
#: probable it is that they are wrong. Each is repeated until no weight moves by more.
_HEARD_WITHIN_SDS = (30.0, 5.0, None)
_MOST_HEARINGS, _HEARD_ALIKE = 12, 0.01


def solve_together(
    plates: Sequence[PlatePrior],
    things: Sequence[Thing],
    links: Sequence[Link],
    *,
    habits: Sequence[Habit] = (),
    outings: Sequence[Outing] = (),
    ground: GroundHeights | None = None,
    curvature_per_m: float = 0.0,
    progress: Progress = SILENT,
) -> Together:
    """Solve several plates together.

    Parameters
    ----------
    plates : sequence of PlatePrior
        Each as its own fix has it.
    things : sequence of Thing
        What they show; placed by nobody, or with a place and its doubt.
    links : sequence of Link
        Where they show it.
    habits, outings : sequence
        What one maker's plates have alike, and what was exposed on one walk.
    ground : callable, optional
        Heights of the ground, for things that stand on it.
    curvature_per_m : float
        Drop over distance squared [1/m].
    progress : Progress
        Told how far it has come.

    Returns
    -------
    Together
        Regions are those of a normal scatter about the answer, with fixed weights.

    Raises
    ------
    InputError
        If a link names what is not there, or a thing that nobody placed is shown by
        one plate alone.
    """
    _check(plates, things, links, habits)
    problem = Problem(plates, things, links, habits, outings, ground, curvature_per_m)
    progress.stage("solving plates together")
    # Marks are all believed until the plates have come near one another; then those
    # far off are heard less and less. Many plates are drawn near by steps of their own.
    counts = np.ones(len(links))
    many = len(plates) > MOST_WALKED
    rounds = 0
    near = []
    for values in problem.begin():
        heard = counts
        if many:
            values, counts, rounds = draw_near(problem, values, progress)
            heard = counts * problem.heard(values, _HEARD_WITHIN_SDS[1])
        near.append(_come_to_rest(problem, values, heard, progress))
    best = min(near, key=lambda one: one.cost)
    rounds += sum(one.rounds for one in near)
    for within_sds in _HEARD_WITHIN_SDS[1 if many else 0 :]:
        for _ in range(_MOST_HEARINGS):
            before = best
            heard = counts * problem.heard(best.values, within_sds)
            best = _come_to_rest(problem, best.values, heard, progress)
            rounds += best.rounds
            if float(np.abs(heard - before.heard).max()) < _HEARD_ALIKE:
                break
    return problem.answer(best.values, best.heard, rounds, best.settled)


@dataclass(frozen=True)
class _Rested:
    """Hold where damped steps came to rest."""

    values: Array
    heard: Array
    cost: float
    rounds: int
    settled: bool


def _come_to_rest(
    problem: Problem, values: Array, heard: Array, progress: Progress
) -> _Rested:
    rounds, settled, damping = 0, False, 1e-3
    while rounds < _MOST_ROUNDS and not settled:
        rounds += 1
        progress.advance()
        equations = problem.equations(values, heard)
        cost = problem.cost(values, heard)
        while damping < _MOST_DAMPING:
            try:
                scaled = equations.reduced(damping).step(equations.gradient)
            except linalg.LinAlgError:
                damping *= 10.0
                continue
            rests = float(np.abs(scaled * np.sqrt(equations.diagonal)).max()) < _REST
            after = held_back(problem, values, values + problem.spread @ scaled)
            if problem.cost(after, heard) <= cost:
                values = after
                break
            if rests and damping <= _LIGHT:
                break  # what could still be gained is lost in rounding
            damping *= 10.0
        else:
            break  # no step helps any more
        damping = max(damping / 10.0, 1e-9)
        settled = rests
    return _Rested(values, heard, problem.unlikely(values), rounds, settled)


def _check(
    plates: Sequence[PlatePrior],
    things: Sequence[Thing],
    links: Sequence[Link],
    habits: Sequence[Habit],
) -> None:
    if not plates or not links:
        raise InputError(
            "There is nothing to solve together.",
            "Name plates that show one thing, each with its mark.",
        )
    for link in links:
        if not (0 <= link.plate < len(plates) and 0 <= link.thing < len(things)):
            raise InputError(
                f"A mark names plate {link.plate} and thing {link.thing}, of "
                f"{len(plates)} and {len(things)}.",
                "Count from 0.",
            )
        if not (link.sd_px > 0.0 and np.isfinite([link.x_px, link.y_px]).all()):
            raise InputError(
                f"A mark of {things[link.thing].name} on {plates[link.plate].name} is "
                "no place with a doubt.",
                "Give pixels, and a standard error above 0.",
            )
    for number, thing in enumerate(things):
        seen = {link.plate for link in links if link.thing == number}
        if thing.place_m is None and len(seen) < 2:
            raise InputError(
                f"{thing.name} is shown by {len(seen)} of the plates, and nobody "
                "placed it: it tells nothing.",
                "Mark it on a second plate, or leave it out.",
            )
    for habit in habits:
        if habit.unknown not in UNKNOWNS:
            raise InputError(
                f"The unknown {habit.unknown!r} is not known.",
                f"Choose one of: {', '.join(UNKNOWNS)}.",
            )
