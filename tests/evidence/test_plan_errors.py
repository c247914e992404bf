"""All corners of one sheet move together, and a fix knows.

SOURCE: synthetic truth: sheets pinned by six pins that are each some metres off, the
corners of the foreground read on them, and the camera found by marks on those corners.
"""

from __future__ import annotations

import importlib.util
import sys
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from scipy.stats import binom

from wherestood.evidence.items import Evidence, Feature, Mark, Plan
from wherestood.evidence.mark_table import MarkTable
from wherestood.evidence.placed import place_evidence
from wherestood.plans import Pins, pin_sheet
from wherestood.plans.error_parts import PartsForCamera, parts_for_camera

SHEETS = 100
PIN_SD_M, DRAWN_SD_M = 8.0, 0.3
METRES_PER_PX = 0.25
#: The 90% point of a plane's normal scatter, squared.
NINE_IN_TEN = -2.0 * np.log(0.1)
PINS_PX = np.array(
    [[100, 100], [2300, 150], [2250, 1700], [150, 1650], [1200, 300], [700, 1400]],
    dtype=float,
)


@pytest.fixture(scope="module")
def marks() -> ModuleType:
    """Return the tests of marks, whose invented camera looks over the sheet."""
    path = Path(__file__).with_name("test_mark_rows.py")
    spec = importlib.util.spec_from_file_location("marks_of_plans", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["marks_of_plans"] = module
    spec.loader.exec_module(module)
    return module


@dataclass
class Found:
    """Count cameras inside their own regions, and how large those are [m]."""

    inside: int = 0
    sd_m: float = 0.0


def corners() -> np.ndarray:
    """Return corners 70 to 330 m before the camera [m]."""
    along = np.linspace(70.0, 330.0, 14)
    aside = along * np.random.default_rng(5).uniform(-0.35, 0.35, 14)
    return np.column_stack([along, aside, np.linspace(0.0, 4.0, 14)])


def station(
    marks: ModuleType, places: np.ndarray, parts: PartsForCamera
) -> tuple[np.ndarray, np.ndarray]:
    """Find the camera by marks on corners; return its error and covariance."""
    true = corners()
    x_px, y_px = marks.pixels(marks.TRUTH, true.copy())
    lon, lat = marks.FRAME.to_lonlat(places[:, 0], places[:, 1])
    shares = parts.shared_m > 0.0
    plans = (Plan(id="sheet", shared_shift_sd_m=parts.shared_m),) if shares else ()
    features = tuple(
        Feature(
            (float(lon[i]), float(lat[i])), id=f"f{i}", sd_m=float(parts.own_m[i]),
            height_m=float(true[i, 2]), height_sd_m=0.3,
            plan="sheet" if shares else None,
        )
        for i in range(len(true))
    )  # fmt: skip
    seen = tuple(
        Mark(float(x_px[i]), float(y_px[i]), f"f{i}", id=f"m{i}", sd_px=2.0)
        for i in range(len(true))
    )
    evidence = Evidence(marks=seen, features=features, plans=plans)
    table = MarkTable.of(
        evidence.marks,
        place_evidence(evidence, marks.FRAME),
        marks.WIDTH_PX,
        marks.HEIGHT_PX,
    )
    _, theta, covariance = marks.climb(table, marks.away(0.5), rounds=12)
    return theta[-2:] - marks.STATION_M, covariance[-2:, -2:]


@pytest.fixture(scope="module")
def found(marks: ModuleType) -> dict[str, Found]:
    """Find a camera on every sheet, with errors shared and as if independent."""
    rng = np.random.default_rng(3)
    counts = {"shared": Found(), "independent": Found()}
    true = corners()[:, :2]
    origin_m, scale = np.array([20.0, 225.0]), METRES_PER_PX * np.array([1.0, -1.0])
    for _ in range(SHEETS):
        on_ground = PINS_PX * scale + origin_m
        pins = Pins.of(
            PINS_PX + rng.normal(0.0, 1.0, PINS_PX.shape),
            on_ground + rng.normal(0.0, PIN_SD_M, PINS_PX.shape),
            sheet_sd_px=1.0,
            ground_sd_m=PIN_SD_M,
        )
        pinning = pin_sheet(pins, "affine")
        at_px = (true - origin_m) / scale
        places = pinning.to_ground(at_px) + rng.normal(0.0, DRAWN_SD_M, true.shape)
        shared = parts_for_camera(pinning, list(at_px[:, None]), DRAWN_SD_M)
        whole = np.hypot(pinning.sd_m(at_px), DRAWN_SD_M)
        for name, parts in (
            ("shared", shared),
            ("independent", PartsForCamera(0.0, whole)),
        ):
            off, spread = station(marks, places, parts)
            held = off @ np.linalg.solve(spread, off) <= NINE_IN_TEN
            counts[name].inside += bool(held)
            counts[name].sd_m += float(np.sqrt(np.trace(spread) / 2.0)) / SHEETS
    return counts


def test_region_of_a_camera_found_by_one_sheet_holds_it(
    found: dict[str, Found],
) -> None:
    low, high = binom.interval(0.99, SHEETS, 0.9)
    assert low <= found["shared"].inside <= high


def test_corners_taken_for_independent_are_overconfident(
    found: dict[str, Found],
) -> None:
    low, _ = binom.interval(0.99, SHEETS, 0.9)
    assert found["independent"].inside < low - 5
    assert found["independent"].sd_m < 0.85 * found["shared"].sd_m
