"""Ask what a place keeps when everything doubtful is taken twice as doubtful."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wherestood.fix.cells import Cells, score_cells
from wherestood.fix.posterior import Place, Posterior
from wherestood.fix.problem import Problem
from wherestood.fix.ridges import weigh_ridges
from wherestood.fix.search import HOPELESS, KEEP_AT_FIRST, starts_from
from wherestood.progress import Progress

__all__ = ["share_when_doubled"]

#: Fine cells scored again: the likeliest, that hold so much of what they all hold.
RESCORED = 1000
ENOUGH = 0.99
#: First, large cells screened anew: the likeliest.
RIVALS = 500
#: Of the others of either kind so many, evenly over their probability, at most.
OTHERS = 500
#: Of few cells a share stands for all, and no fewer than this: of a small search the
#: doubt is not to cost more than the search.
SHARE, FEWEST = 0.5, 100


def share_when_doubled(
    problem: Problem, posterior: Posterior, place: Place, progress: Progress
) -> float:
    """Return what a place keeps of the probability when every doubt is doubled.

    Fine cells climb again from their own cameras. First cells are screened anew for
    cameras: what was excluded with the usual doubt may have no camera to climb from.
    The others than the likeliest are sampled, each for its like, so that no ground
    is left out of the sum.
    """
    cells, mass = posterior.cells, posterior.mass
    first = cells.side_m == cells.side_m.max()
    order = np.argsort(-mass, kind="stable")
    large, small = order[first[order]], order[~first[order]]
    held = np.cumsum(mass[small])
    enough = int(np.searchsorted(held, ENOUGH * held[-1])) + 1 if held.size else 0
    rivals, rivals_for = _sampled(large, min(RIVALS, _part_of(large.size)))
    fine, fine_for = _sampled(small, min(RESCORED, enough))
    progress.stage("Doubling every doubt", 2 * len(rivals) + len(fine))
    doubtful = problem.doubled()
    parts = [weigh_ridges(doubtful, _screened(doubtful, cells.take(rivals), progress))]
    weights = [parts[0].log_weight + rivals_for]
    best = float(parts[0].log_density.max(initial=-np.inf))
    for side in np.unique(cells.side_m[fine]):
        which = cells.side_m[fine] == side
        part = cells.take(fine[which])
        starts = starts_from(part)
        again = _closely(doubtful, part, starts, best - HOPELESS, progress)
        again = weigh_ridges(doubtful, again)
        parts.append(again)
        weights.append(again.log_weight + fine_for[which])
    weight = np.concatenate(weights)
    east = np.concatenate([part.east_m for part in parts])
    north = np.concatenate([part.north_m for part in parts])
    inside = np.hypot(east - place.east_m, north - place.north_m) <= (
        problem.settings.near_enough_m
    )
    share = np.exp(weight - weight.max())
    return float(share[inside].sum() / share.sum())


def _part_of(count: int) -> int:
    """Return how many of so many cells stand for all."""
    return max(FEWEST, int(SHARE * count))


def _sampled(
    cells: NDArray[np.intp], likeliest: int
) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
    """Return the first of some cells, likeliest first, and a sample of the others.

    Returns
    -------
    chosen : (k,) int array
    log_number : (k,) float64 array
        Log of how many cells each stands for.
    """
    rest = cells[likeliest:]
    # Every so many-th by probability: no kind of ground is left out.
    step = max(1, -(-rest.size // min(OTHERS, _part_of(rest.size))))
    sampled = rest[::step]
    chosen = np.concatenate((cells[:likeliest], sampled))
    log_number = np.zeros(chosen.size)
    if sampled.size:
        log_number[-sampled.size :] = np.log(rest.size / sampled.size)
    return chosen, log_number


def _screened(problem: Problem, cells: Cells, progress: Progress) -> Cells:
    """Return cells screened anew, the likely ones looked at closely."""
    side = float(cells.side_m[0])
    found = score_cells(
        problem, cells.east_m, cells.north_m, side, cells.share, progress
    )
    density = found.log_density
    likely = density > density.max() - KEEP_AT_FIRST
    floor = float(density.max()) - HOPELESS
    near = found.take(likely)
    closer = _closely(problem, near, starts_from(near), floor, progress)
    progress.advance(int(np.count_nonzero(~likely)))
    for name in ("log_score", "mode_score", "theta", "sd", "more_theta", "more_sd"):
        if (values := getattr(found, name)) is not None:
            values[likely] = getattr(closer, name)
    return found


def _closely(
    problem: Problem,
    cells: Cells,
    starts: NDArray[np.float64],
    floor: float,
    progress: Progress,
) -> Cells:
    return score_cells(
        problem,
        cells.east_m,
        cells.north_m,
        float(cells.side_m[0]),
        cells.share,
        progress,
        starts,
        floor=floor,
    )
