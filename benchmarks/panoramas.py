"""Measure how often plates that singly give several places are located together.

Panoramas of three narrow plates (lenses of 1.5 to 2 times the diagonal) are invented on
two kinds of ground, with trees, model error, hand-traced skylines and marked ties of
which one a pair is wrong. All three plates are searched together, then each by itself,
over 5 km2, lens and bearing unknown; counted are the panoramas of which no plate alone
gathers 0.9 of the probability within near enough. Seeds are fixed. Run::

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

for _name in ("NUMBA_NUM_THREADS", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_name, "1")
# The benchmark beside this one, wherever it is run from.
sys.path.insert(0, str(Path(__file__).parent))

import numpy as np  # noqa: E402
import shapely  # noqa: E402

from study_plates import (  # noqa: E402
    MOST_ON_THE_EDGE,
    ground_of,
    scan_of,
    searched,
    share_on_the_edge,
    well_inside,
)
from wherestood.demo.invented_panorama import (  # noqa: E402
    InventedPanorama,
    PanoramaSettings,
    invent_panorama_in,
)
from wherestood.demo.settings import draw_settings  # noqa: E402
from wherestood.demo.world import build_world  # noqa: E402
from wherestood.evidence.items.tie import TieMark  # noqa: E402
from wherestood.fix.kept_ground import shift_reach_m, unsure_powers  # noqa: E402
from wherestood.fix.locate import MOST_PLACES  # noqa: E402
from wherestood.fix.locate_panorama import locate_panorama  # noqa: E402
from wherestood.fix.panorama_problem import PanoramaPlate  # noqa: E402
from wherestood.fix.posterior import find_places, posterior_of, region  # noqa: E402
from wherestood.fix.problem import set_up  # noqa: E402
from wherestood.fix.search import search  # noqa: E402
from wherestood.fix.settings import LocateSettings  # noqa: E402
from wherestood.fix.verdict import ENOUGH  # noqa: E402
from wherestood.progress import SILENT  # noqa: E402

SEED = 61_000
PER_WORLD = 3
LEVELS = (0.5, 0.9, 0.99)
NEAR_ENOUGH_M = 125.0
#: Narrow plates see little of a horizon: it must have some shape.
LEAST_RELIEF_DEG = 0.4
#: Where no cell kept holds the truth [log of 1/m2]: all ground alike it would be -16.
LEAST_LOG_DENSITY = -25.0


@dataclass(frozen=True)
class Outcome:
    """Hold what the search for all plates together said of one panorama.

    Attributes
    ----------
    verdict : str
        On all together.
    held : list of bool
        Whether the 50, 90 and 99% regions hold the true station.
    area_ha : float
        Area of the 90% region.
    off_m : float
        From the likeliest place to the truth.
    log_density : float
        Log of the probability per square metre at the truth.
    one_station : float
        Least probability that a plate shares the station of the others.
    in_order : bool
        Whether the plates, given in a shuffled order, were hung aright.
    """

    verdict: str
    held: list[bool]
    area_ha: float
    off_m: float
    log_density: float
    elsewhere: float
    near_enough_share: float
    share_when_doubled: float
    one_station: float
    in_order: bool
    seconds: float


@dataclass(frozen=True)
class Alone:
    """Hold what a search for one plate of a panorama said.

    Attributes
    ----------
    share : float
        Of the probability within near enough of the likeliest place.
    places : int
        How many circles that wide take in 0.9 of it; 0 where six do not.
    held : list of bool
        Whether the 50, 90 and 99% regions hold the true station.
    off_m : float
        From the likeliest place to the truth.
    """

    share: float
    places: int
    held: list[bool]
    off_m: float


def panoramas_of(world_number: int) -> list[InventedPanorama]:
    """Return the panoramas of one world."""
    rng = np.random.default_rng(SEED + world_number)
    ground = ground_of(world_number)
    first = draw_settings(rng, cell_m=ground.cell_m)
    world = build_world(ground, rng, first.world)
    found = []
    for _ in range(PER_WORLD):
        drawn = well_inside(ground, draw_settings(rng, cell_m=ground.cell_m))
        settings = replace(
            drawn,
            world=first.world,
            view=replace(
                drawn.view,
                least_relief_deg=LEAST_RELIEF_DEG,
                nearest_median_m=1500.0,
            ),
            trace=replace(drawn.trace, gross_runs=0),
        )
        try:
            one = invent_panorama_in(world, rng, settings, PanoramaSettings())
        except LookupError:
            continue
        if max(share_on_the_edge(case) for case in one.cases) <= MOST_ON_THE_EDGE:
            found.append(one)
    return found


def search_together(invented: InventedPanorama, rng: np.random.Generator) -> Outcome:
    """Search all plates of one panorama together."""
    cases = invented.cases
    area = searched(cases[0], rng)
    shuffled = [int(k) for k in rng.permutation(len(cases))]
    plates = [_plate(invented, k) for k in shuffled]
    began = time.process_time()
    found = locate_panorama(
        plates,
        cases[0].terrain(),
        area,
        settings=_settings(invented),
        ties=_ties(invented),
    )
    seconds = time.process_time() - began
    fix = found.fixes[0]
    frame = cases[0].terrain().frame
    truth = shapely.Point(*(float(v) for v in frame.to_lonlat(*cases[0].station_m[:2])))
    ground = shapely.transform(
        fix.regions[0.9],
        lambda lonlat: np.column_stack(frame.from_lonlat(*lonlat.T)),
    )
    return Outcome(
        fix.verdict,
        [bool(fix.regions[p].buffer(1e-9).contains(truth)) for p in LEVELS],
        ground.area / 1e4,
        _off_m(fix.station.east_m, fix.station.north_m, invented),
        _log_density(fix.cells, invented),
        fix.elsewhere,
        fix.near_enough_share,
        fix.share_when_doubled,
        min(test.probability for test in found.one_station),
        [shuffled[k] for k in found.order] == list(range(len(cases))),
        seconds,
    )


def search_alone(invented: InventedPanorama, rng: np.random.Generator) -> list[Alone]:
    """Search each plate of one panorama by itself, left to right."""
    area = searched(invented.cases[0], rng)
    terrain = invented.cases[0].terrain()
    found = []
    for k, case in enumerate(invented.cases):
        plate = _plate(invented, k)
        problem = set_up(plate.plate, terrain, plate.skyline, area, _settings(invented))
        posterior = posterior_of(
            search(problem, SILENT), shift_reach_m(problem), unsure_powers(problem)
        )
        places = find_places(posterior, NEAR_ENOUGH_M, MOST_PLACES)
        running = np.cumsum([place.probability for place in places])
        enough = int(np.searchsorted(running, ENOUGH)) + 1
        truth = shapely.Point(*case.station_m[:2])
        found.append(
            Alone(
                places[0].probability,
                enough if enough <= len(places) else 0,
                [region(posterior, p).contains(truth) for p in LEVELS],
                _off_m(places[0].east_m, places[0].north_m, invented),
            )
        )
    return found


def _settings(invented: InventedPanorama) -> LocateSettings:
    return LocateSettings(
        surface=invented.cases[0].model.surface,
        reversed=False,
        near_enough_m=NEAR_ENOUGH_M,
    )


def _plate(invented: InventedPanorama, k: int) -> PanoramaPlate:
    """Return one plate, its size unknown."""
    case = invented.cases[k]
    return PanoramaPlate(f"plate {k + 1}", scan_of(case), case.skyline())


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


def _off_m(east_m: float, north_m: float, invented: InventedPanorama) -> float:
    east, north = invented.cases[0].station_m[:2]
    return math.hypot(east_m - east, north_m - north)


def _log_density(cells: np.ndarray, invented: InventedPanorama) -> float:
    """Return the log density of the cell that holds the truth [1/m2]."""
    away = np.abs(cells[:, :2] - invented.cases[0].station_m[:2]).max(axis=1)
    held = np.flatnonzero(away <= cells[:, 2] / 2.0 + 1e-6)
    if not held.size:
        return LEAST_LOG_DENSITY
    side_m, mass = cells[held[0], 2:]
    return max(LEAST_LOG_DENSITY, math.log(mass / side_m**2))


def search_world(task: tuple[int, str, bool]) -> None:
    """Search the panoramas of one world and keep each result as it comes."""
    number, folder, alone = task
    name = "{:03d}-{}-alone.json" if alone else "{:03d}-{}.json"
    for index, invented in enumerate(panoramas_of(number)):
        kept = Path(folder) / name.format(number, index)
        if kept.exists():
            continue
        rng = np.random.default_rng((SEED, number, index))
        if alone:
            row = [asdict(one) for one in search_alone(invented, rng)]
            kept.write_text(json.dumps(row), encoding="utf-8")
        else:
            row = asdict(search_together(invented, rng))
            kept.write_text(json.dumps(row), encoding="utf-8")


def report(folder: Path, most: int) -> str:
    """Return what the kept results say."""
    asked, alone, settled = [], [], 0
    for kept in sorted(folder.glob("???-?.json")):
        beside = kept.with_name(f"{kept.stem}-alone.json")
        if beside.exists():
            each = [Alone(**row) for row in json.loads(beside.read_text())]
            if max(one.share for one in each) >= ENOUGH:
                settled += 1
                continue
            alone += each
        asked.append(Outcome(**json.loads(kept.read_text())))
    asked = asked[:most]
    located = [one for one in asked if one.verdict == "located"]
    wrong = [one for one in located if one.off_m > 2 * NEAR_ENOUGH_M]
    several = sum(one.places > 1 for one in alone)
    return "\n".join(
        [
            f"{len(asked)} panoramas; {settled} left out since a plate alone gathers "
            f"{ENOUGH:g} within {NEAR_ENOUGH_M:g} m",
            f"  alone: {len(alone)} plates, {several} give two to {MOST_PLACES} places,"
            f" regions of 50, 90 and 99% hold the truth {_held(alone)} times",
            f"  together: located {len(located)}, of which wrong {len(wrong)}; regions "
            f"of 50, 90 and 99% hold the truth {_held(asked)} times",
            f"  within {NEAR_ENOUGH_M:g} m of the truth "
            f"{sum(one.off_m <= NEAR_ENOUGH_M for one in asked)}, gathering {ENOUGH:g} "
            f"{sum(one.near_enough_share >= ENOUGH for one in asked)}, hung aright "
            f"{sum(one.in_order for one in asked)}, said to share one station "
            f"{sum(one.one_station > 0.5 for one in asked)}",
            f"  median off {np.median([one.off_m for one in asked]):.0f} m, median 90% "
            f"area {np.median([one.area_ha for one in asked]):.1f} ha, mean log "
            f"density {np.mean([one.log_density for one in asked]):.2f}, median "
            f"{np.median([one.seconds for one in asked]):.0f} s of one core",
        ]
    )


def _held(rows: list[Outcome] | list[Alone]) -> str:
    return " / ".join(str(sum(one.held[i] for one in rows)) for i in range(3))


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
    folder = str(asked.keep)
    tasks = [(n, folder, alone) for alone in (False, True) for n in range(worlds)]
    search_world(tasks[0])
    if len(tasks) > 1:
        with multiprocessing.get_context("spawn").Pool(asked.workers) as pool:
            for _ in pool.imap_unordered(search_world, tasks[1:]):
                print(report(asked.keep, asked.panoramas), flush=True)
    print(report(asked.keep, asked.panoramas))


if __name__ == "__main__":
    run_study()
