"""Measure how often a whole search, from the picture on, holds the true station.

Invented plates are exposed by the independent renderer (rays on a triangle mesh,
with trees, haze and model error that the fitter does not see) and aged; skyline and
ridge lines are traced by machine, and 5 km2 are searched, lens and bearing
unknown. What is said of an answer once it stands (checks, chance, advice) is left out.
Seeds are fixed. Run::

    python benchmarks/coverage_end_to_end.py [PLATES] [--workers N] [--keep FOLDER]

Each plate's result is kept in FOLDER as it comes: a run cut short goes on there.
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

from coverage_at_station import LEVELS  # noqa: E402
from study_plates import (  # noqa: E402
    PER_WORLD,
    plates_of,
    scan_of,
    searched,
)
from wherestood.demo.ageing import aged_plate  # noqa: E402
from wherestood.demo.invented import InventedCase  # noqa: E402
from wherestood.demo.picture import expose  # noqa: E402
from wherestood.demo.props import tree  # noqa: E402
from wherestood.demo.tone import Lighting  # noqa: E402
from wherestood.demo.world import World  # noqa: E402
from wherestood.errors import SkylineError  # noqa: E402
from wherestood.evidence.items import Evidence, RidgeLine  # noqa: E402
from wherestood.evidence.ridge_lines import MACHINE_TRUST  # noqa: E402
from wherestood.fix.kept_ground import shift_reach_m, unsure_powers  # noqa: E402
from wherestood.fix.locate import MOST_PLACES  # noqa: E402
from wherestood.fix.posterior import find_places, posterior_of, region  # noqa: E402
from wherestood.fix.problem import set_up  # noqa: E402
from wherestood.fix.ridges import weigh_ridges  # noqa: E402
from wherestood.fix.search import search  # noqa: E402
from wherestood.fix.settings import LocateSettings  # noqa: E402
from wherestood.plate.inner_ridges import trace_ridges  # noqa: E402
from wherestood.plate.trace import trace_skyline  # noqa: E402
from wherestood.progress import SILENT  # noqa: E402

SEED = 30_000
LONGEST_PX = 1400
NEAR_ENOUGH_M = 125.0
ONE_CENTIMETRE = 0.01


@dataclass(frozen=True)
class Outcome:
    """Hold what a search said of one plate and what was true.

    Attributes
    ----------
    held : list of bool
        Whether the 50, 90 and 99% regions hold the true station.
    area_ha : float
        Area of the 90% region.
    gathered : float
        Probability of the likeliest place, within near enough of it.
    off_m : float
        From the likeliest place to the truth.
    rank : int
        Which place lies within 200 m of the truth, 0 for none.
    """

    held: list[bool]
    area_ha: float
    gathered: float
    off_m: float
    rank: int
    horizon_m: float
    ridge_lines: int
    seconds: float


def picture_of(
    world: World, case: InventedCase, rng: np.random.Generator
) -> np.ndarray:
    """Return the aged plate, (height, width) of 8 bits, at a modest size."""
    camera = case.camera
    share = min(1.0, LONGEST_PX / max(camera.width_px, camera.height_px))
    small = replace(
        camera,
        c_px=share * camera.c_px,
        x0_px=share * camera.x0_px,
        y0_px=share * camera.y0_px,
        width_px=round(share * camera.width_px),
        height_px=round(share * camera.height_px),
    )
    lighting = Lighting(
        camera.bearing_deg + rng.uniform(60.0, 300.0),
        rng.uniform(20.0, 60.0),
        haze_m=float(rng.uniform(6000.0, 30000.0)),
        air=float(rng.uniform(0.75, 0.95)),
    )
    # The foreground is not what is tested: one twig, far under the ground.
    hidden = case.station_m + np.array([0.0, 0.0, -500.0])
    props = tree(1.0, 0.3, 5, 0.01, rng).moved(hidden)
    exposure = expose(world, case.station_m, small, props, lighting, rng)
    return aged_plate(exposure.light, rng)


def search_one(world: World, case: InventedCase, rng: np.random.Generator) -> Outcome:
    """Trace and search one plate."""
    began = time.process_time()
    picture = picture_of(world, case, rng)
    skyline = trace_skyline(picture)
    ridges = tuple(
        RidgeLine(id=f"ridge line {number}", line=line, trust=MACHINE_TRUST)
        for number, line in enumerate(trace_ridges(picture, skyline), start=1)
    )
    terrain = case.terrain()
    settings = LocateSettings(
        surface=case.model.surface, reversed=False, near_enough_m=NEAR_ENOUGH_M
    )
    problem = set_up(
        scan_of(case),
        terrain,
        skyline,
        searched(case, rng),
        settings,
        Evidence(ridge_lines=ridges),
    )
    cells = weigh_ridges(problem, search(problem, SILENT))
    posterior = posterior_of(cells, shift_reach_m(problem), unsure_powers(problem))
    places = find_places(posterior, NEAR_ENOUGH_M, MOST_PLACES)
    truth = shapely.Point(case.station_m[:2])
    regions = [region(posterior, p) for p in LEVELS]
    off = [math.dist((p.east_m, p.north_m), case.station_m[:2]) for p in places]
    near = [number for number, away in enumerate(off, start=1) if away <= 200.0]
    return Outcome(
        [bool(one.buffer(ONE_CENTIMETRE).contains(truth)) for one in regions],
        regions[1].area / 1e4,
        places[0].probability,
        off[0],
        near[0] if near else 0,
        float(np.nanmedian(case.distance_m)),
        len(ridges),
        time.process_time() - began,
    )


def search_world(task: tuple[int, str]) -> None:
    """Search the plates of one world and keep each result as it comes."""
    number, folder = task
    for index, (world, case) in enumerate(plates_of(number, SEED)):
        kept = Path(folder) / f"{number:03d}-{index}.json"
        if kept.exists():
            continue
        rng = np.random.default_rng((SEED, number, index))
        try:
            row = asdict(search_one(world, case, rng))
        except SkylineError as error:
            row = {"untraced": str(error)}
        kept.write_text(json.dumps(row), encoding="utf-8")


def report(folder: Path, most: int) -> str:
    """Return what the kept results say."""
    rows = [json.loads(f.read_text()) for f in sorted(folder.glob("*.json"))][:most]
    untraced = [row for row in rows if "untraced" in row]
    done = [Outcome(**row) for row in rows if "untraced" not in row]
    far = [one for one in done if one.horizon_m >= 1500.0]
    lines = [f"{len(rows)} plates, {len(untraced)} without a skyline to trace"]
    for name, some in (("all", done), ("horizon beyond 1.5 km", far)):
        held = " / ".join(
            f"{100 * np.mean([one.held[i] for one in some]):.0f}%"
            for i in range(len(LEVELS))
        )
        sure = [one for one in some if one.gathered >= 0.9]
        wrong = [one for one in sure if one.off_m > 2 * NEAR_ENOUGH_M]
        lines.append(
            f"  {name} ({len(some)}): regions hold the truth {held}, median 90% area "
            f"{np.median([one.area_ha for one in some]):.1f} ha; 0.9 gathered within "
            f"{NEAR_ENOUGH_M:.0f} m {len(sure)}, of which wrong {len(wrong)}; first "
            f"place within 200 m {sum(one.rank == 1 for one in some)}, one of six "
            f"{sum(one.rank > 0 for one in some)}; median "
            f"{np.median([one.seconds for one in some]):.0f} processor s"
        )
    return "\n".join(lines)


def run_study() -> None:
    """Search as many plates as asked."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("plates", type=int, nargs="?", default=60)
    parser.add_argument("--workers", type=int, default=os.cpu_count())
    parser.add_argument("--keep", type=Path, default=Path("coverage-end-to-end"))
    asked = parser.parse_args()
    asked.keep.mkdir(parents=True, exist_ok=True)
    worlds = -(-asked.plates // PER_WORLD) + 2
    tasks = [(number, str(asked.keep)) for number in range(worlds)]
    search_world(tasks[0])
    with multiprocessing.get_context("spawn").Pool(asked.workers) as pool:
        for _ in pool.imap_unordered(search_world, tasks[1:]):
            pass
    print(report(asked.keep, asked.plates))


if __name__ == "__main__":
    run_study()
