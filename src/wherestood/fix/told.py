"""Say what marks and other evidence tell for and against the place found."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.item_rows import EDGE, WATER
from wherestood.evidence.items import KnownSize
from wherestood.evidence.plate_items import ANY_DISTANCE_M, NO_ITEMS
from wherestood.evidence.plate_rows import PlateState, plate_state
from wherestood.evidence.stations import Stations
from wherestood.fix.answers import Chosen
from wherestood.fix.apart import apart_deg, apart_m
from wherestood.fix.cells import Cells, score_cells, stations_of
from wherestood.fix.posterior import Place, Posterior
from wherestood.fix.problem import Problem
from wherestood.progress import SILENT

__all__ = ["CELLS", "ItemTold", "items_told", "marks_log_odds", "station_of"]

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
        By how much what needs no camera is off (`wherestood.fix.apart`); how far an
        upright edge leans to the right as it shows; how much longer a known size
        shows than it is.
    distance_m : float or None
        How far off a thing of known size must be, where nothing else tells it [m].
    """

    id: str
    kind: str
    blunder_log_odds: float
    log_likelihood: float | None = None
    residual_px: Array | None = None
    feature: str = ""
    residual_deg: float | None = None
    residual_m: float | None = None
    distance_m: float | None = None


def items_told(problem: Problem, chosen: Chosen) -> tuple[ItemTold, ...]:
    """Return what became of all that is marked, and of camera-free items."""
    if problem.beside is not None:
        return tuple(
            told
            for k, plate in enumerate(problem.plates)
            for told in items_told(plate, chosen.of_plate(k))
        )
    stations = station_of(problem, chosen)
    told: list[ItemTold] = []
    if problem.seen.any:
        reversed_ = problem.hands[chosen.hand].reversed
        seen = problem.seen.mirrored() if reversed_ else problem.seen
        state = plate_state(seen, seen.aims(stations), chosen.theta)
        told += _marks_told(problem, state, mirrored=reversed_)
        told += _edges_told(problem, state, mirrored=reversed_)
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


def _marks_told(
    problem: Problem, state: PlateState, *, mirrored: bool
) -> Iterator[ItemTold]:
    marks = problem.marks
    way = np.array([-1.0 if mirrored else 1.0, -1.0])
    way *= problem.hands[0].samples.diagonal_px
    for row, mark in enumerate(marks.marks):
        assert marks.placement is not None
        points = marks.placement.candidates(mark.id, mark.at)
        yield ItemTold(
            mark.id,
            mark.kind,
            float(state.mark_odds[row]),
            residual_px=state.mark_off[row] * way,
            # A line or an area is many points of one feature.
            feature=points.feature_ids[int(state.mark_which[row])],
        )


def _edges_told(
    problem: Problem, state: PlateState, *, mirrored: bool
) -> Iterator[ItemTold]:
    """Give what became of upright edges, waters and known sizes."""
    table = problem.seen.items
    for row, item in enumerate(table.items):
        off, by_height = (float(value) for value in state.item_off[row])
        told = ItemTold(item.id, item.kind, float(state.item_odds[row]))
        if table.rows[row, 0] == EDGE:
            first = int(table.rows[row, 1])
            # To the right is where the upper end lies, whichever was marked first.
            upright = table.points[first, 1] >= table.points[first + 1, 1]
            lean = math.degrees(off) if upright != mirrored else -math.degrees(off)
            yield replace(told, residual_deg=lean)
        elif table.rows[row, 0] == WATER:
            if math.isfinite(off):
                below_px = -off / by_height * problem.hands[0].samples.diagonal_px
                told = replace(told, residual_px=np.array([0.0, below_px]))
            yield told
        else:
            assert isinstance(item, KnownSize)
            points = table.candidates[int(table.rows[row, 5])]
            told = replace(told, residual_m=item.length_m * math.expm1(off))
            if points is not None:
                told = replace(
                    told, feature=points.feature_ids[int(state.item_which[row])]
                )
            elif item.distance_m is None:
                # Nothing else tells how far off it is: this is what its size says.
                told = replace(
                    told, residual_m=None, distance_m=ANY_DISTANCE_M * math.exp(-off)
                )
            yield told


def marks_log_odds(problem: Problem, posterior: Posterior, place: Place) -> float:
    """Return how much likelier the marks are from this place than from elsewhere.

    Notes
    -----
    The skyline is left out. The place's cells are summed over, against the whole
    ground searched, camera and cell integrated: more unknowns than marks gain nothing.
    Seen from elsewhere marks are tied to what they are not, all of them and not one in
    twenty: each may lie anywhere on the plate.
    """
    if not any(len(plate.marks.plate) for plate in problem.plates):
        return 0.0
    alone = problem.each(_marks_alone)
    none = alone.each(_tied_to_nothing)
    members = place.members[np.argsort(-posterior.mass[place.members])[:CELLS]]
    cells = posterior.cells.take(members)
    area = problem.area.in_frame(problem.terrain.frame).area
    right = _total(alone, cells) - np.log(area)
    first = cells.take(np.arange(1))
    elsewhere = _total(none, first) - float(first.log_area[0])
    return float(right - elsewhere)


def _marks_alone(plate: Problem) -> Problem:
    # Heights on the skyline are for the chance of the skyline's match to count.
    seen = replace(plate.seen, items=NO_ITEMS)
    return replace(plate.without_skyline(), free=None, seen=seen)


def _tied_to_nothing(plate: Problem) -> Problem:
    return replace(plate, seen=plate.seen.anywhere())


def _total(problem: Problem, cells: Cells) -> float:
    """Return the log of the density summed over cells' areas."""
    parts = []
    for side in np.unique(cells.side_m):
        part = cells.take(cells.side_m == side)
        found = score_cells(
            problem,
            part.east_m,
            part.north_m,
            float(side),
            part.share,
            SILENT,
            part.starts(),
        )
        parts.append(found.log_weight)
    return float(np.logaddexp.reduce(np.concatenate(parts)))


def station_of(problem: Problem, chosen: Chosen) -> Stations:
    """Return the chosen station by itself, as evidence looks from it."""
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
