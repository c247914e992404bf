"""Make an invented place, its plate and a fix of it, with a known truth."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image
from shapely.geometry import MultiPolygon

from wherestood.earth.frame import Frame
from wherestood.evidence import joined
from wherestood.evidence.items import (
    Feature,
    InLine,
    KnownSize,
    Mark,
    PlumbEdge,
    RidgeLine,
    Statement,
    WaterLevel,
    gather,
)
from wherestood.fix.area import read_area
from wherestood.fix.result import (
    Alternative,
    CameraAnswer,
    Fix,
    GroundInView,
    StationAnswer,
)
from wherestood.fix.settings import LocateSettings
from wherestood.plate.scan import Plate
from wherestood.plate.skyline import Skyline
from wherestood.record.inputs import FixInputs, Making
from wherestood.terrain.model import SourceRecord, Terrain

LON_DEG, LAT_DEG = -27.5, 41.2  # open ocean: the place is invented
WIDTH_PX, HEIGHT_PX = 1600, 1200
DISTANCE_PX = 1900.0
BEARING_DEG = 38.0
MAKING = Making("2026-01-02T03:04:05+00:00", "0.0.0")


@cache
def terrain() -> Terrain:
    """Return invented hills, 20 km across, with a lake."""
    generator = np.random.default_rng(7)
    cell_m, half_m = 50.0, 10_000.0
    axis = np.arange(-half_m, half_m + 1, cell_m)
    east, north = np.meshgrid(axis, axis)
    heights = 120.0 + 0.012 * (east + north)
    for _ in range(90):
        middle = generator.uniform(-half_m, half_m, 2)
        if np.hypot(*middle) < 1800:
            continue
        width = generator.uniform(400, 1500)
        rise = generator.uniform(80, 420)
        shape = ((east - middle[0]) ** 2 + (north - middle[1]) ** 2) / width**2
        heights += rise * np.exp(-shape)
    water = (east + 1500) ** 2 + (north - 2500) ** 2 < 700**2
    heights[water] = 90.0
    source = SourceRecord(
        "invented-hills.tif", "EPSG:32626", cell_m, "invented datum", "0" * 64
    )
    return Terrain(
        heights.astype(np.float32),
        -half_m,
        -half_m,
        cell_m,
        Frame.local(LON_DEG, LAT_DEG),
        "ground",
        cell_m,
        water=water,
        sources=(source,),
    )


def camera(bearing_deg: float = BEARING_DEG) -> CameraAnswer:
    """Return a level camera."""
    names = ("bearing_deg", "tilt_deg", "roll_deg", "principal_distance_px")
    return CameraAnswer(
        bearing_deg=bearing_deg,
        grid_bearing_deg=bearing_deg,
        tilt_deg=0.0,
        roll_deg=0.0,
        principal_distance_px=DISTANCE_PX,
        principal_distance_mm=None,
        rise_px=120.0,
        rise_mm=None,
        cross_px=0.0,
        cross_mm=None,
        k1=0.0,
        reversed=False,
        sight_bearing_deg=bearing_deg,
        sight_elevation_deg=3.6,
        sd={**dict.fromkeys(names, 0.4), "sight_bearing_deg": 0.21},
        prior_share={"tilt_deg": 0.9, "rise_px": 0.85, "principal_distance_px": 0.05},
    )


def station(east_m: float, north_m: float, sd_m: float = 22.0) -> StationAnswer:
    """Return a station at frame coordinates."""
    lon, lat = Frame.local(LON_DEG, LAT_DEG).to_lonlat(
        np.array([east_m]), np.array([north_m])
    )
    return StationAnswer(
        float(lon[0]), float(lat[0]), 131.6, sd_m, sd_m, 4.0, east_m, north_m
    )


def horizon(land: Terrain) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """March every column's ray from the middle; return points [px], distances [m]."""
    x_px = np.arange(0.5, WIDTH_PX, 4.0)
    bearing = np.radians(BEARING_DEG) + np.arctan2(x_px - WIDTH_PX / 2, DISTANCE_PX)
    along_m = np.arange(300.0, 9_000.0, 25.0)
    column = (along_m * np.sin(bearing)[:, None] - land.west_m) / land.cell_m
    row = (along_m * np.cos(bearing)[:, None] - land.south_m) / land.cell_m
    heights = land.elevation_m[np.rint(row).astype(int), np.rint(column).astype(int)]
    slope = (heights - 131.6) / along_m
    best = slope.argmax(axis=1)
    tangent = slope[np.arange(len(x_px)), best]
    spread = np.hypot(x_px - WIDTH_PX / 2, DISTANCE_PX)
    y_px = HEIGHT_PX / 2 + 120.0 - tangent * spread
    return np.column_stack((x_px, y_px)), along_m[best]


def plate(folder: Path, line: NDArray[np.float64]) -> Plate:
    """Write a picture with a bright sky over dark land, and open it."""
    generator = np.random.default_rng(3)
    sky_ends = np.interp(np.arange(WIDTH_PX) + 0.5, line[:, 0], line[:, 1])
    below = (np.arange(HEIGHT_PX)[:, None] - sky_ends) / HEIGHT_PX
    tone = np.where(below < 0, 0.86, 0.52 - 0.5 * np.clip(below, 0, 0.7))
    grainy = np.clip(tone + generator.normal(0, 0.025, tone.shape), 0, 1)
    path = folder / "invented-plate.png"
    Image.fromarray((255 * grainy).astype(np.uint8)).save(path)
    return Plate.open(path)


def skyline(line: NDArray[np.float64]) -> Skyline:
    """Return the line as traced by an unsteady hand, broken twice."""
    generator = np.random.default_rng(5)
    x_px = np.arange(0.5, WIDTH_PX, 2.0)
    kept = ((x_px < 480) | (x_px > 610)) & ((x_px < 1250) | (x_px > 1300))
    x_px = x_px[kept]
    wander = np.convolve(generator.normal(0, 1, len(x_px)), np.ones(25) / 9, "same")
    y_px = np.interp(x_px, line[:, 0], line[:, 1]) + wander
    broken = np.append(np.diff(x_px) > 3, False)
    sd_px = np.full(len(x_px), 1.1)
    return Skyline(x_px, y_px, sd_px, WIDTH_PX, HEIGHT_PX, broken)


def with_ridges(fix: Fix, inputs: FixInputs) -> tuple[Fix, FixInputs]:
    """Return the fix with three ridge lines: explained, not, and too short."""
    across = np.array([(100.0, 900.0), (700.0, 1500.0), (1200.0, 1260.0)])
    odds = (3.2, -0.4, None)
    ridges, told = [], list(fix.evidence)
    for number, (x_px, log_odds) in enumerate(zip(across, odds, strict=True), start=1):
        y_px = np.full(2, 700.0 + 60.0 * number)
        broken = np.zeros(2, dtype=bool)
        line = Skyline(x_px, y_px, np.ones(2), WIDTH_PX, HEIGHT_PX, broken)
        name = f"ridge line {number}"
        ridges.append(RidgeLine(id=name, line=line, trust=0.4))
        told.append(
            {"id": name, "kind": "ridge line", "trust": 0.4, "log_odds": log_odds}
        )
    x_px = np.arange(0.0, WIDTH_PX, 4.0)
    points = np.column_stack((x_px, np.full(x_px.size, 765.0)))
    stretches = np.stack((points[:-1], points[1:]), axis=1)
    return (
        replace(fix, evidence=tuple(told), computed_ridges_px=stretches),
        replace(inputs, ridges=tuple(ridges)),
    )


def with_evidence(fix: Fix, inputs: FixInputs) -> tuple[Fix, FixInputs]:
    """Return the fix with two marks (one a blunder), an in line and a statement."""
    frame = inputs.terrain.frame

    def at(east_m: float, north_m: float) -> tuple[float, float]:
        lon, lat = frame.to_lonlat(np.array([east_m]), np.array([north_m]))
        return float(lon[0]), float(lat[0])

    chimney = Feature(id="f1", name="tannery chimney", geometry=at(600.0, 900.0))
    gable = Feature(id="f2", what="gable", geometry=at(900.0, 1150.0))
    road = Feature(
        id="road",
        geometry=shapely.LineString([at(-700.0, 20.0), at(700.0, 20.0)]),
    )
    said = Statement(id="caption", feature=road, place="along", within_m=100.0)
    evidence = gather(
        [
            Mark(id="A", x_px=700.0, y_px=800.0, features=chimney),
            Mark(id="B", x_px=1100.0, y_px=760.0, features=gable),
            Mark(id="C", x_px=300.0, y_px=1000.0),
            InLine(id="a over b", a=chimney, b=gable),
            said,
            Statement(
                id="copy", feature=road, place="along", derived_from=("caption",)
            ),
            PlumbEdge(id="post", points_px=((400.0, 820.0), (411.0, 1090.0))),
            WaterLevel(
                id="lake",
                points_px=((1200.0, 905.0), (1350.0, 904.0), (1500.0, 903.0)),
                height_m=310.0,
            ),
            KnownSize(
                id="mast",
                points_px=((700.0, 800.0), (702.0, 930.0)),
                length_m=21.0,
                sd_m=0.5,
                feature="f1",
            ),
        ]
    )
    told = (
        *fix.evidence,
        {"id": "A", "kind": "mark", "blunder_log_odds": -6.0, "residual": 1.5,
         "residual_px": [0.9, 1.2], "feature": "f1"},
        {"id": "B", "kind": "mark", "blunder_log_odds": 40.0, "residual": 201.0,
         "residual_px": [200.0, -20.0], "feature": "f2"},
        {"id": "a over b", "kind": "in line", "blunder_log_odds": -4.0,
         "log_likelihood": 3.0, "residual_deg": -0.043},
        {"id": "caption", "kind": "statement", "blunder_log_odds": -2.0,
         "log_likelihood": -9.0, "residual_m": 0.0},
        {"id": "post", "kind": "upright edge", "blunder_log_odds": 6.0,
         "residual_deg": 9.0},
        {"id": "lake", "kind": "water level", "blunder_log_odds": -5.0,
         "residual": 12.0, "residual_px": [0.0, 12.0]},
        {"id": "mast", "kind": "known size", "blunder_log_odds": -5.0,
         "residual_m": 0.31, "feature": "f1"},
    )  # fmt: skip
    return replace(fix, evidence=told), replace(inputs, evidence=evidence)


def without_skyline(fix: Fix, inputs: FixInputs) -> tuple[Fix, FixInputs]:
    """Return the fix as one made without a skyline."""
    kept = tuple(item for item in fix.evidence if item["kind"] != "skyline")
    none = joined.without_skyline(inputs.plate)
    return (
        replace(fix, evidence=kept, rms_px=np.nan, chance=np.nan),
        replace(inputs, skyline=none),
    )


def cells(middles: list[tuple[float, float, float]]) -> NDArray[np.float64]:
    """Return cells of 10 m about middles (east, north, probability)."""
    offset = np.arange(-60.0, 61.0, 10.0)
    east, north = np.meshgrid(offset, offset)
    weight = np.exp(-0.5 * (east**2 + north**2) / 22.0**2)
    weight /= weight.sum()
    return np.vstack(
        [
            np.column_stack(
                (
                    (east + e).ravel(),
                    (north + n).ravel(),
                    np.full(east.size, 10.0),
                    (p * weight).ravel(),
                )
            )
            for e, n, p in middles
        ]
    )


def regions(
    middles: list[tuple[float, float, float]], land: Terrain
) -> dict[float, MultiPolygon]:
    """Return discs that hold half, nine tenths and 99% of a normal spread."""

    def project(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack(land.frame.to_lonlat(points[:, 0], points[:, 1]))

    found = {}
    for share in (0.5, 0.9, 0.99):
        reach_m = 22.0 * np.sqrt(-2 * np.log(1 - share))
        discs = [shapely.Point(e, n).buffer(reach_m) for e, n, _ in middles]
        found[share] = shapely.transform(MultiPolygon(discs), project)
    return found


def scene(folder: Path, verdict: str = "located") -> tuple[Fix, FixInputs]:
    """Return a fix with the given verdict and what it was made from."""
    land = terrain()
    line, distance_m = horizon(land)
    middles = [(0.0, 0.0, 0.97)]
    if verdict == "several places":
        middles = [(0.0, 0.0, 0.6), (-1400.0, -900.0, 0.3), (900.0, -1500.0, 0.08)]
    if verdict == "not determined":
        generator = np.random.default_rng(2)
        middles = [(*generator.uniform(-2200, 2200, 2), 0.03) for _ in range(30)]
        middles[0] = (0.0, 0.0, 0.06)
    others = tuple(
        Alternative(
            station(e, n, 35.0),
            camera(BEARING_DEG + 40 * i),
            p,
            line + np.array([0.0, 6.0 * i]),
            distance_m,
            1.43 + 6.0 * i,
        )
        for i, (e, n, p) in enumerate(middles[1:6], start=1)
    )
    fix = Fix(
        verdict=verdict,  # type: ignore[arg-type]
        near_enough_m=125.0,
        station=station(0.0, 0.0),
        camera=camera(),
        regions=regions(middles, land),
        elsewhere=0.02,
        alternatives=others,
        rms_px=1.43,
        chance=0.0004,
        evidence=({"id": "skyline", "kind": "skyline", "residual": 1.4, "pull": None},),
        computed_skyline_px=line,
        horizon_distance_m=distance_m,
        cells=cells(middles),
        near_enough_share=middles[0][2],
        reasons=("One place holds nearly all of the probability.",),
        assumptions={"tilt_sd_deg": 1.5, "ladder": np.array([1.0, np.inf])},
        timing_s={"search": 1.25},
        share_when_doubled=0.8 * middles[0][2],
        reversed_probability=0.004,
        ground_in_view=GroundInView(0.0, 0.0, 9_100.0),
    )
    inputs = FixInputs(
        plate=plate(folder, line),
        terrain=land,
        skyline=skyline(line),
        area=read_area(f"{LON_DEG},{LAT_DEG},2500m"),
        settings=LocateSettings(surface="ground"),
    )
    return replace(fix), inputs
