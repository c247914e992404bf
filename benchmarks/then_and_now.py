"""Measure how well then and now are compared, on rendered pairs whose truth is known.

A ray-mesh renderer makes a plate and a photograph made again 0 to 5 m off, with another
lens, other light, houses and fences gone, others built, woods felled and grown. The fix
is invented too: cameras about the truth, off by what a fix is off, with an elevation
model that is wrong as models are. Told is how far off the photographer was, against the
truth, and how far off the photograph lies on the plate at points of a grid that show on
both and did not change.

``python benchmarks/then_and_now.py [COUNT]`` does COUNT pairs, 60 unless told.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import cv2
import numpy as np

from wherestood.demo.ground import GroundGrid
from wherestood.demo.hills import invented_ground
from wherestood.demo.stood_again import StoodAgain, invent_again
from wherestood.earth.frame import Frame
from wherestood.fix.camera_draws import CameraDraws
from wherestood.ground.cameras import PlateCameras
from wherestood.ground.mapping import Doubts, KnownPlace, Mapping
from wherestood.terrain.ground import height_m
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.meet import SolidGround
from wherestood.terrain.model import Terrain
from wherestood.visit.seen_on_both import HandMarks, look_at_both
from wherestood.visit.then_and_now import (
    LONGEST_PX,
    ThenAndNow,
    expected_camera,
    then_and_now,
)

CAMERAS = 150
STATION_SD_M, LENS_LOG_SD, LENS_TAG_SD = 4.0, 0.015, 0.02
GRAIN, WHITE = 0.015, 1.1
HAND_MARKS, HAND_SD_PX, TAPE_SD_M = 16, 1.0, 0.02
GOOD_PX = 1.5


@dataclass(frozen=True)
class Compared:
    """Hold one pair's truth and answer: offsets and doubts [m], misses [px]."""

    truth_m: np.ndarray
    told: ThenAndNow
    miss_px: np.ndarray

    @property
    def off_m(self) -> float:
        """Return how far the answer is off [m]."""
        return float(np.linalg.norm(self.told.offset_m - self.truth_m))

    @property
    def share(self) -> float:
        """Return that over the true offset."""
        return self.off_m / max(float(np.linalg.norm(self.truth_m)), 1e-9)

    @property
    def good(self) -> bool:
        """Say whether it is within 20% or 0.3 m."""
        return self.off_m < 0.3 or self.share < 0.2

    @property
    def square(self) -> float:
        """Return the squared distance from the truth in the answer's own doubt."""
        off = self.told.offset_m - self.truth_m
        return float(off @ np.linalg.solve(self.told.covariance_m2, off))


def scene(
    seed: int, ground: GroundGrid | None = None, width_px: int = 1100
) -> StoodAgain:
    """Return one invented pair, its photographer up to 5 m off."""
    rng = np.random.default_rng(seed)
    if ground is None:
        ground = invented_ground(
            1000 + seed, nodes=48, cell_m=60.0, high_m=300.0, water_share=0.03
        )
    way = rng.standard_normal(3) * (1.0, 1.0, 0.15)
    offset = way * rng.uniform(0.0, 5.0) / np.linalg.norm(way)
    right, forward, up = map(float, offset)
    return invent_again(ground, rng, (right, forward, up), width_px=width_px)


def mapping_of(made: StoodAgain, rng: np.random.Generator) -> Mapping:
    """Return an invented fix of the plate: wrong, and as sure as it is wrong."""
    frame = Frame.local(-27.5, 41.2)
    cell_m = made.model_cell_m
    land = Terrain(
        made.model_m, made.west_m, made.south_m, cell_m, frame, "ground", cell_m
    )
    camera = made.then_camera
    width, height, c = camera.width_px, camera.height_px, camera.c_px
    normal = rng.standard_normal((CAMERAS + 1, 9))
    # The truth is one of the cameras that the fix might have drawn.
    z = normal[1:] + normal[0]
    east, north = made.then_m[:2, None] + STATION_SD_M * z[:, :2].T
    tilt, cross = 0.004 * z[:, 2], 0.01 * width * z[:, 4]
    lens = height_m(land, east, north).astype(np.float64)
    lens += rng.normal(1.5, 0.3, CAMERAS)
    none = np.zeros(CAMERAS)
    draws = CameraDraws(
        east, north, lens,
        np.radians(camera.bearing_deg) - cross / c + 0.0008 * z[:, 5],
        np.radians(camera.tilt_deg) + tilt,
        np.radians(camera.roll_deg) + 0.002 * z[:, 6],
        c * np.exp(LENS_LOG_SD * z[:, 7]), camera.rise_px - tilt * c + 4.0 * z[:, 3],
        camera.cross_px + cross, camera.k1 + 0.006 * z[:, 8], none, none, none,
        none > 0.0,
    )  # fmt: skip
    place = KnownPlace(float(east.mean()), float(north.mean()), 0.95)
    return Mapping(
        SolidGround.of(HorizonModel.of(land)), PlateCameras(draws, width, height),
        (width, height), (place,), "located", Doubts(terrain_sd_m=3.0),
    )  # fmt: skip


def tones(light: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Return light with grain, 0 to 1."""
    grainy = light + rng.normal(0.0, GRAIN, light.shape)
    return np.asarray(np.clip(grainy, 0.0, WHITE) / WHITE, dtype=np.float32)


def reduced(picture: np.ndarray) -> tuple[np.ndarray, float]:
    """Return a picture at the length it is compared at, and its factor."""
    factor = max(1.0, max(picture.shape) / LONGEST_PX)
    size = round(picture.shape[1] / factor), round(picture.shape[0] / factor)
    small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    return small, picture.shape[1] / size[0]


def compare(made: StoodAgain, seed: int, *, by_hand: bool = False) -> Compared:
    """Compare one pair, alone or with marks by hand and a tape."""
    rng = np.random.default_rng(seed + 500)
    mapping = mapping_of(made, rng)
    now = made.now_camera
    looked = look_at_both(
        *reduced(tones(made.then_light, rng)), *reduced(tones(made.now_light, rng))
    )
    size = now.width_px, now.height_px
    expected = expected_camera(
        mapping, size,
        principal_distance_px=now.c_px * float(np.exp(rng.normal(0.0, LENS_TAG_SD))),
        lens_m=lens_height_m(made, rng) if by_hand else None,
    )  # fmt: skip
    plate = made.then_camera
    x, y = np.meshgrid(
        np.linspace(20, plate.width_px - 20, 60),
        np.linspace(20, plate.height_px - 20, 45),
    )
    x, y = x.ravel(), y.ravel()
    true = np.column_stack(made.where_now(x, y))
    known = np.isfinite(true).all(axis=1)
    x, y, true = x[known], y[known], true[known]
    hand = marks_by_hand(x, y, true, rng) if by_hand else None
    told = then_and_now(mapping, looked, size, expected, rng, marks=hand)
    miss = np.hypot(*(told.laying.places(x, y) - true).T)
    # As large as it shows on the plate.
    return Compared(made.offset_m, told, miss * plate.c_px / now.c_px)


def lens_height_m(made: StoodAgain, rng: np.random.Generator) -> float:
    """Return how high the photograph's lens stood, as a tape has it [m]."""
    under = made.now_world.mesh.surface_m(made.now_m[:1], made.now_m[1:2])[0]
    return float(made.now_m[2] - under + rng.normal(0.0, TAPE_SD_M))


def marks_by_hand(
    x: np.ndarray, y: np.ndarray, true: np.ndarray, rng: np.random.Generator
) -> HandMarks:
    """Return marks of a person who takes three near things for each far one."""
    low = y > np.median(y)
    near = rng.choice(np.flatnonzero(low), 3 * HAND_MARKS // 4, replace=False)
    far = rng.choice(np.flatnonzero(~low), HAND_MARKS // 4, replace=False)
    which = np.concatenate((near, far))
    none = np.full(which.size, np.nan)
    off = rng.normal(0.0, HAND_SD_PX, (2, which.size, 2))
    return HandMarks(
        np.column_stack((x, y))[which] + off[0], true[which] + off[1], none, none
    )


def study(count: int = 60) -> list[Compared]:
    """Compare so many pairs; print each and what they tell together."""
    found: dict[bool, list[Compared]] = {False: [], True: []}
    refused = {False: 0, True: 0}
    for seed in range(1, count + 1):
        made = scene(seed)
        for by_hand in (False, True):
            try:
                one = compare(made, seed, by_hand=by_hand)
            except Exception as error:
                refused[by_hand] += 1
                print(seed, "by hand" if by_hand else "alone", "refused:", error)
                continue
            found[by_hand].append(one)
            sd = np.sqrt(np.diag(one.told.covariance_m2))
            print(
                seed, "by hand" if by_hand else "alone  ",
                "told" if one.told.told else "not told",
                f"true {np.round(one.truth_m, 2)} got {np.round(one.told.offset_m, 2)}",
                f"sd {np.round(sd, 2)}; off {one.off_m:.2f} m, {one.share:.0%};",
                f"miss {np.nanmedian(one.miss_px):.2f} px,",
                f"{np.mean(one.miss_px < GOOD_PX):.0%} under {GOOD_PX}", flush=True,
            )  # fmt: skip
    for by_hand, all_of in found.items():
        told = [one for one in all_of if one.told.told]
        if not told:
            continue
        # A chi-squared of three unknowns holds 9 in 10 within 6.25.
        held = np.mean([one.square < 6.25 for one in told])
        median = np.median([np.nanmedian(one.miss_px) for one in told])
        print(
            f"{'By hand too' if by_hand else 'Alone'}: {len(told)} of {count} told, "
            f"{refused[by_hand]} refused; off {np.median([o.off_m for o in told]):.2f} "
            f"m, {np.median([o.share for o in told]):.0%} in the median; "
            f"{np.mean([o.good for o in told]):.0%} within 20% or 0.3 m; the 90% "
            f"region holds {held:.0%}; miss {median:.2f} px in the median."
        )
    return found[False]


if __name__ == "__main__":
    study(*map(int, sys.argv[1:2]))
