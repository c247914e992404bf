"""Add all that is marked on a plate to the normal equations of one camera.

Marks, edges, waters and sizes each add rows; what they share (the lens's height, a
feature, a plan, a water's level) is integrated out of all of them at once.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.item_rows import AIM, add_items, item_residuals
from wherestood.evidence.mark_rows import add_marks, mark_off
from wherestood.evidence.mark_table import NO_MARKS, TARGET, MarkTable, mark_targets
from wherestood.evidence.normal_rows import eliminate_shared
from wherestood.evidence.plate_items import NO_ITEMS, ItemTable
from wherestood.evidence.stations import Stations
from wherestood.evidence.unknowns import COUNT
from wherestood.evidence.water_rows import LEVEL

__all__ = [
    "NOTHING_MARKED",
    "Aims",
    "OnPlate",
    "PlateState",
    "add_marked",
    "add_plate_rows",
    "plate_state",
]

Array = NDArray[np.float64]

_MAY_BE, _GOOD, _LEFT_OUT = 0, 1, 2


@dataclass(frozen=True)
class Aims:
    """Hold where stations would show what is marked.

    Attributes
    ----------
    marks : (stations, marks, candidates, 20) float64 array
        As `mark_rows.TARGET`.
    sizes : (stations, sizes, candidates, 7) float64 array
        As `item_rows.AIM`.
    levels : (stations, waters, bearings, 9) float64 array
        As `item_rows.LEVEL`.
    """

    marks: Array
    sizes: Array
    levels: Array

    @classmethod
    def none(cls, stations: int) -> Aims:
        """Return those of nothing."""
        return cls(
            np.zeros((stations, 0, 1, TARGET)),
            np.zeros((stations, 0, 1, AIM)),
            np.zeros((stations, 0, 1, LEVEL)),
        )


@dataclass(frozen=True)
class OnPlate:
    """Hold all that is marked on one hand of a plate, skyline and ridges aside.

    Attributes
    ----------
    marks : MarkTable
    items : ItemTable
    errors : int
        How many errors they share.
    """

    marks: MarkTable = NO_MARKS
    items: ItemTable = NO_ITEMS
    errors: int = 1

    @property
    def any(self) -> bool:
        """Say whether anything is marked at all."""
        return bool(len(self.marks.plate) or len(self.items.rows))

    def mirrored(self) -> OnPlate:
        """Return what is marked on the plate seen from behind."""
        return replace(self, marks=self.marks.mirrored(), items=self.items.mirrored())

    def anywhere(self) -> OnPlate:
        """Return the marks alone, tied to nothing: anywhere on the plate, for sure."""
        return OnPlate(self.marks.anywhere(), NO_ITEMS, self.errors)

    def without(self, ids: Collection[str]) -> OnPlate:
        """Return it less some items."""
        items = self.items
        left = [row for row, item in enumerate(items.items) if item.id not in ids]
        items = replace(
            items,
            rows=items.rows[left],
            items=tuple(items.items[row] for row in left),
        )
        return replace(self, marks=self.marks.without(ids), items=items)

    def doubled(self) -> OnPlate:
        """Return all of it twice as doubtful."""
        return replace(self, marks=self.marks.doubled(), items=self.items.doubled())

    def without_skyline(self) -> OnPlate:
        """Return it where there is no skyline that marks might repeat."""
        return replace(self, marks=self.marks.without_skyline())

    def aims(self, stations: Stations) -> Aims:
        """Return where stations would show what is marked."""
        return Aims(
            mark_targets(self.marks, stations),
            self.items.aims(stations),
            self.items.levels(stations),
        )

    def fixed(self) -> tuple[Any, ...]:
        """Return what `add_plate_rows` takes of it that no station changes."""
        marks, items = self.marks, self.items
        return (
            (marks.plate, marks.log_weight, marks.log_blunder, marks.where,
             marks.error_sd_m),
            (items.points, items.rows, items.log_weight, items.where,
             items.error_sd_m),
            np.zeros(len(marks.plate), dtype=np.int8),
            np.zeros(len(items.rows), dtype=np.int8),
            self.errors,
        )  # fmt: skip

    def handed(self, aims: Aims, station: int = 0) -> tuple[Any, ...]:
        """Return what `add_plate_rows` takes, for one station."""
        return (
            self.fixed(),
            aims.marks[station],
            aims.sizes[station],
            aims.levels[station],
        )


NOTHING_MARKED = OnPlate()


@numba.njit(cache=True, nogil=True, error_model="numpy")
def add_plate_rows(  # type: ignore[no-untyped-def]
    theta, handed, wider, whole, linear, normal, right, errors
):
    """Add all that is marked to normal equations; return squares and log determinant.

    Parameters
    ----------
    handed : tuple
        As `OnPlate.handed`.
    wider : float
        Added to every standard error of a direction, squares adding up.
    whole : bool
        Whether all unknowns are solved for, or bearing, ln c and cross are held.
    linear : bool
        Whether the linear unknowns stand as in ``theta``, or are measured from zero.
    normal, right : arrays
        Added to; of the first the lower triangle.
    errors : array
        Receives the likeliest shared errors, the camera's unknowns standing as they
        do; an empty one is left alone.
    """
    count = handed[0][4]
    between = np.zeros((count, count))
    for i in range(count):
        between[i, i] = 1.0
    across = np.zeros((count, COUNT))
    pull = np.zeros(count)
    square, log_det = add_marked(
        theta, handed, wider, whole, linear, normal, right, between, across, pull
    )
    off, units = eliminate_shared(between, across, pull, normal, right)
    if errors.size > 0:
        for i in range(count - 1, -1, -1):
            value = -pull[i]
            for j in range(i + 1, count):
                value -= between[j, i] * errors[j]
            errors[i] = value / between[i, i]
    return square + off, log_det + units


@numba.njit(cache=True, nogil=True, error_model="numpy")
def add_marked(  # type: ignore[no-untyped-def]
    theta, handed, wider, whole, linear, normal, right, between, across, pull
):
    """Add all that is marked, its shared errors still to be integrated out.

    ``between``, ``across`` and ``pull`` are those of `normal_rows`, added to; the rest
    is as `add_plate_rows` takes it.
    """
    fixed, targets, aims, levels = handed
    marks, items, mark_states, item_states, _ = fixed
    square = 0.0
    log_det = 0.0
    if marks[0].shape[0] > 0:
        off, units = add_marks(
            theta, marks[0], targets, marks[1], marks[2], marks[3], marks[4],
            mark_states, wider, whole, linear, normal, right, between, across, pull,
        )  # fmt: skip
        square += off
        log_det += units
    if items[1].shape[0] > 0:
        off, units = add_items(
            theta, items[0], items[1], items[2], items[3], items[4], aims, levels,
            item_states, wider, whole, linear, normal, right, between, across, pull,
        )  # fmt: skip
        square += off
        log_det += units
    return square, log_det


@dataclass(frozen=True)
class PlateState:
    """Hold how one camera explains what is marked.

    Attributes
    ----------
    mark_odds, item_odds : (n,) float64 array
        Log odds that each is a blunder, the others standing as they do.
    mark_off : (marks, 2) float64 array
        How far each lies right of and above where its feature would show, over the
        diagonal.
    mark_which : (marks,) int64 array
        Which of its features fits best.
    item_off : (items, 2) float64 array
        As `item_rows.item_residuals`.
    item_which : (items,) int64 array
        Which candidate fits a size best; -1 for all else.
    """

    mark_odds: Array
    mark_off: Array
    mark_which: NDArray[np.int64]
    item_odds: Array
    item_off: Array
    item_which: NDArray[np.int64]


def plate_state(seen: OnPlate, aims: Aims, theta: Array) -> PlateState:
    """Return how one camera explains what is marked.

    Parameters
    ----------
    seen : OnPlate
        On the camera's hand of the plate.
    aims : Aims
        Of the camera's station alone.
    theta : (unknowns,) float64 array
    """
    handed = seen.handed(aims)
    fixed = handed[0]
    mark_odds = np.zeros(len(seen.marks.plate))
    item_odds = np.zeros(len(seen.items.rows))

    def density(states: tuple[NDArray[np.int8], NDArray[np.int8]]) -> float:
        square, log_det = add_plate_rows(
            theta, ((*fixed[:2], *states, fixed[4]), *handed[1:]), 0.0, True, True,
            np.zeros((COUNT, COUNT)), np.zeros(COUNT), np.zeros(0),
        )  # fmt: skip
        return float(-0.5 * (square + log_det))

    for odds, place, blunders in (
        (mark_odds, 0, seen.marks.log_blunder),
        (item_odds, 1, seen.items.rows[:, 4]),
    ):
        for row in range(len(odds)):
            states = (fixed[2].copy(), fixed[3].copy())
            states[place][row] = _LEFT_OUT
            without = density(states)
            states[place][row] = _GOOD
            odds[row] = blunders[row] - (density(states) - without)
    errors = np.zeros(seen.errors)
    add_plate_rows(
        theta, handed, 0.0, True, True, np.zeros((COUNT, COUNT)), np.zeros(COUNT),
        errors,
    )  # fmt: skip
    off, which = mark_off(seen.marks, aims.marks[0], theta, errors)
    items = seen.items
    item_off = np.zeros((len(items.rows), 2))
    item_which = np.zeros(len(items.rows), dtype=np.int64)
    item_residuals(
        theta, items.points, items.rows, items.log_weight, items.where,
        items.error_sd_m, aims.sizes[0], aims.levels[0], errors, item_off, item_which,
    )  # fmt: skip
    return PlateState(mark_odds, off, which, item_odds, item_off, item_which)
