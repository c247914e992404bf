"""Test somebody's answer against the evidence."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.mark_rows import NO_MARKS
from wherestood.fix.answers import Chosen, answer_for
from wherestood.fix.cells import Cells, score_cells
from wherestood.fix.posterior import Place, Posterior, posterior_of
from wherestood.fix.problem import Problem
from wherestood.fix.result import Proposed, ProposedTold
from wherestood.fix.ridges import weigh_ridges
from wherestood.fix.search import starts_from
from wherestood.fix.told import items_told
from wherestood.progress import SILENT

__all__ = ["proposed_told"]

Array = NDArray[np.float64]

#: Cells across the square about a proposed position that stands for its doubt.
ACROSS = 7
#: Log density below the best at which a position fits, and still fits poorly: odds
#: of 1 in 20 and of 1 in 3000.
FITS, FITS_POORLY = -3.0, -8.0
#: Bearings this many standard errors apart do not agree.
BEARING_SDS = 3.0


def proposed_told(
    problem: Problem, posterior: Posterior, chosen: Chosen, proposed: Proposed
) -> ProposedTold:
    """Return whether a proposed position fits, and because of what.

    Parameters
    ----------
    posterior : Posterior
        Of the search.
    chosen : Chosen
        The likeliest place's answer.
    proposed : Proposed
        Whose answer, where, and how far off it may be.

    Notes
    -----
    The position is searched like any ground: all cameras, its own doubt averaged
    over. What each item says is compared at the best camera there and at the best
    camera of all.
    """
    east, north = problem.terrain.frame.from_lonlat(
        np.array([proposed.lon_deg]), np.array([proposed.lat_deg])
    )
    cells = _searched(problem, float(east[0]), float(north[0]), proposed.doubt_m)
    best = float(posterior.cells.log_density.max())
    if not cells.east_m.size:
        return ProposedTold(
            proposed, "impossible", -math.inf, (("ground", -math.inf),), math.nan
        )
    there = float(cells.log_density.max())
    local = posterior_of(cells)
    place = Place(float(east[0]), float(north[0]), 1.0, np.arange(len(local.mass)))
    other = answer_for(problem, local, place)
    because = tuple(
        sorted(_differences(problem, chosen, other), key=lambda pair: pair[1])
    )
    off_sds = math.nan
    if proposed.bearing_deg is not None:
        turn = proposed.bearing_deg - other.camera.sight_bearing_deg
        turn = (turn + 180.0) % 360.0 - 180.0
        sd = math.hypot(other.camera.sd["sight_bearing_deg"], proposed.bearing_sd_deg)
        off_sds = abs(turn) / sd
    ratio = there - best
    verdict: Literal["fits", "fits poorly", "impossible"]
    if ratio < FITS_POORLY:
        verdict = "impossible"
    elif ratio < FITS or off_sds > BEARING_SDS:
        verdict = "fits poorly"
    else:
        verdict = "fits"
    return ProposedTold(proposed, verdict, ratio, because, off_sds)


def _searched(problem: Problem, east_m: float, north_m: float, doubt_m: float) -> Cells:
    """Return the cells about a position, searched as closely as any."""
    side = max(4.0, 4.0 * doubt_m / ACROSS)
    offsets = (np.arange(ACROSS) - (ACROSS - 1) / 2) * side
    east, north = (part.ravel() for part in np.meshgrid(offsets, offsets))
    whole = np.ones(east.size)
    first = score_cells(problem, east_m + east, north_m + north, side, whole, SILENT)
    if not first.east_m.size:
        return first
    closer = score_cells(
        problem,
        first.east_m,
        first.north_m,
        side,
        first.share,
        SILENT,
        starts_from(first),
    )
    return weigh_ridges(problem, closer)


def _differences(
    problem: Problem, chosen: Chosen, other: Chosen
) -> Iterator[tuple[str, float]]:
    """Give how much worse each item fares at another camera than at the best."""
    if problem.has_skyline:
        alone = replace(problem, marks=NO_MARKS, free=None, ridges=())
        yield "skyline", _at(alone, other) - _at(alone, chosen)
    before = {item.id: item for item in items_told(problem, chosen)}
    for item in items_told(problem, other):
        best = before[item.id]
        if item.log_likelihood is not None and best.log_likelihood is not None:
            yield item.id, item.log_likelihood - best.log_likelihood
        else:
            # A mark is at worst a blunder: odds below that tell no more.
            yield (
                item.id,
                min(best.blunder_log_odds, 0.0) - min(item.blunder_log_odds, 0.0),
            )


def _at(problem: Problem, chosen: Chosen) -> float:
    """Return the log density of the best camera at a chosen one's own cell."""
    starts = np.full((1, len(problem.hands), 1, len(chosen.theta)), np.nan)
    starts[0, chosen.hand, 0] = chosen.theta
    padded = np.full((1, len(problem.hands), 4, len(chosen.theta)), np.nan)
    padded[:, :, :1] = starts
    found = score_cells(
        problem,
        chosen.cell_m[:1],
        chosen.cell_m[1:2],
        4.0,
        np.ones(1),
        SILENT,
        padded,
    )
    return float(found.log_density.max(initial=-np.inf))
