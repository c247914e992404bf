"""Measure how much a visit mends, by whole searches whose truth is known.

Hills of a formula; a plate on which six far things are marked, whose places on the map
are wrong by 8 m either way. It is fixed. Then somebody goes there, walks about until
near things show about as on the picture, and sets up a tripod some 3 m off the spot.
Read are three gaps to a tenth of a degree, the tripod's place by receiver, and tapes to
two corners that a plan has to 0.3 m. It is taken as a kept visit takes it, and the
plate is fixed again: with the receiver's word, and with the tapes too.

The near things' places are known to 3 m, and stand in no fix: gaps alone use them.

``python benchmarks/coming_back.py [COUNT]`` does COUNT plates, 8 unless told.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from PIL import Image

from wherestood.demo.camera_truth import CameraTruth
from wherestood.earth.frame import Frame
from wherestood.evidence.items import Feature, Item, KnownDistance, Mark, gather
from wherestood.fix.area import Area
from wherestood.fix.locate import locate
from wherestood.fix.result import Fix
from wherestood.fix.settings import LocateSettings
from wherestood.plate.scan import Plate
from wherestood.terrain.ground import StandingGround
from wherestood.terrain.model import Terrain
from wherestood.visit.spot_found import GapPair, SpotFound, combined_place, step_by_gaps

SETTINGS = LocateSettings(
    surface="ground", reversed=False, horizon_radius_m=5000.0, near_enough_m=25.0
)
BEARING_DEG, LENS_M, HALF_M = 40.0, 1.5, 150.0
#: Ahead and to the right of the station, height of the thing [m].
FAR = ((420, -120, 12), (700, 210, 15), (950, -330, 20), (1400, 60, 25),
       (1800, 520, 25), (600, 30, 10))  # fmt: skip
NEAR = {"gate": (27, 1), "boulder": (34, 9), "well": (24, -5)}
BEYOND = {"gate": (700, 60), "boulder": (900, 280), "well": (800, -130)}
CORNERS = ((31.0, 18.0), (26.0, -17.0))
FAR_SD_M, NEAR_SD_M, CORNER_SD_M = 8.0, 3.0, 0.3
MARK_PX, OFF_M, RECEIVER_SD_M, TAPE_SD_M = 2.0, 3.0, 5.0, 0.1
READ_SD, PLATE_SD = np.radians(0.1), np.radians(0.05)
WAYS = ("before", "receiver", "tapes")


@dataclass(frozen=True)
class Mended:
    """Hold one search: off by so much [m], its 90% region [m2], if that holds."""

    off_m: float
    area_m2: float
    holds: bool


def hills() -> Terrain:
    """Return smooth hills of a formula, 10 km across."""
    cell_m, count = 25.0, 401
    along = (np.arange(count) - count // 2) * cell_m
    east, north = np.meshgrid(along, along)
    height = 300.0 + 90.0 * np.sin(east / 700.0) * np.cos(north / 900.0)
    height += 25.0 * np.sin(east / 210.0 + north / 260.0)
    frame = Frame.local(11.0, 47.0)
    first = float(along[0])
    return Terrain(
        height.astype(np.float32), first, first, cell_m, frame, "ground", cell_m
    )


def turned(places: np.ndarray, at: np.ndarray) -> np.ndarray:
    """Return places ahead and to the right of a station as east and north [m]."""
    turn = np.radians(BEARING_DEG)
    ahead, right = np.asarray(places, dtype=np.float64).T
    return at + np.column_stack(
        (
            ahead * np.sin(turn) + right * np.cos(turn),
            ahead * np.cos(turn) - right * np.sin(turn),
        )
    )


def marks(land: Terrain, at: np.ndarray, rng: np.random.Generator) -> list[Item]:
    """Return marks of the far things, on the map where they are not quite."""
    ground = StandingGround(land.elevation_m, land.west_m, land.south_m, land.cell_m)
    things = turned(np.array(FAR)[:, :2], at)
    height = np.asarray(ground.at(*things.T)) + np.array(FAR)[:, 2]
    lens = float(ground.at(at[:1], at[1:])[0]) + LENS_M
    drop = (1.0 - land.refraction) * ((things - at) ** 2).sum(axis=1) / (2.0 * 6.371e6)
    camera = CameraTruth(
        bearing_deg=BEARING_DEG, tilt_deg=0.5, roll_deg=-0.4, c_px=1300.0, x0_px=605.0,
        y0_px=470.0, k1=0.0, width_px=1200, height_px=900,
    )  # fmt: skip
    x, y = camera.project(np.column_stack((things - at, height - drop - lens)))
    x, y = x + rng.normal(0, MARK_PX, x.size), y + rng.normal(0, MARK_PX, y.size)
    wrong = things + rng.normal(0.0, FAR_SD_M, things.shape)
    return [
        Mark(
            id=f"mark {n}", x_px=float(x[n]), y_px=float(y[n]), sd_px=MARK_PX,
            features=feature(land, wrong[n], FAR_SD_M, f"thing {n}", float(height[n])),
        )
        for n in range(len(things))
    ]  # fmt: skip


def feature(
    land: Terrain, at: np.ndarray, sd_m: float, name: str, height_m: float | None = None
) -> Feature:
    """Return a thing on the map."""
    lon, lat = land.frame.to_lonlat(at[:1], at[1:2])
    place = float(lon[0]), float(lat[0])
    if height_m is None:
        return Feature(id=name, geometry=place, sd_m=sd_m)
    return Feature(
        id=name, geometry=place, sd_m=sd_m, height_m=height_m, height_sd_m=1.0
    )


def step_read(
    at: np.ndarray, tripod: np.ndarray, rng: np.random.Generator
) -> SpotFound:
    """Return the step that three gaps tell, their things off on the map."""

    def gap(far: np.ndarray, near: np.ndarray, stand: np.ndarray) -> float:
        one, other = (np.arctan2(*(thing - stand)) for thing in (far, near))
        return float((one - other + np.pi) % (2.0 * np.pi) - np.pi)

    pairs = []
    for name, place in NEAR.items():
        near, far = turned(np.array([place, BEYOND[name]]), at)
        on_map = np.array([far, near]) + rng.normal(0.0, NEAR_SD_M, (2, 2))
        pairs.append(
            GapPair(
                tuple(on_map[0]), tuple(on_map[1]), NEAR_SD_M, NEAR_SD_M,
                gap(far, near, tripod) + rng.normal(0.0, READ_SD),
                gap(far, near, at) + rng.normal(0.0, PLATE_SD), READ_SD, PLATE_SD,
            )
        )  # fmt: skip
    about = tripod + rng.normal(0.0, RECEIVER_SD_M, 2)
    found = step_by_gaps(pairs, (float(about[0]), float(about[1])))
    assert found is not None
    return found


def visited(
    land: Terrain, at: np.ndarray, rng: np.random.Generator
) -> tuple[list[Item], list[Item], SpotFound, np.ndarray]:
    """Return what a visit tells by receiver, and by tapes; the step, and its truth."""
    tripod = at + rng.normal(0.0, OFF_M, 2)
    step = step_read(at, tripod, rng)
    said = tripod + rng.normal(0.0, RECEIVER_SD_M, 2)
    spot = combined_place([(*said, RECEIVER_SD_M)]).moved(step)
    place = np.array([spot.east_m, spot.north_m])
    receiver: list[Item] = [
        KnownDistance(
            id="spot", distance_m=0.01, sd_m=0.01,
            feature=feature(land, place, spot.sd_m, "spot by receiver"),
        )
    ]  # fmt: skip
    tapes: list[Item] = []
    for number, corner in enumerate(turned(np.array(CORNERS), at)):
        on_plan = corner + rng.normal(0.0, CORNER_SD_M, 2)
        away = (on_plan - said) / np.linalg.norm(on_plan - said)
        taped = float(np.linalg.norm(corner - tripod) + rng.normal(0.0, TAPE_SD_M))
        moved = np.array([step.east_m, step.north_m])
        told = np.hypot(taped - away @ moved, away @ (moved[1], -moved[0]))
        sd_m = np.hypot(TAPE_SD_M, np.sqrt(away @ step.covariance_m2 @ away))
        # Which way the corner lies is known no better than where the tripod stood.
        way_sd = np.hypot(RECEIVER_SD_M, CORNER_SD_M) / np.linalg.norm(on_plan - said)
        sd_m = np.hypot(sd_m, (away @ (moved[1], -moved[0])) * way_sd)
        tapes.append(
            KnownDistance(
                id=f"tape {number}", distance_m=float(told), sd_m=float(sd_m),
                feature=feature(land, on_plan, CORNER_SD_M, f"corner {number}"),
            )
        )  # fmt: skip
    return receiver, tapes, step, at - tripod


def mended(fix: Fix, land: Terrain, at: np.ndarray) -> Mended:
    """Return how a fix lies to the truth."""
    off = np.hypot(fix.station.east_m - at[0], fix.station.north_m - at[1])
    region = fix.regions[0.9]
    lon, lat = land.frame.to_lonlat(at[:1], at[1:])
    in_metres = shapely.transform(
        region, lambda points: np.column_stack(land.frame.from_lonlat(*points.T))
    )
    holds = bool(shapely.contains_xy(region, lon[0], lat[0]))
    return Mended(float(off), float(in_metres.area), holds)


def study(count: int = 8) -> dict[str, list[Mended]]:
    """Fix so many plates before a visit and after; print each and all."""
    land = hills()
    found: dict[str, list[Mended]] = {way: [] for way in WAYS}
    steps = []
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "blank.png"
        Image.new("L", (1200, 900), 128).save(path)
        plate = Plate.open(path)
        for seed in range(1, count + 1):
            rng = np.random.default_rng(seed)
            at = rng.uniform(-600.0, 600.0, 2)
            middle = at + rng.uniform(-0.5 * HALF_M, 0.5 * HALF_M, 2)
            box = shapely.box(*(middle - HALF_M), *(middle + HALF_M))
            corners = np.array(box.exterior.coords)
            outline = np.column_stack(land.frame.to_lonlat(*corners.T))
            area = Area(shapely.Polygon(outline), "a box")
            marked = marks(land, at, rng)
            receiver, tapes, step, truth = visited(land, at, rng)
            left = np.array([step.east_m, step.north_m]) - truth
            square = float(left @ np.linalg.solve(step.covariance_m2, left))
            steps.append((float(np.hypot(*left)), square))
            for way, items in zip(
                WAYS,
                (marked, marked + receiver, marked + receiver + tapes),
                strict=True,
            ):
                fix = locate(
                    plate, land, None, area, settings=SETTINGS, evidence=gather(items)
                )
                one = mended(fix, land, at)
                found[way].append(one)
                print(
                    f"{seed} {way:8}: {fix.verdict}, off {one.off_m:.1f} m, 90% region "
                    f"{one.area_m2:.0f} m2{'' if one.holds else ', truth outside'}; "
                    f"step off {steps[-1][0]:.2f} m", flush=True,
                )  # fmt: skip
    for way, all_of in found.items():
        print(
            f"{way}: off {np.median([o.off_m for o in all_of]):.1f} m in the median, "
            f"{max(o.off_m for o in all_of):.1f} at most; 90% region "
            f"{np.median([o.area_m2 for o in all_of]):.0f} m2 in the median, holds "
            f"{sum(o.holds for o in all_of)} of {count}."
        )
    # A chi-squared of two unknowns holds 9 in 10 within 4.605.
    held = sum(square < 4.605 for _, square in steps)
    print(
        f"Steps by gaps: off {np.median([off for off, _ in steps]):.2f} m in the "
        f"median; {held} of {count} within their 90% ellipse."
    )
    return found


if __name__ == "__main__":
    study(*map(int, sys.argv[1:2]))
