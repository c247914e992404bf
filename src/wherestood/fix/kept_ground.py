"""Weigh ground that a search kept again, by other evidence than it was found by.

Nothing is searched anew: the cameras found there climb again from where they are.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.profile import SHIFT_CELLS, Profiles
from wherestood.fix.cells import Cells, score_cells
from wherestood.fix.groups import groups_of, without
from wherestood.fix.posterior import (
    BESIDE,
    SKYLINE_ALONE,
    Posterior,
    Powers,
    doubted,
    smoothed_log_density,
)
from wherestood.fix.problem import Problem
from wherestood.fix.ridges import weigh_ridges
from wherestood.progress import Progress

__all__ = [
    "KeptGround",
    "Spread",
    "Weighing",
    "keep_ground",
    "shift_reach_m",
    "unsure_powers",
]

Array = NDArray[np.float64]

#: Likeliest cells that are weighed again, and those of less probability that are not.
LIKELIEST = 400
LEAST_MASS = 1e-6
#: With much evidence they are fewer, so that leaving out each costs so many cells in
#: all, but never so few that a place has no shape.
IN_ALL, FEWEST = 6000, 150
#: So many of all other cells, each for its like: what an item alone excludes may
#: come back without it.
OTHERS = 100
#: Three marks settle a station and a camera that stands plumb; fewer lean on the sky.
MARKS_THAT_SETTLE = 3
#: Cameras this far below the best of their cell are not asked again [log].
CAMERAS_WITHIN = 6.0
#: Share of the probability whose ground is compared.
HELD = 0.9


@dataclass(frozen=True)
class Spread:
    """Hold where a station is, on average, and how sure that is.

    Attributes
    ----------
    east_m, north_m : float
        Mean [m].
    covariance : (2, 2) float64 array
        Of east and north, the cells' own size included [m2].
    area_m2 : float
        Smallest ground that holds `HELD` of the probability [m2].
    """

    east_m: float
    north_m: float
    covariance: Array
    area_m2: float


@dataclass(frozen=True)
class Weighing:
    """Hold kept ground as some evidence weighs it.

    Attributes
    ----------
    cells : Cells
        In the order of the kept ground; those on unknown ground are none of it.
    stands_for : (n,) float64 array
        How many cells each stands for.
    mass : (n,) float64 array
        Probability of each with all it stands for; sums to one.
    log_evidence : float
        Log of the density summed over the area.
    """

    cells: Cells
    stands_for: Array
    mass: Array
    log_evidence: float

    @property
    def log_density(self) -> Array:
        """Return the log of probability per area, up to a constant."""
        area = self.cells.side_m**2 * self.stands_for
        with np.errstate(divide="ignore"):
            return np.asarray(np.log(self.mass / area))

    def of_plate(self, plate: int) -> Weighing:
        """Return the same with the cameras of one plate of a panorama."""
        return replace(self, cells=self.cells.of_plate(plate))

    def spread(self) -> Spread:
        """Return mean, covariance and the ground held."""
        cells, mass = self.cells, self.mass
        east, north = float(mass @ cells.east_m), float(mass @ cells.north_m)
        off = np.column_stack((cells.east_m - east, cells.north_m - north))
        inner = float(mass @ cells.side_m**2) / 12.0
        covariance = (off * mass[:, None]).T @ off + inner * np.eye(2)
        return Spread(east, north, covariance, self.held_m2())

    def held_m2(self, mass: Array | None = None) -> float:
        """Return the smallest ground that holds `HELD` of the probability [m2].

        Parameters
        ----------
        mass : (n,) float64 array, optional
            In place of this weighing's own; the last cell counts in part.
        """
        share = self.mass if mass is None else mass
        area = self.cells.side_m**2 * self.stands_for
        order = np.argsort(-share / area, kind="stable")
        running = np.cumsum(share[order])
        covered = np.cumsum(area[order])
        wanted = HELD * running[-1]
        last = int(np.searchsorted(running, wanted))
        over = (running[last] - wanted) / max(float(share[order[last]]), 1e-300)
        return float(covered[last] - over * area[order[last]])


@dataclass(frozen=True)
class KeptGround:
    """Hold the ground that is weighed again, with its horizons.

    Attributes
    ----------
    problem : Problem
        What it was searched by.
    parts : tuple of (Cells, (n,) float64 array, Profiles)
        Cells of one size each, how many each stands for, and their horizons.
    """

    problem: Problem
    parts: tuple[tuple[Cells, Array, Profiles], ...]
    _made: dict[tuple[frozenset[str], bool], Weighing] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    @property
    def count(self) -> int:
        """Return how many cells there are."""
        return sum(len(cells.east_m) for cells, _, _ in self.parts)

    def less(
        self, ids: Collection[str], progress: Progress, *, afresh: bool = False
    ) -> Weighing:
        """Weigh the ground by its own problem less some items, each such part once.

        Parameters
        ----------
        afresh : bool
            As `weigh`.
        """
        key = (frozenset(ids), afresh)
        if key in self._made:
            progress.advance(self.count)
        else:
            changed = without(self.problem, ids)
            self._made[key] = self.weigh(changed, progress, afresh=afresh)
        return self._made[key]

    def weigh(
        self, changed: Problem, progress: Progress, *, afresh: bool = False
    ) -> Weighing:
        """Weigh the ground by a problem of the same plate and ground.

        Parameters
        ----------
        afresh : bool
            Whether cameras are looked for anew, in place of those found before.
        """
        found, numbers = [], []
        reach_m = shift_reach_m(changed)
        for cells, stands_for, profiles in self.parts:
            again = score_cells(
                changed,
                cells.east_m,
                cells.north_m,
                float(cells.side_m[0]),
                cells.share,
                progress,
                None if afresh else _starts(cells),
                profiles=profiles,
                closely=False,
            )
            found.append(again)
            numbers.append(stands_for)
        whole = weigh_ridges(changed, found[0].joined(*found[1:]))
        number = np.concatenate(numbers)
        # The averaging is for neighbours, and what stands for many has none.
        alone = number > 1.0
        density = whole.log_density.copy()
        if reach_m > 0.0 and not alone.all():
            density[~alone] = smoothed_log_density(whole.take(~alone), reach_m)
        before = whole.log_area + np.log(number)
        log_total = float(np.logaddexp.reduce(density + before))
        log_mass = density + before - log_total
        powers = unsure_powers(changed)
        if powers is not None:
            free = 0.0 if whole.free is None else whole.free
            log_mass = doubted(density - free, free + before, powers)
        return Weighing(whole, number, np.exp(log_mass), log_total)


def keep_ground(problem: Problem, posterior: Posterior) -> KeptGround:
    """Return the likeliest ground of a search and a sample of the rest."""
    mass = posterior.mass
    most = min(LIKELIEST, max(FEWEST, IN_ALL // (1 + len(groups_of(problem)))))
    likely = np.flatnonzero(mass > LEAST_MASS)[:most]
    rest = np.setdiff1d(np.arange(len(mass)), likely)
    rest = rest[np.argsort(-mass[rest], kind="stable")]
    step = max(1, -(-rest.size // OTHERS))
    sampled = rest[::step]
    chosen = np.concatenate((likely, sampled))
    number = np.ones(chosen.size)
    if sampled.size:
        number[likely.size :] = rest.size / sampled.size
    parts = []
    for side in np.unique(posterior.cells.side_m[chosen]):
        which = posterior.cells.side_m[chosen] == side
        cells = posterior.cells.take(chosen[which])
        profiles = problem.profiles(cells.east_m, cells.north_m)
        parts.append((cells, number[which], profiles))
    return KeptGround(problem, tuple(parts))


def shift_reach_m(problem: Problem) -> float:
    """Return how far the model may be shifted as a whole, a standard error [m].

    A shift moves what the horizon tells, not what marks do: 0 without a skyline, and 0
    where marks alone would settle the station, which averaging would only blur.
    """
    marks = max(len(plate.marks.plate) for plate in problem.plates)
    if not problem.has_skyline or marks >= MARKS_THAT_SETTLE:
        return 0.0
    return SHIFT_CELLS * problem.terrain.source_cell_m


def unsure_powers(problem: Problem) -> Powers | None:
    """Return how `posterior_of` is to doubt what the picture tells: None for not.

    A skyline is doubted, not marks: where they would settle the station nothing is, and
    beside anything else that is seen one power serves.
    """
    if shift_reach_m(problem) == 0.0:
        return None
    alone = not any(plate.seen.any for plate in problem.plates)
    return SKYLINE_ALONE if alone else BESIDE


def _starts(cells: Cells) -> Array:
    """Return cells' cameras as starts, those that are none or hopeless left out."""
    best = cells.mode_score.max(axis=(1, 2), keepdims=True)
    hopeless = ~(cells.mode_score > np.maximum(best - CAMERAS_WITHIN, -1e29))
    return cells.starts(hopeless)
