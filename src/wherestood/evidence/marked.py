"""Make ready all that is marked on a plate, for one plate or all of a panorama."""

from __future__ import annotations

from collections import ChainMap
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.dependence import repeats
from wherestood.evidence.items import Evidence, KnownSize, SeaHorizon, WaterLevel
from wherestood.evidence.items.item import Item
from wherestood.evidence.items.on_plate import Mark
from wherestood.evidence.mark_table import NO_MARKS, MarkTable
from wherestood.evidence.placed import Candidates, Placement, place_evidence
from wherestood.evidence.plate_items import ItemTable, size_candidates, waters_of
from wherestood.evidence.plate_rows import NOTHING_MARKED, OnPlate
from wherestood.evidence.shared_errors import SharedErrors, shared_errors
from wherestood.evidence.shores import Water
from wherestood.terrain.horizon import HorizonModel

__all__ = ["held_back", "on_plate"]

Array = NDArray[np.float64]


def on_plate(
    evidence: Evidence,
    model: HorizonModel,
    width_px: float,
    height_px: float,
    farthest_m: float = 30_000.0,
    skyline: Array | None = None,
    among: Sequence[Evidence] = (),
) -> OnPlate:
    """Make ready all that is marked on a plate and repeats nothing else.

    Parameters
    ----------
    evidence : Evidence
        Checked.
    model : HorizonModel
        The terrain.
    width_px, height_px : float
        Size of the plate [px].
    farthest_m : float
        How far land is looked for [m].
    skyline : (samples, 5) float64 array, optional
        The traced skyline as scored: of a mark on it only the bearing is told anew.
    among : sequence of Evidence, optional
        That of all plates of its panorama, its own included, in the order of all: one
        feature on two plates errs alike on both, and has one number on all.
    """
    marks, items = _marked(evidence)
    if not marks and not items:
        return NOTHING_MARKED
    own = _Spoken.of(evidence, model)
    placement, waters = own.placement, own.waters
    shared = _errors_shared([_Spoken.of(one, model) for one in among] or [own])
    return OnPlate(
        MarkTable.of(marks, placement, width_px, height_px, shared, skyline)
        if marks
        else NO_MARKS,
        ItemTable.of(
            items, waters, placement, shared, width_px, height_px, model, farthest_m
        ),
        shared.count,
    )


@dataclass(frozen=True)
class _Spoken:
    """Hold what the marks, waters and sizes of one plate speak of."""

    placement: Placement
    seen: tuple[Candidates, ...]
    waters: tuple[Water, ...]

    @classmethod
    def of(cls, evidence: Evidence, model: HorizonModel) -> _Spoken:
        """Place what a plate's evidence speaks of."""
        marks, items = _marked(evidence)
        placement = place_evidence(evidence, model.terrain.frame, model.terrain)
        levels = [item for item in items if isinstance(item, WaterLevel | SeaHorizon)]
        sizes = [item for item in items if isinstance(item, KnownSize)]
        seen = [placement.candidates(mark.id, mark.at) for mark in marks]
        seen += [one for one in size_candidates(sizes, placement) if one is not None]
        waters = waters_of(levels, evidence, placement, model)
        return cls(placement, tuple(seen), waters)


def _errors_shared(spoken: Sequence[_Spoken]) -> SharedErrors:
    """Give each error that what is marked on the plates shares a number for all."""
    first = spoken[0].placement
    features = ChainMap(*(dict(one.placement.features) for one in spoken))
    return shared_errors(
        [points for one in spoken for points in one.seen],
        replace(first, features=features),
        (water.id for one in spoken for water in one.waters),
    )


def _marked(evidence: Evidence) -> tuple[tuple[Mark, ...], list[Item]]:
    """Return the marks that count, and all else that is marked and no repeat."""
    repeated = repeats(evidence)
    marks = tuple(
        mark
        for mark in evidence.marks
        if mark.id not in repeated and mark.identities and not mark.held_back
    )
    kinds = (
        evidence.plumb_edges,
        evidence.water_levels,
        evidence.sea_horizons,
        evidence.known_sizes,
    )
    return marks, [item for kind in kinds for item in kind if item.id not in repeated]


def held_back(
    evidence: Evidence, model: HorizonModel, width_px: float, height_px: float
) -> MarkTable:
    """Make ready the marks that are held back, to test an answer by.

    The parameters are those of `on_plate`.
    """
    repeated = repeats(evidence)
    marks = tuple(
        mark
        for mark in evidence.marks
        if mark.id not in repeated and mark.identities and mark.held_back
    )
    if not marks:
        return NO_MARKS
    placement = place_evidence(evidence, model.terrain.frame, model.terrain)
    return MarkTable.of(marks, placement, width_px, height_px)
