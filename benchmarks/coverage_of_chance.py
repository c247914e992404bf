"""Measure the chance of a match that right answers get, on invented plates.

Each plate is tried at its true station and camera, among skylines from elsewhere, in
the square that it is drawn from. Prints the chances p and the likeliest a of the
density ``a p^(a - 1)`` (`wherestood.fix.verdict.CHANCE_POWER`). Seeds are fixed. Run::

    python benchmarks/coverage_of_chance.py [PLATES]
"""

from __future__ import annotations

import importlib
import math
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely

from wherestood.demo.invented import InventedCase
from wherestood.fix.answers import Chosen, answer_for
from wherestood.fix.area import Area
from wherestood.fix.decoys import chance_of_match
from wherestood.fix.picture import computed_skyline, misfit_px
from wherestood.fix.posterior import Place, posterior_of
from wherestood.fix.problem import Problem
from wherestood.progress import SILENT

# The plates and the truth are those of the study of coverage, beside this file.
sys.path.insert(0, str(Path(__file__).parent))
study = importlib.import_module("coverage_at_station")

SEED = 1
SIDE_M = 20.0
#: Odds smaller than this are not told apart.
LEAST = 1e-6


def chance_at_truth(case: InventedCase) -> float:
    """Return the odds that a skyline from elsewhere matches as well as the true one."""
    problem = replace(study.problem_of(case), area=square(case))
    chosen = true_answer(problem, case)
    pixels, _ = computed_skyline(problem, chosen)
    misfit = misfit_px(problem, pixels)
    rng = np.random.default_rng(SEED)
    return chance_of_match(problem, chosen, misfit, rng, SILENT)


def square(case: InventedCase) -> Area:
    """Return the square about the station that a search would be given."""
    frame = case.terrain().frame

    def lonlat(points: np.ndarray) -> np.ndarray:
        return np.column_stack(frame.to_lonlat(points[:, 0], points[:, 1]))

    return Area(shapely.transform(shapely.box(*case.area_m), lonlat), "square")


def true_answer(problem: Problem, case: InventedCase) -> Chosen:
    """Return the answer of a search that found the very station."""
    here = np.zeros(1)
    theta = study.true_unknowns(case)
    cells = study._score(problem, case, theta, here, here, SIDE_M, -math.inf)
    east_m, north_m = case.station_m[:2]
    place = Place(float(east_m), float(north_m), 1.0, np.array([0]))
    return answer_for(problem, posterior_of(cells), place)


def report(chances: list[float]) -> str:
    """Return the chances and the law that fits them."""
    tried = np.array([chance for chance in chances if math.isfinite(chance)])
    power = -1.0 / np.mean(np.log(np.clip(tried, LEAST, 1.0 - LEAST)))
    error = power / math.sqrt(len(tried))
    listed = ", ".join(f"{chance:.2g}" for chance in np.sort(tried))
    return (
        f"{len(tried)} plates at their true stations: a = {power:.2f}, standard "
        f"error {error:.2f}\n  chances: {listed}"
    )


if __name__ == "__main__":
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    found = [chance_at_truth(case) for case in study.invented_cases(wanted)]
    print(report(found))
