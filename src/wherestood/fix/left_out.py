"""Leave out one group of evidence at a time and see how the fix moves."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from wherestood.fix.cells import Cells, score_cells
from wherestood.fix.posterior import Posterior
from wherestood.fix.problem import Problem
from wherestood.fix.result import LeftOut
from wherestood.progress import Progress

__all__ = ["leave_out_each"]

Array = NDArray[np.float64]

#: Likeliest cells that are scored again, and those under this share of the
#: probability that are not.
CELLS = 600
LEAST_MASS = 1e-6
#: Share of the probability whose ground is compared.
HELD = 0.9


def leave_out_each(
    problem: Problem, posterior: Posterior, progress: Progress
) -> tuple[LeftOut, ...]:
    """Return the fix without each group of its evidence, in turn.

    Notes
    -----
    Only ground that the whole evidence leaves standing is asked again, from the
    cameras found there: what an item alone excludes does not come back.
    """
    groups = dict(_groups(problem))
    if len(groups) < 2:
        return ()
    kept = np.flatnonzero(posterior.mass > LEAST_MASS)[:CELLS]
    cells = posterior.cells.take(kept)
    progress.stage("Leaving out each in turn", len(cells.east_m) * (len(groups) + 1))
    whole = _mass(problem, cells, progress)
    at = int(np.argmax(whole))
    east = float(whole @ cells.east_m)
    north = float(whole @ cells.north_m)
    area = _held(whole, cells)
    found = []
    for name, ids in groups.items():
        mass = _mass(_without(problem, set(ids)), cells, progress)
        east_m = float(mass @ cells.east_m) - east
        north_m = float(mass @ cells.north_m) - north
        density = mass / cells.side_m**2
        with np.errstate(divide="ignore"):
            agrees = float(np.log(density[at]) - np.log(density.max()))
        found.append(
            LeftOut(
                name,
                ids,
                float(np.hypot(east_m, north_m)),
                east_m,
                north_m,
                _held(mass, cells) / area,
                agrees,
            )
        )
    return tuple(found)


def _groups(problem: Problem) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Give each group with its items; the skyline is one by itself."""
    named: dict[str, list[str]] = {}
    items = [*problem.marks.marks, *(problem.free.items if problem.free else ())]
    for item in items:
        named.setdefault(item.group or item.id, []).append(item.id)
    if problem.has_skyline:
        yield "skyline", ("skyline",)
    for name, ids in named.items():
        yield name, tuple(ids)


def _without(problem: Problem, ids: set[str]) -> Problem:
    """Return the problem less some items."""
    changed = problem
    if "skyline" in ids:
        hands = tuple(
            replace(hand, samples=replace(hand.samples, table=np.zeros((0, 5))))
            for hand in problem.hands
        )
        changed = replace(changed, hands=hands)
    gone = [row for row, mark in enumerate(problem.marks.marks) if mark.id in ids]
    if gone:
        weight = problem.marks.log_weight.copy()
        weight[gone] = -np.inf
        changed = replace(changed, marks=replace(problem.marks, log_weight=weight))
    if problem.free is not None:
        left = tuple(item for item in problem.free.items if item.id not in ids)
        changed = replace(changed, free=replace(problem.free, items=left))
    return changed


def _mass(problem: Problem, cells: Cells, progress: Progress) -> Array:
    """Return the probability of each cell, by the shape of its modes alone."""
    weight = np.full(len(cells.east_m), -np.inf)
    for side in np.unique(cells.side_m):
        which = np.flatnonzero(cells.side_m == side)
        part = cells.take(which)
        starts = part.theta.copy()
        starts[~np.isfinite(part.mode_score), 1] = np.nan
        found = score_cells(
            problem,
            part.east_m,
            part.north_m,
            float(side),
            part.share,
            progress,
            starts,
            closely=False,
        )
        weight[which] = found.log_weight
    mass = np.exp(weight - weight.max())
    return np.asarray(mass / mass.sum())


def _held(mass: Array, cells: Cells) -> float:
    """Return the smallest ground that holds `HELD` of the probability [m2]."""
    order = np.argsort(-mass / cells.side_m**2, kind="stable")
    running = np.cumsum(mass[order])
    count = int(np.searchsorted(running, HELD * running[-1])) + 1
    return float((cells.side_m[order[:count]] ** 2).sum())
