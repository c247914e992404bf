"""Measure what a search says of ground that the plate was not taken on.

Invented plates, their skylines traced by hand with the usual errors, are searched
twice over 5 km2: about their station, and at least 4.5 km away. Prints how much of the
probability gathers within 125 m of one place and how often the verdict is ``located``
(`wherestood.fix.verdict.GATHERED_ODDS`). Seeds are fixed. Run::

    python benchmarks/false_certainty.py [WORLDS] [--workers N] [--keep FOLDER]

Each result is kept in FOLDER as it comes: a run cut short goes on there.
"""

from __future__ import annotations

import argparse
import json
import math
import multiprocessing
import os
import sys
from pathlib import Path

for _name in ("NUMBA_NUM_THREADS", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_name, "1")
# The benchmarks beside this one, wherever it is run from.
sys.path.insert(0, str(Path(__file__).parent))

import numpy as np  # noqa: E402

from coverage_at_station import SEED  # noqa: E402
from study_plates import (  # noqa: E402
    AREA_KM2,
    plates_of,
    scan_of,
    square_about,
)
from wherestood.demo.invented import InventedCase  # noqa: E402
from wherestood.fix.locate import locate  # noqa: E402
from wherestood.fix.settings import LocateSettings  # noqa: E402

FIRST_WORLD = 200
PER_WORLD = 2
APART_M = 4500.0
MARGIN_M = 4000.0
TRIES = 300


def middle_of(
    case: InventedCase,
    rng: np.random.Generator,
    right: bool,
    area_km2: float = AREA_KM2,
) -> np.ndarray:
    """Return the middle of a square that holds the station, or is well away.

    Raises
    ------
    LookupError
        If the invented ground is too small for a square so far away.
    """
    half_m = 500.0 * math.sqrt(area_km2)
    if right:
        return np.asarray(case.station_m[:2] + rng.uniform(-0.7, 0.7, 2) * half_m)
    rows, columns = case.elevation_m.shape
    reach = np.array([columns - 1, rows - 1]) * case.cell_m
    corner = np.array([case.west_m, case.south_m])
    for _ in range(TRIES):
        middle = corner + rng.uniform(MARGIN_M, reach - MARGIN_M)
        if np.hypot(*(middle - case.station_m[:2])) > APART_M:
            return np.asarray(middle)
    raise LookupError("no ground so far away")


def search_one(case: InventedCase, rng: np.random.Generator, right: bool) -> dict:
    """Search one square and return what was said."""
    terrain = case.terrain()
    fix = locate(
        scan_of(case),
        terrain,
        case.skyline(),
        square_about(terrain, middle_of(case, rng, right), AREA_KM2),
        settings=LocateSettings(surface=case.model.surface, reversed=False),
    )
    return {
        "right": right,
        "gathered": fix.near_enough_share,
        "doubled": fix.share_when_doubled,
        "chance": fix.chance,
        "elsewhere": fix.elsewhere,
        "verdict": fix.verdict,
        "off_m": math.hypot(
            fix.station.east_m - case.station_m[0],
            fix.station.north_m - case.station_m[1],
        ),
    }


def search_world(task: tuple[int, str]) -> None:
    """Search the right and the wrong ground of a world's plates."""
    number, folder = task
    for index, (_, case) in enumerate(plates_of(number, SEED)[:PER_WORLD]):
        for right in (True, False):
            kept = Path(folder) / f"{number:03d}-{index}-{int(right)}.json"
            if kept.exists():
                continue
            rng = np.random.default_rng((number, index, int(not right)))
            try:
                row = search_one(case, rng, right)
            except LookupError:
                continue
            kept.write_text(json.dumps(row), encoding="utf-8")


def report(folder: Path) -> str:
    """Return what the kept results say."""
    rows = [json.loads(file.read_text()) for file in sorted(folder.glob("*.json"))]
    lines = []
    for name, right in (("right", True), ("wrong", False)):
        some = [row for row in rows if row["right"] is right]
        counts = ", ".join(
            f"{sum(row['gathered'] >= share for row in some)} gather {share:g}"
            for share in (0.25, 0.5, 0.9)
        )
        located = sum(row["verdict"] == "located" for row in some)
        lines.append(
            f"{len(some)} searches of {name} ground: {counts}, {located} located"
        )
    return "\n".join(lines)


def run_study() -> None:
    """Search as many worlds as asked."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("worlds", type=int, nargs="?", default=30)
    parser.add_argument("--workers", type=int, default=os.cpu_count())
    parser.add_argument("--keep", type=Path, default=Path("false-certainty"))
    asked = parser.parse_args()
    asked.keep.mkdir(parents=True, exist_ok=True)
    tasks = [(FIRST_WORLD + n, str(asked.keep)) for n in range(asked.worlds)]
    search_world(tasks[0])
    with multiprocessing.get_context("spawn").Pool(asked.workers) as pool:
        for _ in pool.imap_unordered(search_world, tasks[1:]):
            pass
    print(report(asked.keep))


if __name__ == "__main__":
    run_study()
