"""Ask how good a match chance alone would give on ground like this."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import stats

from wherestood.evidence.plate_rows import NOTHING_MARKED
from wherestood.evidence.profile import Profiles
from wherestood.evidence.samples import SkylineSamples
from wherestood.fix.answers import INDEX, Chosen
from wherestood.fix.cells import Cells, score_cells
from wherestood.fix.problem import Hand, Problem
from wherestood.fix.search import first_cells
from wherestood.progress import Progress

__all__ = ["chance_of_match"]

Array = NDArray[np.float64]

#: Skylines from elsewhere that are tried, out of this many candidates each.
DECOYS = 20
CANDIDATES = 8
#: Of fewer than this nothing can be said.
FEWEST = 5
#: A decoy's station is at least this far from the ground searched [m].
APART_M = 3000.0
#: Stations of the ground searched on which decoys are tried.
STATIONS = 120
#: Stations elsewhere that say how well a skyline fits where it is not from.
REFERENCES = 60
#: First cells about the answer that the plate is tried on: it and its neighbours.
ABOUT = 9


def chance_of_match(
    problem: Problem,
    chosen: Chosen,
    misfit_px: Array,
    rng: np.random.Generator,
    progress: Progress,
    others: Sequence[tuple[Chosen, Array]] = (),
) -> float:
    """Return the odds that a skyline from elsewhere would match as well.

    Skylines seen from stations outside the ground searched, through the same
    lens, with the same gaps and the same roughness, are searched on thinned
    stations; a Gumbel law of their best scores, moved to the number of first cells
    that a search begins with, gives the odds. Plate and decoys are scored alike, on
    cells of that size and at a first look.

    Parameters
    ----------
    chosen, misfit_px
        The best camera, and what of the skyline it leaves [px].
    others : sequence of (Chosen, array)
        The same of the other plates of a panorama: seen from elsewhere all keep the
        angles between them.

    Returns
    -------
    float
        Between 0 and 1; NaN where too few decoys can be made.
    """
    if not problem.has_skyline:
        return math.nan
    # Other evidence is of this ground alone.
    plain = problem.each(_skyline_alone)
    if plain.beside is not None:
        plain = replace(plain, beside=plain.beside.without_ties())
    decoys = _make_decoys(problem, ((chosen, misfit_px), *others), rng)
    if len(decoys) < FEWEST:
        return math.nan
    shape = problem.area.in_frame(problem.terrain.frame)
    first_east, first_north, share, side_m = first_cells(shape)
    ground, _ = problem.maker.heights(first_east, first_north)
    inside = np.flatnonzero((share > 0.0) & np.isfinite(ground))
    if inside.size == 0:
        return math.nan
    stations = rng.choice(inside, size=min(STATIONS, inside.size), replace=False)
    # The plate itself is matched on the first cells about the answer, like a decoy.
    apart = np.hypot(first_east - chosen.cell_m[0], first_north - chosen.cell_m[1])
    about = inside[np.argsort(apart[inside], kind="stable")[:ABOUT]]
    east, north = _stations_elsewhere(problem, rng, REFERENCES)
    progress.stage(
        "Trying skylines from elsewhere",
        len(decoys) * (len(stations) + len(east)) + len(east) + len(about),
    )
    here = _Ground.at(problem, first_east[stations], first_north[stations])
    answer = _Ground.at(problem, first_east[about], first_north[about])
    away = _Ground.at(problem, east, north)

    def middling(trial: Problem) -> float:
        """Return how well a skyline fits ground that it is not from."""
        return float(np.median(away.scored(trial, side_m, progress).log_density))

    best = []
    for samples in decoys:
        trial = _trial(plain, samples)
        scored = here.scored(trial, side_m, progress)
        # Densities of different skylines cannot be compared, contrasts can: a
        # flat skyline is likely everywhere and stands out nowhere.
        best.append(float(scored.log_density.max()) - middling(trial))
    place, scale = stats.gumbel_r.fit(best)
    scale = max(float(scale), 0.5)
    place = float(place) + scale * math.log(inside.size / len(stations))
    found = float(answer.scored(plain, side_m, progress).log_density.max())
    found -= middling(plain)
    return float(stats.gumbel_r.sf(found, place, scale))


@dataclass(frozen=True)
class _Ground:
    """Hold stations on known ground, their horizons computed once for all decoys."""

    east_m: Array
    north_m: Array
    profiles: Profiles

    @classmethod
    def at(cls, problem: Problem, east_m: Array, north_m: Array) -> _Ground:
        return cls(east_m, north_m, problem.maker.make(east_m, north_m))

    def scored(self, trial: Problem, side_m: float, progress: Progress) -> Cells:
        """Return the stations scored for a trial's skyline."""
        known = np.ones(len(self.east_m), dtype=bool)
        return score_cells(
            trial,
            self.east_m,
            self.north_m,
            side_m,
            known,
            progress,
            profiles=self.profiles,
        )


def _skyline_alone(plate: Problem) -> Problem:
    return replace(plate, seen=NOTHING_MARKED, free=None)


def _trial(plain: Problem, decoy: tuple[SkylineSamples, ...]) -> Problem:
    """Return the problem with the skylines of a decoy, the right way round."""
    first, *others = (
        replace(plate, hands=(Hand(samples, False, 0.0),))
        for plate, samples in zip(plain.plates, decoy, strict=True)
    )
    if plain.beside is None:
        return first
    return replace(first, beside=replace(plain.beside, plates=tuple(others)))


def _make_decoys(
    problem: Problem,
    found: Sequence[tuple[Chosen, Array]],
    rng: np.random.Generator,
) -> list[tuple[SkylineSamples, ...]]:
    """See the horizon from stations elsewhere through the same lens and gaps."""
    east, north = _stations_elsewhere(problem, rng, DECOYS * CANDIDATES)
    if east.size == 0:
        return []
    plates = [plate.hands[found[0][0].hand].samples for plate in problem.plates]
    table = problem.maker.make(east, north).table
    bearings = table.shape[1]
    azimuth = np.arange(bearings + 1) * (2 * np.pi / bearings)
    begin = found[0][0].theta[0]
    made = []
    for station in range(east.size):
        line = table[station, :, 0]
        turned = rng.uniform(0, 2 * np.pi)
        decoy = []
        for samples, (chosen, misfit_px) in zip(plates, found, strict=True):
            c = math.exp(chosen.theta[INDEX["log_distance"]])
            x = samples.table[:, 0]
            turn = turned + chosen.theta[0] - begin + np.arctan2(x, c)
            height = np.interp(turn % (2 * np.pi), azimuth, np.append(line, line[0]))
            decoy.append(_decoy(samples, height * np.hypot(c, x), misfit_px, rng))
        made.append(tuple(decoy))

    def off(decoy: tuple[SkylineSamples, ...]) -> float:
        return sum(
            abs(math.log(max(_relief(one.table), 1e-6) / _relief(own.table)))
            for one, own in zip(decoy, plates, strict=True)
            if len(own.table)
        )

    return [made[index] for index in np.argsort([off(one) for one in made])[:DECOYS]]


def _decoy(
    samples: SkylineSamples, y: Array, misfit_px: Array, rng: np.random.Generator
) -> SkylineSamples:
    """Return a skyline seen elsewhere, as rough as the plate's own."""
    if not len(samples.table):
        return samples
    rough = np.nan_to_num(misfit_px - np.nanmedian(misfit_px)) / samples.diagonal_px
    sign = rng.choice([-1.0, 1.0])
    y = y + sign * np.roll(rough, int(rng.integers(len(samples.table))))
    table = samples.table.copy()
    table[:, 1] = y - y.mean() + samples.table[:, 1].mean()
    return replace(samples, table=table)


def _relief(table: Array) -> float:
    """Return the scatter of a skyline about its straight line."""
    x, y = table[:, 0], table[:, 1]
    return float(np.std(y - np.polyval(np.polyfit(x, y, 1), x))) + 1e-6


def _stations_elsewhere(
    problem: Problem, rng: np.random.Generator, count: int
) -> tuple[Array, Array]:
    """Draw stations of known ground well outside the ground searched."""
    terrain = problem.terrain
    shape = problem.area.in_frame(terrain.frame).buffer(APART_M)
    rows, columns = terrain.elevation_m.shape
    margin = min(2000.0, 0.1 * terrain.cell_m * min(rows, columns))
    east = rng.uniform(
        terrain.west_m + margin,
        terrain.west_m + (columns - 1) * terrain.cell_m - margin,
        40 * count,
    )
    north = rng.uniform(
        terrain.south_m + margin,
        terrain.south_m + (rows - 1) * terrain.cell_m - margin,
        40 * count,
    )
    away = ~shapely.contains_xy(shape, east, north)
    east, north = east[away], north[away]
    ground, _ = problem.maker.heights(east, north)
    known = np.isfinite(ground)
    return east[known][:count], north[known][:count]
