"""Time a whole fix with more evidence against one by the skyline alone.

Invented ground of 60 m cells and half a square kilometre searched, lens and bearing
unknown, all in one run. Processor seconds are compared, which other work on the machine
moves little. Evidence on the plate may make a fix twice as slow, checks included;
what needs no camera must make it faster, since it leaves less ground to look at. Each
kind is run once beforehand on ground so small that its first cells are the last, so
that nothing is compiled while it is timed.
"""

from __future__ import annotations

import json
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
from wherestood.evidence.items import (
    Evidence,
    Feature,
    InLine,
    Item,
    KnownDistance,
    KnownSize,
    Mark,
    PlumbEdge,
    WaterLevel,
    gather,
)
from wherestood.fix.area import Area
from wherestood.fix.locate import locate
from wherestood.fix.settings import LocateSettings
from wherestood.plate.scan import Plate
from wherestood.plate.skyline import Skyline
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.model import Terrain

COARSE_NODES, COARSE_CELL_M, CELL_M = 220, 120.0, 60.0
LON_DEG, LAT_DEG = -27.5, 41.2
WIDTH_PX, HEIGHT_PX = 2400, 1800
C_PX = 0.95 * float(np.hypot(WIDTH_PX, HEIGHT_PX))
AXIS_PX = 0.5 * HEIGHT_PX + 100.0
BEARING_RAD = 1.1
LENS_M = 1.5
TREES_SD_M = 5.0
SEED = 11
AREA_KM2 = 0.5
#: A search has hundreds of first cells on any ground, unless they were under 4 m.
WARM_KM2 = 0.0004
#: Ahead and to the right of the station, and above its lens [m].
THINGS = ((700.0, 120.0, 5.0), (1100.0, -260.0, 12.0), (1600.0, 400.0, 30.0),
          (900.0, -40.0, -4.0), (2300.0, -500.0, 60.0), (500.0, 60.0, 2.0))  # fmt: skip


def invented_land() -> Terrain:
    """Return the ground as the program's own record of it."""
    coarse = invented_ground(SEED, nodes=COARSE_NODES, cell_m=COARSE_CELL_M)
    heights = refine_ground(coarse, CELL_M).astype(np.float32)
    half_m = (heights.shape[0] - 1) * CELL_M / 2.0
    frame = Frame.local(LON_DEG, LAT_DEG)
    return Terrain(heights, -half_m, -half_m, CELL_M, frame, "ground", CELL_M)


def lens_m(land: Terrain) -> float:
    """Return the height of the lens, at the ground's middle [m]."""
    middle = land.elevation_m.shape[0] // 2
    return float(land.elevation_m[middle, middle]) + LENS_M


def seen_skyline(land: Terrain) -> Skyline:
    """Return the horizon at the middle through a level camera, with trees on it."""
    x_px = np.arange(0.5, WIDTH_PX, 2.0)
    off_px = x_px - WIDTH_PX / 2.0
    at_m = land.west_m + (land.elevation_m.shape[0] // 2) * CELL_M
    seen = HorizonModel.of(land, float(curvature_radius_m(LAT_DEG))).horizons(
        np.array([at_m]),
        np.array([at_m]),
        np.array([lens_m(land)]),
        BEARING_RAD + np.arctan2(off_px, C_PX),
    )
    trees = gaussian_filter1d(np.random.default_rng(SEED).normal(size=x_px.size), 20.0)
    trees *= TREES_SD_M / trees.std()
    tangent = seen.tangent[0] + trees / seen.distance_m[0]
    y_px = AXIS_PX - tangent * np.hypot(off_px, C_PX)
    whole = np.zeros(x_px.size, dtype=bool)
    return Skyline(x_px, y_px, np.ones(x_px.size), WIDTH_PX, HEIGHT_PX, whole)


def pixel(ahead_m: float, right_m: float, up_m: float) -> tuple[float, float]:
    """Return where the level camera shows a place, drop aside."""
    x_px = WIDTH_PX / 2.0 + C_PX * right_m / ahead_m
    return x_px, AXIS_PX - C_PX * up_m / ahead_m


def features(land: Terrain) -> list[Feature]:
    """Return the things that marks and sizes are tied to."""
    at_m = land.west_m + (land.elevation_m.shape[0] // 2) * CELL_M
    sine, cosine = np.sin(BEARING_RAD), np.cos(BEARING_RAD)
    found = []
    for n, (ahead, right, up) in enumerate(THINGS):
        east = np.array([at_m + ahead * sine + right * cosine])
        north = np.array([at_m + ahead * cosine - right * sine])
        lon, lat = land.frame.to_lonlat(east, north)
        found.append(
            Feature(
                (float(lon[0]), float(lat[0])),
                id=f"thing {n}",
                sd_m=5.0,
                height_m=lens_m(land) + up,
                height_sd_m=2.0,
            )
        )
    return found


def marks(land: Terrain) -> list[Item]:
    """Return six marks."""
    return [
        Mark(*pixel(*thing), feature, id=f"mark {n}")
        for n, (thing, feature) in enumerate(zip(THINGS, features(land), strict=True))
    ]


def drawn(land: Terrain) -> list[Item]:
    """Return upright edges, a size and a water, beside the marks."""
    items = marks(land)
    for n, (ahead, right) in enumerate(((300.0, -90.0), (260.0, 20.0), (340.0, 100.0))):
        ends = (pixel(ahead, right, -5.0), pixel(ahead, right, 25.0))
        items.append(PlumbEdge(ends, id=f"edge {n}"))
    ahead, right, up = THINGS[0]
    ends = (pixel(ahead, right, up), pixel(ahead, right, up + 20.0))
    items.append(KnownSize(ends, 20.0, 1.0, feature="thing 0", id="mast"))
    level = tuple(pixel(1200.0, right, -20.0) for right in (-100.0, 0.0, 100.0))
    lon, lat = shapely.get_coordinates(features(land)[1].place)[0]
    line = shapely.LineString([(lon, lat), (lon + 0.003, lat + 0.004)])
    items.append(
        WaterLevel(
            level,
            Feature(line, id="shore", sd_m=10.0),
            height_m=lens_m(land) - 20.0,
            id="lake",
        )
    )
    return items


def camera_free(land: Terrain) -> list[Item]:
    """Return two things in line and a distance."""
    things = features(land)
    first, second = THINGS[3], THINGS[4]
    turn = np.arctan2(first[1], first[0]) - np.arctan2(second[1], second[0])
    away = float(np.hypot(*THINGS[5][:2]))
    return [
        InLine(things[3], things[4], left_deg=-float(np.degrees(turn)), id="spacing"),
        KnownDistance(things[5], away, 60.0, id="paces"),
    ]


def square(land: Terrain, area_km2: float) -> Area:
    """Return a square of an area, the station a quarter of its side off its middle."""
    half_m = 500.0 * np.sqrt(area_km2)
    shape = shapely.box(-0.5 * half_m, -0.5 * half_m, 1.5 * half_m, 1.5 * half_m)

    def lonlat(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack(land.frame.to_lonlat(points[:, 0], points[:, 1]))

    return Area(shapely.transform(shape, lonlat), "invented")


def main() -> list[dict[str, object]]:
    """Return one row a kind of evidence: the skyline alone over it and the skyline."""
    land = invented_land()
    skyline = seen_skyline(land)
    settings = LocateSettings(surface="ground", horizon_radius_m=10_000.0)
    kinds: dict[str, tuple[Evidence, float]] = {
        "six marks": (gather(marks(land)), 0.5),
        "marks, edges, a size and a water": (gather(drawn(land)), 0.5),
        "an in line and a distance": (gather(camera_free(land)), 1.0),
    }
    rows: list[dict[str, object]] = []
    with tempfile.TemporaryDirectory() as folder:
        scan = Path(folder) / "scan.png"
        Image.new("L", (WIDTH_PX, HEIGHT_PX), 120).save(scan)
        plate = Plate.open(scan, negative=False)

        def seconds(evidence: Evidence) -> tuple[float, str]:
            for area_km2 in (WARM_KM2, AREA_KM2):
                start = time.process_time()
                fix = locate(
                    plate,
                    land,
                    skyline,
                    square(land, area_km2),
                    settings=settings,
                    evidence=evidence,
                )
                took = time.process_time() - start
            stages = sorted(fix.timing_s.items(), key=lambda stage: -stage[1])[:4]
            return took, ", ".join(f"{name} {value:.1f}" for name, value in stages)

        alone, stages = seconds(Evidence())
        rows.append(
            {
                "what": "fix by the skyline alone",
                "processor_seconds": round(alone, 2),
                "stages_s": stages,
            }
        )
        for name, (evidence, least) in kinds.items():
            took, stages = seconds(evidence)
            rows.append(
                {
                    "what": f"fix by the skyline alone over skyline and {name}",
                    "ratio": round(alone / took, 2),
                    "least_ratio": least,
                    "processor_seconds": round(took, 2),
                    "stages_s": stages,
                }
            )
    return rows


if __name__ == "__main__":
    print(json.dumps(main(), indent=1))
