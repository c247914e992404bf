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

#: Fine cells scored again: the likeliest.
RESCORED = 1500
#: First, large cells screened anew: the likeliest, and these many of the others,
#: evenly over the ground.
RIVALS = 500
OTHERS = 500


def share_when_doubled(
    problem: Problem, posterior: Posterior, place: Place, progress: Progress
) -> float:
    """Return what a place keeps of the probability when every doubt is doubled.

    Fine cells climb again from their own cameras. First cells are screened anew for
    cameras: what was excluded with the usual doubt may have no camera to climb from.
    The others than the likeliest are sampled, each for its like.
    """
    cells, mass = posterior.cells, posterior.mass
    first = cells.side_m == cells.side_m.max()
    chosen = np.zeros(len(mass), dtype=bool)
    chosen[np.argsort(-mass, kind="stable")[:RESCORED]] = True
    large = np.flatnonzero(first)
    large = large[np.argsort(-mass[large], kind="stable")]
    rest = large[RIVALS:]
    # Every so many-th by probability: no kind of ground is left out.
    step = max(1, -(-rest.size // OTHERS))
    sampled = rest[::step]
    fine = np.flatnonzero(chosen & ~first)
    rivals = np.concatenate((large[:RIVALS], sampled))
    progress.stage("Doubling every doubt", 2 * len(rivals) + len(fine))
    doubtful = problem.doubled()
    parts = [weigh_ridges(doubtful, _screened(doubtful, cells.take(rivals), progress))]
    extra = np.zeros(len(rivals))
    if sampled.size:
        extra[-sampled.size :] = np.log(rest.size / sampled.size)
    weights = [parts[0].log_weight + extra]
    best = float(parts[0].log_density.max(initial=-np.inf))
    for side in np.unique(cells.side_m[fine]):
        part = cells.take(fine[cells.side_m[fine] == side])
        again = _closely(doubtful, part, _own(part), best - HOPELESS, progress)
        again = weigh_ridges(doubtful, again)
        parts.append(again)
        weights.append(again.log_weight)
    weight = np.concatenate(weights)
    east = np.concatenate([part.east_m for part in parts])
    north = np.concatenate([part.north_m for part in parts])
    inside = np.hypot(east - place.east_m, north - place.north_m) <= (
        problem.settings.near_enough_m
    )
    share = np.exp(weight - weight.max())
    return float(share[inside].sum() / share.sum())


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
    for name in ("log_score", "mode_score", "theta", "sd"):
        getattr(found, name)[likely] = getattr(closer, name)
    return found


def _own(cells: Cells) -> NDArray[np.float64]:
    """Return cells' cameras as starts, those that are none left out."""
    starts = cells.theta.copy()
    starts[~np.isfinite(cells.mode_score), 1] = np.nan
    return starts


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
