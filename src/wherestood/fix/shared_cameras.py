"""Let cells try the cameras of their neighbours.

The horizon is rough, so a climb often stops short of the camera that fits best, and a
screen keeps few. What fits at one station nearly fits at the next: a cell whose
neighbour found a better camera climbs again from there, and passes it on.

References
----------
Barnes, Shechtman, Finkelstein and Goldman 2009, "PatchMatch: a randomized
correspondence algorithm for structural image editing": good guesses found by chance
spread to their neighbours in a few passes.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.batch import SAME_BEARING_RAD, SAME_LOG_DISTANCE
from wherestood.fix.cells import LIGHT, Cells, score_cells
from wherestood.fix.kept_profiles import KeptProfiles
from wherestood.fix.problem import Problem
from wherestood.progress import Progress

__all__ = ["share_cameras"]

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

#: A neighbour's camera must be better by this in log density to be tried.
LEAST_GAIN = 1.0
#: Passes at most: each carries a camera as far as the farthest neighbour.
PASSES = 8
#: Neighbours asked, in cells: those next to one, and some farther.
_NEAR = [(r, c) for r in (-1, 0, 1) for c in (-1, 0, 1) if (r, c) != (0, 0)]
_FAR = [(3 * r, 3 * c) for r, c in _NEAR]


def share_cameras(
    problem: Problem,
    cells: Cells,
    progress: Progress,
    *,
    floor: float,
    closely: bool = True,
    passes: int = PASSES,
    kept: KeptProfiles | None = None,
) -> Cells:
    """Return cells of one size, each with the best of its own and its neighbours'.

    Parameters
    ----------
    floor : float
        Cameras of less log density than this are not worth passing on.
    closely : bool
        Whether what is found is looked at closely, as `score_cells` does.
    kept : KeptProfiles, optional
        Horizons of these cells, the first of them or all.

    Notes
    -----
    No cell's cameras get worse. Only cells beside a better one are scored again.
    """
    if cells.east_m.size < 2:
        return cells
    cells = replace(
        cells,
        log_score=cells.log_score.copy(),
        mode_score=cells.mode_score.copy(),
        theta=cells.theta.copy(),
        sd=cells.sd.copy(),
        more_theta=None if cells.more_theta is None else cells.more_theta.copy(),
        more_sd=None if cells.more_sd is None else cells.more_sd.copy(),
    )
    neighbours = _neighbours(cells)
    tried = np.full(cells.log_score.shape, -np.inf)
    for _ in range(passes):
        starts, chosen = _from_neighbours(cells, neighbours, tried, floor)
        if not chosen.size:
            break
        progress.stage("Trying the neighbours' cameras", chosen.size)
        ready = 0 if kept is None else int(np.searchsorted(chosen, kept.count))
        parts = []
        for part, at_hand in ((slice(0, ready), kept), (slice(ready, None), None)):
            which = chosen[part]
            if not which.size:
                continue
            scored = score_cells(
                problem,
                cells.east_m[which],
                cells.north_m[which],
                float(cells.side_m[0]),
                cells.share[which],
                progress,
                starts[part],
                profiles=None if at_hand is None else at_hand.of(which),
                floor=floor,
                closely=closely,
            )
            parts.append(scored)
        found = parts[0].joined(*parts[1:])
        _take_in(cells, chosen, found)
    return cells


def _neighbours(cells: Cells) -> Indices:
    """Return each cell's neighbours as indices, -1 for none."""
    side = cells.side_m[0]
    column = np.rint((cells.east_m - cells.east_m.min()) / side).astype(np.int64)
    row = np.rint((cells.north_m - cells.north_m.min()) / side).astype(np.int64)
    edge = 3
    at = np.full(
        (row.max() + 1 + 2 * edge, column.max() + 1 + 2 * edge), -1, dtype=np.int64
    )
    at[row + edge, column + edge] = np.arange(row.size)
    return np.stack(
        [at[row + edge + r, column + edge + c] for r, c in _NEAR + _FAR], axis=1
    )


def _from_neighbours(
    cells: Cells, neighbours: Indices, tried: Array, floor: float
) -> tuple[Array, Indices]:
    """Return starting cameras for the cells beside a better one, and those cells.

    ``tried`` holds the log density of the best camera that each cell has tried, and is
    brought up to date.
    """
    best = cells.mode_score.max(axis=2)
    which = cells.mode_score.argmax(axis=2)
    count, hands, modes = cells.mode_score.shape
    cameras = cells.starts()
    offers = []
    for hand in range(hands):
        near = np.where(neighbours >= 0, best[neighbours, hand], -np.inf)
        from_ = near.argmax(axis=1)
        offered = near[np.arange(count), from_]
        least = np.maximum(best[:, hand] + LEAST_GAIN, tried[:, hand] + LEAST_GAIN)
        take = np.flatnonzero((offered > least) & (offered > floor))
        tried[take, hand] = offered[take]
        offers.append((take, neighbours[take, from_[take]]))
    chosen = np.unique(np.concatenate([take for take, _ in offers]))
    starts = np.full((chosen.size, hands, modes, *cameras.shape[3:]), np.nan)
    for hand, (take, giver) in enumerate(offers):
        to = np.searchsorted(chosen, take)
        starts[to, hand, 0] = cameras[giver, hand, which[giver, hand]]
        # Where in its own cell the giver stood is nothing to this one.
        starts[to, hand, 0, ..., -2:] = 0.0
    return starts, chosen


def _take_in(cells: Cells, chosen: Indices, found: Cells) -> None:
    """Put what was found among each cell's cameras, in place of a worse one."""
    each = np.arange(chosen.size)
    for hand in range(cells.log_score.shape[1]):
        new = found.mode_score[:, hand, 0]
        theta = found.theta[:, hand, 0]
        own = cells.mode_score[chosen, hand]
        turn = cells.theta[chosen, hand, :, 0] - theta[:, None, 0]
        turn = np.abs((turn + np.pi) % (2.0 * np.pi) - np.pi)
        lens = np.abs(cells.theta[chosen, hand, :, 1] - theta[:, None, 1])
        same = (turn < SAME_BEARING_RAD) & (lens < SAME_LOG_DISTANCE)
        same &= np.isfinite(own)
        # One camera found twice is one; else the worst makes room.
        beaten = same & (own < new[:, None])
        worse_twin = same.any(axis=1) & ~beaten.any(axis=1)
        slot = np.where(
            beaten.any(axis=1), np.argmax(beaten, axis=1), np.argmin(own, axis=1)
        )
        better = np.isfinite(new) & (new > own[each, slot]) & ~worse_twin
        at, to = chosen[better], slot[better]
        for mode in range(own.shape[1]):
            twin = beaten[better, mode] & (to != mode)
            cells.mode_score[at[twin], hand, mode] = -np.inf
        cells.mode_score[at, hand, to] = new[better]
        cells.theta[at, hand, to] = theta[better]
        cells.sd[at, hand, to] = found.sd[better, hand, 0]
        if cells.more_theta is not None and found.more_theta is not None:
            cells.more_theta[at, hand, to] = found.more_theta[better, hand, 0]
        if cells.more_sd is not None and found.more_sd is not None:
            cells.more_sd[at, hand, to] = found.more_sd[better, hand, 0]
    total = np.logaddexp.reduce(cells.mode_score[chosen], axis=2)
    cells.log_score[chosen] = np.maximum(total, LIGHT)
