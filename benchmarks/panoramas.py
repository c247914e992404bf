"""Measure how often plates that singly give several places are located together.

Panoramas of three narrow plates (lenses of 1.5 to 2 times the diagonal) are invented on
two kinds of ground, with trees, model error, hand-traced skylines and marked ties of
which one a pair is wrong. Each plate is searched by itself and all three together, over
5 km2, lens and bearing unknown; kept are the panoramas of which no plate alone is
located. Seeds are fixed. Run::

    python benchmarks/panoramas.py [PANORAMAS] [--workers N] [--keep FOLDER]

Each result is kept in FOLDER as it comes: a run cut short goes on there.
"""

from __future__ import annotations

import argparse
import json
import math
import multiprocessing
import os
import sys
import time
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from types import SimpleNamespace

for _name in ("NUMBA_NUM_THREADS", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_name, "1")
# The benchmark beside this one, wherever it is run from.
sys.path.insert(0, str(Path(__file__).parent))

import numpy as np  # noqa: E402
import shapely  # noqa: E402

from coverage_end_to_end import searched  # noqa: E402
from wherestood.demo.ground import jacksboro  # noqa: E402
from wherestood.demo.hills import invented_ground  # noqa: E402
from wherestood.demo.invented_panorama import (  # noqa: E402
    InventedPanorama,
    PanoramaSettings,
    invent_panorama_in,
)
from wherestood.demo.settings import draw_settings  # noqa: E402
from wherestood.demo.world import build_world  # noqa: E402
from wherestood.evidence.items.tie import TieMark  # noqa: E402
from wherestood.fix.area import Area  # noqa: E402
from wherestood.fix.locate import locate  # noqa: E402
from wherestood.fix.locate_panorama import locate_panorama  # noqa: E402
from wherestood.fix.panorama_problem import PanoramaPlate  # noqa: E402
from wherestood.fix.result import Fix  # noqa: E402
from wherestood.fix.settings import LocateSettings  # noqa: E402

SEED = 61_000
PER_WORLD = 3
LEVELS = (0.5, 0.9, 0.99)
NEAR_ENOUGH_M = 125.0
#: Narrow plates see little of a horizon: it must have some shape.
LEAST_RELIEF_DEG = 0.4


@dataclass(frozen=True)
class Outcome:
    """Hold what searches said of one panorama and what was true.

    Attributes
    ----------
    alone : list of str
        Verdict on each plate by itself.
    alone_off_m : list of float
        From each plate's likeliest place to the truth.
    verdict : str
        On all together.
    held : list of bool
        Whether the 50, 90 and 99% regions hold the true station.
    area_ha : float
        Area of the 90% region.
    off_m : float
        From the likeliest place to the truth.
    one_station : float
        Least probability that a plate shares the station of the others.
    in_order : bool
        Whether the plates, given in a shuffled order, were hung aright.
    """

    alone: list[str]
    alone_off_m: list[float]
    verdict: str
    held: list[bool]
    area_ha: float
    off_m: float
    elsewhere: float
    near_enough_share: float
    share_when_doubled: float
    one_station: float
    in_order: bool
    seconds: float


def panoramas_of(world_number: int) -> list[InventedPanorama]:
    """Return the panoramas of one world."""
    rng = np.random.default_rng(SEED + world_number)
    ground = jacksboro() if world_number % 2 == 0 else invented_ground(world_number)
    first = draw_settings(rng, cell_m=ground.cell_m)
    world = build_world(ground, rng, first.world)
    margin_m = min(5000.0, 0.3 * min(ground.width_m, ground.depth_m))
    found = []
    for _ in range(PER_WORLD):
        drawn = draw_settings(rng, cell_m=ground.cell_m)
        settings = replace(
            drawn,
            world=first.world,
            view=replace(
                drawn.view,
                margin_m=margin_m,
                least_relief_deg=LEAST_RELIEF_DEG,
                nearest_median_m=1500.0,
            ),
            trace=replace(drawn.trace, gross_runs=0),
        )
        try:
            found.append(invent_panorama_in(world, rng, settings, PanoramaSettings()))
        except LookupError:
            continue
    return found


def search_one(invented: InventedPanorama, rng: np.random.Generator) -> Outcome:
    """Search the plates of one panorama, each by itself and all together."""
    cases = invented.cases
    area = searched(cases[0], rng)
    settings = LocateSettings(
        surface=cases[0].model.surface, reversed=False, near_enough_m=NEAR_ENOUGH_M
    )
    shuffled = [int(k) for k in rng.permutation(len(cases))]
    plates = [
        PanoramaPlate(
            f"plate {k + 1}",
            SimpleNamespace(
                px_per_mm=None,
                size_mm=None,
                trimmed=cases[k].facts.is_trimmed,
                corners_px=None,
                width_px=cases[k].camera.width_px,
                height_px=cases[k].camera.height_px,
            ),
            cases[k].skyline(),
        )
        for k in shuffled
    ]
    alone = [_alone(plate, cases[0].terrain(), area, settings) for plate in plates]
    began = time.perf_counter()
    found = locate_panorama(
        plates, cases[0].terrain(), area, settings=settings, ties=_ties(invented)
    )
    seconds = time.perf_counter() - began
    fix = found.fixes[0]
    frame = cases[0].terrain().frame
    truth = shapely.Point(*(float(v) for v in frame.to_lonlat(*cases[0].station_m[:2])))
    ground = shapely.transform(
        fix.regions[0.9],
        lambda lonlat: np.column_stack(frame.from_lonlat(*lonlat.T)),
    )
    return Outcome(
        [one.verdict for one in alone],
        [_off_m(one, invented) for one in alone],
        fix.verdict,
        [bool(fix.regions[p].buffer(1e-9).contains(truth)) for p in LEVELS],
        ground.area / 1e4,
        _off_m(fix, invented),
        fix.elsewhere,
        fix.near_enough_share,
        fix.share_when_doubled,
        min(test.probability for test in found.one_station),
        [shuffled[k] for k in found.order] == list(range(len(cases))),
        seconds,
    )


def _alone(
    plate: PanoramaPlate, terrain: object, area: Area, settings: LocateSettings
) -> Fix:
    return locate(plate.plate, terrain, plate.skyline, area, settings=settings)


def _ties(invented: InventedPanorama) -> list[TieMark]:
    return [
        TieMark(
            id=f"tie {number}",
            plates=(f"plate {tie.plates[0] + 1}", f"plate {tie.plates[1] + 1}"),
            first_px=tie.first_px,
            second_px=tie.second_px,
            sd_px=2.0,
        )
        for number, tie in enumerate(invented.ties)
    ]


def _off_m(fix: Fix, invented: InventedPanorama) -> float:
    east, north = invented.cases[0].station_m[:2]
    return math.hypot(fix.station.east_m - east, fix.station.north_m - north)


def search_world(task: tuple[int, str]) -> None:
    """Search the panoramas of one world and keep each result as it comes."""
    number, folder = task
    for index, invented in enumerate(panoramas_of(number)):
        kept = Path(folder) / f"{number:03d}-{index}.json"
        if kept.exists():
            continue
        rng = np.random.default_rng((SEED, number, index))
        row = asdict(search_one(invented, rng))
        kept.write_text(json.dumps(row), encoding="utf-8")


def report(folder: Path, most: int) -> str:
    """Return what the kept results say."""
    rows = [json.loads(f.read_text()) for f in sorted(folder.glob("*.json"))]
    done = [Outcome(**row) for row in rows]
    asked = [one for one in done if "located" not in one.alone][:most]
    located = [one for one in asked if one.verdict == "located"]
    wrong = [one for one in located if one.off_m > 2 * NEAR_ENOUGH_M]
    several = sum(verdict == "several places" for o in asked for verdict in o.alone)
    held = " / ".join(str(sum(one.held[i] for one in asked)) for i in range(3))
    return "\n".join(
        [
            f"{len(done)} panoramas, of {len(asked)} no plate alone is located "
            f"({several} of {3 * len(asked)} plates alone give several places)",
            f"  located together {len(located)}, of which wrong {len(wrong)}; regions "
            f"of 50, 90 and 99% hold the truth {held} times",
            f"  hung aright {sum(one.in_order for one in asked)}, said to share one "
            f"station {sum(one.one_station > 0.5 for one in asked)}; median off "
            f"{np.median([one.off_m for one in asked]):.0f} m, median 90% area "
            f"{np.median([one.area_ha for one in asked]):.1f} ha, median "
            f"{np.median([one.seconds for one in asked]):.0f} s",
        ]
    )


def run_study() -> None:
    """Search as many panoramas as asked."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("panoramas", type=int, nargs="?", default=30)
    parser.add_argument("--workers", type=int, default=os.cpu_count())
    parser.add_argument("--keep", type=Path, default=Path("panoramas"))
    asked = parser.parse_args()
    asked.keep.mkdir(parents=True, exist_ok=True)
    # One in five may hold a plate that is located alone.
    worlds = max(1, math.ceil(1.25 * asked.panoramas / PER_WORLD))
    tasks = [(number, str(asked.keep)) for number in range(worlds)]
    search_world(tasks[0])
    if len(tasks) > 1:
        with multiprocessing.get_context("spawn").Pool(asked.workers) as pool:
            for _ in pool.imap_unordered(search_world, tasks[1:]):
                pass
    print(report(asked.keep, asked.panoramas))


if __name__ == "__main__":
    run_study()
