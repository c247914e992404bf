"""Time the whole search and measure its memory as the ground searched grows.

Invented ground of 30 m cells, horizon radius 30 km, lens and bearing unknown. The
skyline is the program's own horizon at a known station, roughened by a correlated
field of trees: its rightness is no matter here, its cost is. Each size runs in a
process of its own, whose greatest resident memory is taken; compiling is left out by
a small search before. ``processor_seconds`` are those of all cores together: half of
them is what two cores with nothing else to do would take. No ratio is asked: there
is nothing to compare with.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import gaussian_filter1d

from wherestood.demo.hills import invented_ground
from wherestood.demo.world import refine_ground
from wherestood.earth.curvature import curvature_radius_m
from wherestood.earth.frame import Frame
from wherestood.fix.area import Area
from wherestood.fix.locate import locate
from wherestood.fix.settings import LocateSettings
from wherestood.plate.scan import Plate
from wherestood.plate.skyline import Skyline
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.model import Terrain

AREAS_KM2 = (10.0, 100.0, 1000.0)
CELL_M = 30.0
COARSE_NODES, COARSE_CELL_M = 900, 120.0
LON_DEG, LAT_DEG = -27.5, 41.2
WIDTH_PX, HEIGHT_PX = 2400, 1800
DISTANCE_OVER_DIAGONAL = 0.95
BEARING_RAD = 1.1
LENS_M = 1.5
TREES_SD_M = 5.0
SEED = 11


def invented_land(heights_m: NDArray[np.float32]) -> Terrain:
    """Return the ground as the program's own record of it."""
    half_m = (heights_m.shape[0] - 1) * CELL_M / 2.0
    return Terrain(
        heights_m,
        -half_m,
        -half_m,
        CELL_M,
        Frame.local(LON_DEG, LAT_DEG),
        "ground",
        CELL_M,
    )


def seen_skyline(land: Terrain) -> Skyline:
    """Return the horizon at the middle through a level camera, with trees on it."""
    c_px = DISTANCE_OVER_DIAGONAL * np.hypot(WIDTH_PX, HEIGHT_PX)
    x_px = np.arange(0.5, WIDTH_PX, 2.0)
    off_px = x_px - WIDTH_PX / 2.0
    middle = land.elevation_m.shape[0] // 2
    lens_m = float(land.elevation_m[middle, middle]) + LENS_M
    at_m = land.west_m + middle * CELL_M
    seen = HorizonModel.of(land, float(curvature_radius_m(LAT_DEG))).horizons(
        np.array([at_m]),
        np.array([at_m]),
        np.array([lens_m]),
        BEARING_RAD + np.arctan2(off_px, c_px),
    )
    trees = gaussian_filter1d(np.random.default_rng(SEED).normal(size=x_px.size), 20.0)
    trees *= TREES_SD_M / trees.std()
    tangent = seen.tangent[0] + trees / seen.distance_m[0]
    y_px = 0.5 * HEIGHT_PX + 100.0 - tangent * np.hypot(off_px, c_px)
    whole = np.zeros(x_px.size, dtype=bool)
    return Skyline(x_px, y_px, np.ones(x_px.size), WIDTH_PX, HEIGHT_PX, whole)


def square(land: Terrain, area_km2: float) -> Area:
    """Return a square of an area, the station a quarter of its side off its middle."""
    half_m = 500.0 * np.sqrt(area_km2)
    shape = shapely.box(-0.5 * half_m, -0.5 * half_m, 1.5 * half_m, 1.5 * half_m)

    def lonlat(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack(land.frame.to_lonlat(points[:, 0], points[:, 1]))

    return Area(shapely.transform(shape, lonlat), "invented")


def measured(ground: Path, area_km2: float) -> dict[str, object]:
    """Return the row of one area, measured in this process."""
    land = invented_land(np.load(ground))
    skyline = seen_skyline(land)
    scan = ground.with_name("scan.png")
    Image.new("L", (WIDTH_PX, HEIGHT_PX), 120).save(scan)
    plate = Plate.open(scan, negative=False)
    settings = LocateSettings(surface="ground", horizon_radius_m=30_000.0)
    locate(plate, land, skyline, square(land, 0.02), settings=settings)
    start, processor = time.perf_counter(), time.process_time()
    fix = locate(plate, land, skyline, square(land, area_km2), settings=settings)
    seconds = time.perf_counter() - start
    processor_s = time.process_time() - processor
    stages = sorted(fix.timing_s.items(), key=lambda stage: -stage[1])[:3]
    return {
        "what": f"locate on {area_km2:g} km2 of {CELL_M:g} m cells, lens unknown",
        "seconds": round(seconds, 1),
        "processor_seconds": round(processor_s, 1),
        "peak_mb": peak_mb(),
        "cells_scored": fix.assumptions["cells_scored"],
        "stages_s": ", ".join(f"{name} {value:.1f}" for name, value in stages),
    }


def peak_mb() -> int | str:
    """Return the greatest resident memory of this process [MB], Linux alone.

    Not ``getrusage``: a process that was started by another counts the other's.
    """
    status = Path("/proc/self/status")
    if not status.exists():
        return "not known"
    found = re.search(r"VmHWM:\s+(\d+) kB", status.read_text(encoding="utf-8"))
    return round(int(found[1]) * 1024 / 1e6) if found else "not known"


def main() -> list[dict[str, object]]:
    """Return one row an area: seconds, memory and where the time goes."""
    coarse = invented_ground(SEED, nodes=COARSE_NODES, cell_m=COARSE_CELL_M)
    rows: list[dict[str, object]] = []
    with tempfile.TemporaryDirectory() as folder:
        ground = Path(folder) / "ground.npy"
        np.save(ground, refine_ground(coarse, CELL_M).astype(np.float32))
        for area_km2 in AREAS_KM2:
            ended = subprocess.run(
                [sys.executable, __file__, str(ground), str(area_km2)],
                capture_output=True,
                text=True,
                check=True,
            )
            rows.append(json.loads(ended.stdout.splitlines()[-1]))
    return rows


if __name__ == "__main__":
    if len(sys.argv) == 3:
        print(json.dumps(measured(Path(sys.argv[1]), float(sys.argv[2]))))
    else:
        print(json.dumps(main(), indent=1))
