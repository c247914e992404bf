"""Say what marks and other evidence tell for and against the place found."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.mark_rows import mark_state, mark_targets
from wherestood.evidence.stations import Stations
from wherestood.fix.answers import Chosen
from wherestood.fix.apart import apart_deg, apart_m
from wherestood.fix.cells import Cells, score_cells, stations_of
from wherestood.fix.posterior import Place, Posterior
from wherestood.fix.problem import Problem
from wherestood.progress import SILENT

__all__ = ["CELLS", "ItemTold", "items_told", "marks_log_odds"]

Array = NDArray[np.float64]

#: Likeliest cells of the place that the marks are tried on by themselves.
CELLS = 200


@dataclass(frozen=True)
class ItemTold:
    """Hold what became of one item of evidence at the place found.

    Attributes
    ----------
    id, kind : str
    log_likelihood : float or None
        Of an item that needs no camera, at that station.
    blunder_log_odds : float
        Log odds that it is a blunder, were the camera there.
    residual_px : (2,) float64 array or None
        How far a mark lies right of and below where its feature would show [px].
    feature : str
        Which feature fits a mark best.
    residual_deg, residual_m : float or None
        By how much what needs no camera is off (`wherestood.fix.apart`).
    """

    id: str
    kind: str
    blunder_log_odds: float
    log_likelihood: float | None = None
    residual_px: Array | None = None
    feature: str = ""
    residual_deg: float | None = None
    residual_m: float | None = None


def items_told(problem: Problem, chosen: Chosen) -> tuple[ItemTold, ...]:
    """Return what became of marks and camera-free items at the chosen camera."""
    stations = _station(problem, chosen)
    told: list[ItemTold] = []
    if len(problem.marks.plate):
        reversed_ = problem.hands[chosen.hand].reversed
        marks = problem.marks.mirrored() if reversed_ else problem.marks
        odds, off, which = mark_state(
            marks, mark_targets(marks, stations)[0], chosen.theta
        )
        diagonal = problem.hands[0].samples.diagonal_px
        way = np.array([-1.0 if reversed_ else 1.0, -1.0]) * diagonal
        assert marks.placement is not None
        for row, mark in enumerate(marks.marks):
            points = marks.placement.candidates(mark.id, mark.at)
            told.append(
                ItemTold(
                    mark.id,
                    mark.kind,
                    float(odds[row]),
                    residual_px=off[row] * way,
                    # A line or an area is many points of one feature.
                    feature=points.feature_ids[int(which[row])],
                )
            )
    if problem.free is not None:
        items = {item.id: item for item in problem.free.items}
        weighed = problem.free.weigh(stations)
        for column, name in enumerate(weighed.ids):
            told.append(
                ItemTold(
                    name,
                    items[name].kind,
                    float(weighed.blunder_log_odds[0, column]),
                    log_likelihood=float(weighed.each[0, column]),
                    residual_deg=apart_deg(items[name], problem.free, stations),
                    residual_m=apart_m(items[name], problem.free, stations),
                )
            )
    return tuple(told)


def marks_log_odds(problem: Problem, posterior: Posterior, place: Place) -> float:
    """Return how much likelier the marks are from this place than from elsewhere.

    Notes
    -----
    The skyline is left out. The place's cells are summed over, against the whole
    ground searched, camera and cell integrated: more unknowns than marks gain nothing.
    Seen from elsewhere marks are tied to what they are not, all of them and not one in
    twenty: each may lie anywhere on the plate.
    """
    if not len(problem.marks.plate):
        return 0.0
    hands = tuple(
        replace(hand, samples=replace(hand.samples, table=np.zeros((0, 5))))
        for hand in problem.hands
    )
    alone = replace(problem, hands=hands, free=None)
    none = replace(alone, marks=problem.marks.anywhere())
    members = place.members[np.argsort(-posterior.mass[place.members])[:CELLS]]
    cells = posterior.cells.take(members)
    area = problem.area.in_frame(problem.terrain.frame).area
    right = _total(alone, cells) - np.log(area)
    first = cells.take(np.arange(1))
    elsewhere = _total(none, first) - float(first.log_area[0])
    return float(right - elsewhere)


def _total(problem: Problem, cells: Cells) -> float:
    """Return the log of the density summed over cells' areas."""
    parts = []
    for side in np.unique(cells.side_m):
        part = cells.take(cells.side_m == side)
        starts = part.theta.copy()
        starts[~np.isfinite(part.mode_score), 1] = np.nan
        found = score_cells(
            problem,
            part.east_m,
            part.north_m,
            float(side),
            part.share,
            SILENT,
            starts,
        )
        parts.append(found.log_weight)
    return float(np.logaddexp.reduce(np.concatenate(parts)))


def _station(problem: Problem, chosen: Chosen) -> Stations:
    east, north, lens = chosen.cell_m
    profiles = problem.profiles(np.array([east]), np.array([north]))
    empty = np.zeros((1, 1))
    cell = Cells(
        np.array([east]),
        np.array([north]),
        np.zeros(1),
        np.ones(1),
        empty,
        empty[..., None],
        np.zeros((1, 1, 1, len(chosen.theta))),
        np.zeros((1, 1, 1, len(chosen.theta))),
        np.array([lens - problem.maker.lens_height_m]),
    )
    return stations_of(problem, cell, profiles)
