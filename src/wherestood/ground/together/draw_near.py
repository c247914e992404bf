"""Draw many plates near one another, step by step, before they are solved as one.

Marks are sharp and what plates believe of themselves is wide: solved at once from where
their own fixes begin, many plates fold into one another and never come out again. So
marks are first taken to be as dull as the plates are uncertain, and sharpened by
halves; at each step a thing whose marks agree with no place stays out until they do.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import linalg

from wherestood.ground.together.astray import held_back, loose, lost, placed_anew, weak
from wherestood.ground.together.problem import UNHEARD, Problem
from wherestood.progress import Progress

__all__ = ["draw_near"]

Array = NDArray[np.float64]
#: Marks are taken to be so many times as doubtful as they are, step by step.
_DULLED = (64.0, 32.0, 16.0, 8.0, 4.0, 2.0, 1.0)
#: Marks so many of those standard errors off count half.
_WITHIN = 5.0
_ROUNDS, _MOST_DAMPING = 12, 1e12
_REST, _RESTING_DAMPING = 0.05, 1e-2
#: A thing that stays out counts so little: its marks move nothing.
_OUT = 1e-3 * UNHEARD


def draw_near(
    problem: Problem, values: Array, progress: Progress
) -> tuple[Array, Array, int]:
    """Return values from which all can be solved as one.

    Parameters
    ----------
    problem : Problem
    values : float64 array
        Where all unknowns begin.
    progress : Progress
        Told of every round.

    Returns
    -------
    values : float64 array
    counts : (links,) float64 array
        How much each mark may count: next to nothing where its thing gets no place.
    rounds : int
    """
    rounds = 0
    for dulled in _DULLED:
        within = _WITHIN * dulled
        values = placed_anew(problem, values, within)
        out = loose(problem, values, within) | weak(problem, values, dulled)
        values, more = _nearer(problem, values, dulled, out, progress)
        rounds += more
    values = placed_anew(problem, values, _WITHIN)
    out = weak(problem, values, 1.0)
    out[lost(problem, values)] = True
    return values, np.where(out[problem.thing_of], _OUT, 1.0), rounds


def _nearer(
    problem: Problem,
    values: Array,
    dulled: float,
    out: NDArray[np.bool_],
    progress: Progress,
) -> tuple[Array, int]:
    """Take damped steps, marks weighed anew at each by how far they are off."""
    within = _WITHIN * dulled
    counts = np.where(out[problem.thing_of], _OUT, 1.0) / dulled**2

    def against(at: Array) -> float:
        size = within**2 * np.log1p(problem.squares(at) / within**2)
        return float((counts * size).sum()) + problem.told_squares(at)

    rounds, damping, cost = 0, 1e-3, against(values)
    while rounds < _ROUNDS:
        rounds += 1
        progress.advance()
        equations = problem.equations(values, problem.heard(values, within) * counts)
        while damping < _MOST_DAMPING:
            try:
                scaled = equations.reduced(damping).step(equations.gradient)
            except linalg.LinAlgError:
                damping *= 10.0
                continue
            after = values + problem.spread @ scaled
            things = problem.parts(after)[1]
            things[out] = problem.parts(values)[1][out]
            after = held_back(problem, values, after)
            found = against(after)
            if found <= cost:
                break
            damping *= 10.0
        else:
            break
        values, cost = after, found
        damping = max(damping / 10.0, 1e-9)
        rested = float(np.abs(scaled * np.sqrt(equations.diagonal)).max()) < _REST
        if rested and damping <= _RESTING_DAMPING:
            break
    return values, rounds
