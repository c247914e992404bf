"""Measure how often the regions hold the true station, near the truth.

Invented plates come from the independent renderer (rays on a triangle mesh, with
trees and model error that the fitter does not see). Each is fitted on a grid of
stations round the truth, from the true camera: this judges the likelihood alone,
not the search. Seeds are fixed. Run::

    python benchmarks/coverage_at_station.py [PLATES] [--first WORLD]
        [--noise usual|zero-mean|white] [--power POWER ...]

``--noise`` asks how much of what holds is owed to the noise model: ``white`` takes
errors of neighbouring samples for independent, ``zero-mean`` lets nothing stand above
the model's horizon on average.
"""

from __future__ import annotations

import argparse
import math
import sys
from dataclasses import dataclass, replace
from pathlib import Path

# The module beside this one, wherever it is run from.
sys.path.insert(0, str(Path(__file__).parent))

import numpy as np
import shapely

from study_plates import plates_of, scan_of, true_unknowns
from wherestood.demo.invented import InventedCase
from wherestood.evidence.profile import SHIFT_CELLS, Profiles
from wherestood.evidence.unknowns import COUNT
from wherestood.fix.area import Area
from wherestood.fix.cells import Cells, score_cells
from wherestood.fix.first_cameras import MODES
from wherestood.fix.posterior import smoothed_log_density
from wherestood.fix.problem import Problem, set_up
from wherestood.fix.settings import LocateSettings
from wherestood.progress import SILENT

SEED = 20_000
HALF_M, STEP_M = 800.0, 40.0
ENOUGH_CELLS = 100
#: Stations this far below the truth in log density, at full power, need no close look.
HOPELESS = 25.0
POWERS = (1.0, 0.6, 0.5, 0.4, 0.3)
LEVELS = (0.5, 0.9, 0.99)
NOISES = ("usual", "zero-mean", "white")
#: One level without a field to speak of, as `evidence.whiten.LEVEL`: every sample
#: errs on its own.
WHITE = (0.05, 500.0, 0.05, 60.0, 0.6, 1.0, 2.0)
#: As good as known [m]; the sums divide by it.
KNOWN_M = 0.01


@dataclass(frozen=True)
class Outcome:
    """Hold one plate's result: credibility at the truth and area, by power."""

    credibility: np.ndarray
    area_ha: np.ndarray
    median_distance_m: float


def invented_cases(count: int, first_world: int = 0) -> list[InventedCase]:
    """Return plates on real (Jacksboro) and invented ground, in turn."""
    cases: list[InventedCase] = []
    world_number = first_world
    while len(cases) < count:
        cases.extend(case for _, case in plates_of(world_number, SEED))
        world_number += 1
    return cases[:count]


def problem_of(case: InventedCase) -> Problem:
    """Set up the search of an invented plate, its lens unknown."""
    terrain = case.terrain()
    area = Area(shapely.box(-180, -90, 180, 90), "anywhere")
    settings = LocateSettings(surface=case.model.surface, reversed=False)
    lon, lat = case.longitude_deg, case.latitude_deg
    around = Area(shapely.Point(lon, lat).buffer(0.05), area.source)
    return set_up(scan_of(case), terrain, case.skyline(), around, settings)


def with_noise(problem: Problem, name: str) -> Problem:
    """Return a problem with another noise model of `NOISES`, all else the same."""
    noise = problem.noise
    if name == "zero-mean":
        noise = replace(noise, cover_mean_m=0.0, cover_sd_m=KNOWN_M)
    elif name == "white":
        one = np.array([WHITE])
        noise = replace(noise, levels=one, level_log_weight=np.zeros(1), middle=0)
    return replace(problem, noise=noise)


def fit_near_truth(
    case: InventedCase, noise: str = "usual", powers: tuple[float, ...] = POWERS
) -> Outcome:
    """Score stations round the truth, closer and closer, and rank the truth."""
    problem = with_noise(problem_of(case), noise)
    theta = true_unknowns(case)
    half, step, middle = HALF_M, STEP_M, np.zeros(2)
    # The grid is laid for the sharpest.
    sharpest = raised(problem, max(powers))
    floor = _floor(sharpest, case, theta, step)
    for _ in range(4):
        offsets = np.arange(-half, half + 0.1, step)
        east, north = (part.ravel() for part in np.meshgrid(offsets, offsets))
        east, north = east + middle[0], north + middle[1]
        seen = _horizons(problem, case, east, north)
        cells = _score(sharpest, case, theta, east, north, step, floor, seen)
        raw = cells.log_density
        near = raw > raw.max() - 12.0
        mass = np.sort(np.exp(raw - raw.max()))[::-1]
        holding = np.searchsorted(np.cumsum(mass), 0.9 * mass.sum()) + 1
        if holding >= ENOUGH_CELLS or step < 4.0:
            break
        spots = np.column_stack((cells.east_m, cells.north_m))[near]
        spots = spots - case.station_m[:2]
        middle = (spots.min(axis=0) + spots.max(axis=0)) / 2
        half = float(np.ptp(spots, axis=0).max()) / 2 + 2 * step
        step = max(step / 3, half / 20)
    away = np.hypot(cells.east_m - case.station_m[0], cells.north_m - case.station_m[1])
    reach_m = SHIFT_CELLS * case.cell_m
    credibility, area = [], []
    for power in powers:
        scored = cells
        if power != max(powers):
            asked = raised(problem, power)
            floor = _floor(asked, case, theta, step)
            scored = _score(asked, case, theta, east, north, step, floor, seen)
        density = smoothed_log_density(scored, reach_m)
        mass = np.exp(density - density.max())
        mass /= mass.sum()
        at = int(np.argmin(away))
        outside = away[at] > step
        credibility.append(1.0 if outside else mass[density > density[at]].sum())
        running = np.cumsum(np.sort(mass)[::-1])
        area.append((np.searchsorted(running, 0.9) + 1) * step**2 / 1e4)
    return Outcome(
        np.array(credibility), np.array(area), float(np.nanmedian(case.distance_m))
    )


def raised(problem: Problem, power: float) -> Problem:
    """Return a problem that compares stations at another power of the likelihood."""
    noise = problem.noise
    return replace(problem, noise=replace(noise, station_power=power / noise.temper))


def _floor(
    problem: Problem, case: InventedCase, theta: np.ndarray, step: float
) -> float:
    """Return the log density below which no station needs a close look."""
    here = np.zeros(1)
    truth = _score(problem, case, theta, here, here, step, -math.inf)
    return float(truth.log_density[0]) - HOPELESS * problem.noise.whole_power


def _horizons(
    problem: Problem, case: InventedCase, east: np.ndarray, north: np.ndarray
) -> Profiles | None:
    """Return stations' horizons, to be used for every power; None by unknown ground."""
    east_m, north_m = case.station_m[0] + east, case.station_m[1] + north
    if not np.isfinite(problem.maker.heights(east_m, north_m)[0]).all():
        return None
    return problem.profiles(east_m, north_m)


def _score(
    problem: Problem,
    case: InventedCase,
    theta: np.ndarray,
    east: np.ndarray,
    north: np.ndarray,
    side_m: float,
    floor: float,
    profiles: Profiles | None = None,
) -> Cells:
    starts = np.full((east.size, 1, MODES, COUNT), np.nan)
    starts[:, 0, 0] = theta
    return score_cells(
        problem,
        case.station_m[0] + east,
        case.station_m[1] + north,
        side_m,
        np.ones(east.size, dtype=bool),
        SILENT,
        starts,
        profiles=profiles,
        floor=floor,
    )


def report(outcomes: list[Outcome], powers: tuple[float, ...] = POWERS) -> str:
    """Return the table: coverage and area for each power of the likelihood."""
    lines = [f"{len(outcomes)} plates; truth inside the 50/90/99% region:"]
    credibility = np.array([one.credibility for one in outcomes])
    area = np.array([one.area_ha for one in outcomes])
    far = np.array([one.median_distance_m >= 1500.0 for one in outcomes])
    for name, which in (("all", far | ~far), ("horizon beyond 1.5 km", far)):
        for index, power in enumerate(powers):
            held = [(credibility[which, index] <= p).mean() for p in LEVELS]
            shares = " / ".join(f"{100 * share:.0f}%" for share in held)
            lines.append(
                f"  {name} ({which.sum()}), power {power:.2f}: {shares}, "
                f"median 90% area {np.median(area[which, index]):.1f} ha"
            )
    return "\n".join(lines)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("plates", type=int, nargs="?", default=40)
    parser.add_argument("--first", type=int, default=0, metavar="WORLD")
    parser.add_argument("--noise", choices=NOISES, default=NOISES[0])
    parser.add_argument("--power", type=float, action="append", metavar="POWER")
    asked = parser.parse_args()
    powers = tuple(asked.power or POWERS)
    outcomes = []
    for case in invented_cases(asked.plates, asked.first):
        outcomes.append(fit_near_truth(case, asked.noise, powers))
        if len(outcomes) % 10 == 0:
            print(f"{len(outcomes)} of {asked.plates}", file=sys.stderr, flush=True)
    print(report(outcomes, powers))
