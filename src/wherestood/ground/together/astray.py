"""Lead things back that went astray: behind cameras, into them, or far off their marks.

A thing begins where rays meet of plates that are off themselves. Once the plates have
found one another its rays meet elsewhere, and no small step leads there.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from wherestood.ground.together.begin import first_places
from wherestood.ground.together.problem import Problem

__all__ = ["held_back", "loose", "lost", "placed_anew", "weak"]

Array = NDArray[np.float64]
#: By itself no thing steps farther than this share of its way from the nearest camera
#: that shows it: farther, and where it shows no longer follows its step.
_FARTHEST_STEP = 0.3
_HALVED = 4
#: Places along rays are tried no finer than so many standard errors of a mark.
_COARSE_SDS = 60.0
_REFINED = 6


def held_back(problem: Problem, before: Array, after: Array) -> Array:
    """Return values after a step, no thing behind a camera or inside it by its own.

    Parameters
    ----------
    problem : Problem
    before, after : float64 array
        All unknowns.

    Notes
    -----
    One thing that steps into a camera would forbid all others their steps: it goes half
    its way, or half of that, or stays.
    """
    was = problem.parts(before)[1]
    way = problem.parts(after)[1] - was
    found = _with_things(problem, after, was + way)
    for _ in range(_HALVED):
        gone = lost(problem, found)
        if not gone.size:
            return found
        way[gone] *= 0.5
        found = _with_things(problem, after, was + way)
    way[lost(problem, found)] = 0.0
    return _with_things(problem, after, was + way)


def _short(problem: Problem, values: Array, way: Array) -> Array:
    """Return steps of things, none longer than it can be foretold."""
    most = _FARTHEST_STEP * _nearest_m(problem, values)
    length = np.maximum(np.linalg.norm(way, axis=1), 1e-9)
    return np.asarray(way * np.minimum(1.0, most / length)[:, None])


def _nearest_m(problem: Problem, values: Array) -> Array:
    """Return how far each thing is from the nearest camera that shows it [m]."""
    plates, things = problem.parts(values)
    near = np.full(len(things), np.inf)
    shown = np.array([one.plate for one in problem.links], dtype=int)
    apart = np.linalg.norm(things[problem.thing_of] - plates[shown, :3], axis=1)
    np.minimum.at(near, problem.thing_of, apart)
    return near


def weak(problem: Problem, values: Array, dulled: float) -> NDArray[np.bool_]:
    """Return which things' rays meet at so flat an angle that no place is told.

    Parameters
    ----------
    problem : Problem
    values : float64 array
    dulled : float
        Marks are so many times as doubtful as they are.
    """
    counts = np.full(len(problem.links), 1.0 / dulled**2)
    stiff = problem.equations(values, counts).stiffness_of_things()
    least = np.maximum(np.linalg.eigvalsh(stiff)[:, 0], 1e-30)
    return np.asarray(least**-0.5 > _FARTHEST_STEP * _nearest_m(problem, values))


def loose(problem: Problem, values: Array, within_sds: float) -> NDArray[np.bool_]:
    """Return which things have a mark farther off than so many standard errors."""
    off = np.zeros(len(problem.things))
    np.maximum.at(off, problem.thing_of, problem.squares(values))
    return np.asarray(off > within_sds**2)


def placed_anew(problem: Problem, values: Array, within_sds: float) -> Array:
    """Return values with loose things where their rays meet now, if that fits better.

    Parameters
    ----------
    problem : Problem
    values : float64 array
        All unknowns; plates' stay.
    within_sds : float
        Marks farther off than this make a thing loose.
    """
    astray = [
        one
        for one in np.flatnonzero(loose(problem, values, within_sds)).tolist()
        if problem.things[one].place_m is None
    ]
    if not astray:
        return values
    at = {number: place for place, number in enumerate(astray)}
    links = [
        replace(one, thing=at[one.thing]) for one in problem.links if one.thing in at
    ]
    plates, things = problem.parts(values)
    places, _ = first_places(
        problem.plates, plates, [problem.things[one] for one in astray], links,
        problem.curvature_per_m, max(within_sds, _COARSE_SDS),
    )  # fmt: skip
    tried = things.copy()
    tried[astray] = places
    found = _refined(problem, _with_things(problem, values, tried), astray, within_sds)
    tried = problem.parts(found)[1].copy()
    worse = ~(_off(problem, found, within_sds) < _off(problem, values, within_sds))
    tried[worse] = things[worse]
    return _with_things(problem, values, tried)


def _refined(
    problem: Problem, values: Array, some: list[int], within_sds: float
) -> Array:
    """Return values with some things where their marks put them, plates held fast."""
    which = np.array(some)
    for _ in range(_REFINED):
        equations = problem.equations(values, problem.heard(values, within_sds))
        step = problem.parts(values)[1] * 0.0
        step[which] = equations.of_things()[which]
        step = _short(problem, values, step)
        after = held_back(
            problem,
            values,
            _with_things(problem, values, problem.parts(values)[1] + step),
        )
        worse = ~(_off(problem, after, within_sds) <= _off(problem, values, within_sds))
        places = problem.parts(after)[1].copy()
        places[worse] = problem.parts(values)[1][worse]
        values = _with_things(problem, values, places)
    return values


def _off(problem: Problem, values: Array, within_sds: float) -> Array:
    """Return how far each thing's marks are off, far ones counted little."""
    size = np.log1p(problem.squares(values) / within_sds**2)
    return np.asarray(np.bincount(problem.thing_of, size, len(problem.things)))


def lost(problem: Problem, values: Array) -> NDArray[np.intp]:
    """Return the things that a camera which shows them cannot show."""
    behind = ~np.isfinite(problem.off_px(values)).all(axis=1)
    return np.unique(problem.thing_of[behind])


def _with_things(problem: Problem, values: Array, places: Array) -> Array:
    return np.concatenate((values[: problem.firsts], places.ravel()))
