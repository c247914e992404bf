"""Find evidence that cannot all be so at any place, and the smallest part of it.

Some evidence fits if a camera exists at which none of it is likelier a blunder than
not. What does not fit is halved and halved again until none of it can be spared (Junker
2004, "QuickXplain: preferred explanations and relaxations for over-constrained
problems", AAAI 2004, pp. 167 to 172), a bounded number of times.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.plate_rows import plate_state
from wherestood.fix.answers import Chosen
from wherestood.fix.cells import Cells, score_cells, stations_of
from wherestood.fix.checked import Conflict
from wherestood.fix.groups import (
    RIDGES,
    TIES,
    all_but,
    groups_of,
    of_plate,
    only,
    skylines_of,
)
from wherestood.fix.kept_ground import KeptGround
from wherestood.fix.problem import Problem
from wherestood.fix.told import items_told
from wherestood.fix.verdict import Judgement
from wherestood.progress import SILENT, Progress

__all__ = ["conflict_of", "smallest_conflict", "with_conflict"]

Array = NDArray[np.float64]

#: So much of the evidence is a blunder less often than this: then nothing fits.
LEAST_PROBABILITY = 0.01
#: A skyline is long: it counts as often as this many items.
SKYLINE_COUNTS = 2
#: How often a skyline is not what it is taken for.
SKYLINE_TRUST = 0.95
#: A skyline fits a camera that is no less likely than this against its best [log].
SKYLINE_FITS = -8.0
#: What needs no camera and is trusted wholly is never a blunder: so unlikely it cannot
#: be so [log].
IMPOSSIBLE = -25.0
#: Cells that are asked whether some evidence fits: the likeliest by it.
ASKED_CELLS = 6
#: Questions at most: each weighs the kept ground once.
MOST_QUESTIONS = 28

Fits = Callable[[tuple[str, ...]], bool]


def conflict_of(
    problem: Problem,
    ground: KeptGround,
    chosen: Chosen,
    *,
    settled: bool,
    progress: Progress,
) -> Conflict | None:
    """Return evidence that cannot all be so; None where it can, or nearly.

    Parameters
    ----------
    ground : KeptGround
        Where it is tried; cameras are looked for anew.
    chosen : Chosen
        The likeliest place's answer.
    settled : bool
        Whether a place would be called located: then a blunder or two, no more than
        the trust given leads one to expect, are no conflict.
    """
    traced = {of_plate(RIDGES, k) for k in range(len(problem.plates))}
    left = {RIDGES, TIES, *traced}
    groups = {n: ids for n, ids in groups_of(problem).items() if n not in left}
    blunders = _blunders(problem, groups, chosen)
    if not blunders or len(groups) < 2:
        return None
    probability = _probability(problem, groups, len(blunders))
    if settled and probability >= LEAST_PROBABILITY:
        return None
    progress.stage("Looking for what conflicts", None)
    question = _Question(problem, ground, groups)
    # What fits the answer comes first: then a blunder is set against as little of it
    # as can be.
    order = [name for name in groups if name not in blunders]
    smallest, sure = smallest_conflict([*order, *blunders], question)
    if not smallest:
        return None
    return Conflict(tuple(blunders), probability, smallest, sure)


def with_conflict(judgement: Judgement, conflict: Conflict | None) -> Judgement:
    """Return the judgement with what conflicts: where nothing fits, none is located."""
    if conflict is None:
        return judgement
    names = _listed(conflict.smallest)
    both = "both" if len(conflict.smallest) == 2 else "all"
    reason = f"No place fits all the evidence: {names} cannot {both} be so."
    if conflict.probability < LEAST_PROBABILITY:
        return Judgement(
            "not determined",
            (
                reason,
                f"At the likeliest place {_listed(conflict.blunders)} would be wrong, "
                "which is more than can be put down to chance.",
                *(judgement.reasons if judgement.verdict != "located" else ()),
            ),
        )
    return Judgement(judgement.verdict, (*judgement.reasons, reason))


def smallest_conflict(names: list[str], fits: Fits) -> tuple[tuple[str, ...], bool]:
    """Return a part of some things that do not fit, of which none can be spared.

    Parameters
    ----------
    names : list of str
        What does not fit together; what comes first is held on to.
    fits : callable
        Says whether some of them fit; raises `StopIteration` when it has been asked
        often enough.

    Returns
    -------
    smallest : tuple of str
        In the order given; empty where all fit.
    sure : bool
        Whether none of them can be spared, or there was no time to see.
    """
    try:
        if fits(tuple(names)):
            return (), True
        found = _explain([], False, names, fits)
        return tuple(name for name in names if name in found), True
    except StopIteration:
        return tuple(names), False


def _explain(
    background: list[str], changed: bool, names: list[str], fits: Fits
) -> list[str]:
    """Return what of some names is needed, beside a background, not to fit."""
    if changed and not fits(tuple(background)):
        return []
    if len(names) == 1:
        return list(names)
    half = len(names) // 2
    first, second = names[:half], names[half:]
    needed = _explain([*background, *first], bool(first), second, fits)
    more = _explain([*background, *needed], bool(needed), first, fits)
    return [*more, *needed]


def _blunders(
    problem: Problem, groups: Mapping[str, tuple[str, ...]], chosen: Chosen
) -> list[str]:
    """Return the groups of which most would be blunders at the chosen camera."""
    wrong = {
        item.id: item.blunder_log_odds >= 0.0
        or (item.log_likelihood is not None and item.log_likelihood < IMPOSSIBLE)
        for item in items_told(problem, chosen)
    }
    found = []
    for name, ids in groups.items():
        bad = [wrong[one] for one in ids if one in wrong]
        if bad and 2 * sum(bad) > len(bad):
            found.append(name)
    return found


def _probability(
    problem: Problem, groups: Mapping[str, tuple[str, ...]], count: int
) -> float:
    """Return how likely so many groups, or more, are blunders by their trust."""
    trust: dict[str, float] = {}
    for plate in problem.plates:
        marked = (*plate.marks.marks, *plate.seen.items.items)
        trust |= {item.id: item.trust for item in marked}
        trust |= {i.id: i.trust for i in plate.free.items} if plate.free else {}
    rates = [
        1.0 - float(np.mean([trust[one] for one in ids]))
        for ids in groups.values()
        if ids[0] in trust
    ]
    for _ in skylines_of(problem):
        rates += [1.0 - SKYLINE_TRUST] * SKYLINE_COUNTS
    chance = np.array([1.0])
    for rate in rates:
        chance = np.convolve(chance, (1.0 - rate, rate))
    return float(chance[count:].sum())


@dataclass
class _Question:
    """Ask whether groups of evidence fit together, so often at most."""

    problem: Problem
    ground: KeptGround
    groups: Mapping[str, tuple[str, ...]]
    asked: dict[frozenset[str], bool] = field(default_factory=dict)
    best_skyline: dict[tuple[str, ...], float] = field(default_factory=dict)

    def __call__(self, names: tuple[str, ...]) -> bool:
        """Say whether these groups fit at some camera of the kept ground."""
        key = frozenset(names)
        if key not in self.asked:
            if len(self.asked) >= MOST_QUESTIONS:
                raise StopIteration
            self.asked[key] = self._fits(names)
        return self.asked[key]

    def _fits(self, names: tuple[str, ...]) -> bool:
        ids = [one for name in names for one in self.groups[name]]
        part = only(self.problem, ids)
        left_out = all_but(self.problem, ids)
        cells = self.ground.less(left_out, SILENT, afresh=True).cells
        order = np.argsort(-cells.log_density, kind="stable")[:ASKED_CELLS]
        best = cells.take(order)
        return any(
            self._fits_at(part, best.take(np.array([n]))) for n in range(len(order))
        )

    def _fits_at(self, part: Problem, cell: Cells) -> bool:
        hand, mode = np.unravel_index(
            int(np.argmax(cell.mode_score[0])), cell.mode_score[0].shape
        )
        stations = stations_of(part, cell, part.profiles(cell.east_m, cell.north_m))
        for k, plate in enumerate(part.plates):
            if plate.seen.any:
                theta = cell.of_plate(k).theta[0, hand, mode]
                seen = plate.seen
                if plate.hands[int(hand)].reversed:
                    seen = seen.mirrored()
                state = plate_state(seen, seen.aims(stations), theta)
                if (np.append(state.mark_odds, state.item_odds) >= 0.0).any():
                    return False
            if plate.free is not None:
                free = plate.free.weigh(stations)
                wrong = (free.blunder_log_odds[0] >= 0.0) | (free.each[0] < IMPOSSIBLE)
                if wrong.any():
                    return False
        return not part.has_skyline or self._skyline_fits(
            part, cell, int(hand), int(mode)
        )

    def _skyline_fits(self, part: Problem, cell: Cells, hand: int, mode: int) -> bool:
        """Say whether the skyline, or those of a panorama, fit about a camera."""
        names = skylines_of(part)
        alone = only(self.problem, names)
        if names not in self.best_skyline:
            left_out = all_but(self.problem, names)
            every = self.ground.less(left_out, SILENT, afresh=True).cells
            self.best_skyline[names] = float(every.log_density.max())
        cameras = cell.starts()
        starts = np.full(cameras.shape, np.nan)
        starts[0, hand, 0] = cameras[0, hand, mode]
        found = score_cells(
            alone,
            cell.east_m,
            cell.north_m,
            float(cell.side_m[0]),
            cell.share,
            SILENT,
            starts,
            closely=False,
        )
        return bool(found.log_density[0] - self.best_skyline[names] > SKYLINE_FITS)


def _listed(names: tuple[str, ...]) -> str:
    if len(names) == 1:
        return names[0]
    return f"{', '.join(names[:-1])} and {names[-1]}"
