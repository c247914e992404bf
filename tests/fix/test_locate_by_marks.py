"""Check whole searches by marks: alone, against one another, beside a skyline."""

from __future__ import annotations

from dataclasses import replace
from types import ModuleType

import numpy as np
import pytest
import shapely
from scipy.ndimage import gaussian_filter1d

from wherestood.evidence.items import Evidence, InLine
from wherestood.fix.locate import locate
from wherestood.fix.problem import set_up
from wherestood.fix.result import Fix
from wherestood.fix.settings import LocateSettings
from wherestood.plate.skyline import Skyline

SETTINGS = LocateSettings(surface="ground", reversed=False, horizon_radius_m=6000.0)


@pytest.fixture(scope="module")
def area(land, area_of, marked: ModuleType):
    """Return 500 m by 500 m, the station well off its middle."""
    east_m, north_m = marked.STATION_M
    return area_of(
        land,
        shapely.box(east_m - 300.0, north_m - 200.0, east_m + 200.0, north_m + 300.0),
    )


@pytest.fixture(scope="module")
def searched(plate, land, area):
    def made(evidence: Evidence, skyline: Skyline | None = None) -> Fix:
        return locate(plate, land, skyline, area, settings=SETTINGS, evidence=evidence)

    return made


@pytest.fixture(scope="module")
def truth(land, marked: ModuleType) -> shapely.Point:
    return shapely.Point(*map(float, land.frame.to_lonlat(*marked.STATION_M)))


@pytest.fixture(scope="module")
def skyline(plate, land, area, marked: ModuleType) -> Skyline:
    """Return the hills' skyline, trees on it, as the invented camera draws it.

    Without any error a skyline would speak for far hills: none is so well foretold.
    """
    station = [np.array([part]) for part in marked.STATION_M]
    maker = set_up(plate, land, None, area, SETTINGS).maker
    profile = maker.make(*station).table[0]
    trees_m = np.random.default_rng(4).normal(0.0, 4.0, len(profile))
    trees_m = 8.0 + gaussian_filter1d(trees_m, 4.0, mode="wrap") * 4.0
    tangent = profile[:, 0] + trees_m / profile[:, 1]
    bearing = np.radians(marked.BEARING_DEG + np.linspace(-30.0, 30.0, 1201))
    every = np.arange(len(tangent) + 1) * (2.0 * np.pi / len(tangent))
    up = np.interp(bearing, every, np.append(tangent, tangent[0]))
    x_px, y_px = marked.camera().project(
        np.column_stack((np.sin(bearing), np.cos(bearing), up))
    )
    columns = np.arange(5.0, plate.width_px - 5.0, 4.0)
    return Skyline(
        columns,
        np.interp(columns, x_px, y_px),
        np.ones(columns.size),
        plate.width_px,
        plate.height_px,
        np.zeros(columns.size, dtype=bool),
    )


def region_m2(fix: Fix, share: float = 0.9) -> float:
    metres = 111_000.0**2 * np.cos(np.radians(fix.station.lat_deg))
    return fix.regions[share].area * metres


def test_marks_alone_locate_a_plate_without_a_skyline(
    searched, land, marked, truth
) -> None:
    fix = searched(marked.evidence_of(land))
    assert fix.verdict == "located"
    assert fix.regions[0.9].buffer(1e-9).contains(truth)
    assert fix.camera.grid_bearing_deg == pytest.approx(
        marked.BEARING_DEG, abs=3.0 * fix.camera.sd["bearing_deg"]
    )
    assert {item["kind"] for item in fix.evidence} == {"mark"}


@pytest.mark.parametrize("seed", [1, 2])
def test_marks_at_random_locate_nothing(searched, land, marked, seed: int) -> None:
    evidence = marked.evidence_of(land)
    drawn = np.random.default_rng(seed).uniform((0, 0), (1200, 900), (7, 2))
    marks = tuple(
        replace(mark, x_px=float(x), y_px=float(y))
        for mark, (x, y) in zip(evidence.marks, drawn, strict=True)
    )
    assert searched(replace(evidence, marks=marks)).verdict == "not determined"


def test_marks_against_an_in_line_from_elsewhere_are_not_moved_by_it(
    searched, land, marked, truth
) -> None:
    evidence = marked.evidence_of(land)
    # Thing 1 stands 210 m right of the axis, thing 5 700 m left: never in line here.
    wrong = InLine("thing 1", "thing 5", id="wrong")
    fix = searched(replace(evidence, in_lines=(wrong,)))
    odds = {item["id"]: item["blunder_log_odds"] for item in fix.evidence}
    assert max(odds, key=lambda name: odds[name]) == "wrong"
    assert odds["wrong"] > 0.0
    assert fix.regions[0.99].buffer(1e-9).contains(truth)


def test_three_marks_beside_a_skyline_narrow_the_ground(
    searched, land, marked, truth, skyline, fewer_trials
) -> None:
    evidence = marked.evidence_of(land)
    three = replace(evidence, marks=evidence.marks[:3])
    with fewer_trials():
        sky, marks = searched(Evidence(), skyline), searched(three)
        both = searched(three, skyline)
    for fix in (sky, marks, both):
        assert fix.regions[0.99].buffer(1e-9).contains(truth)
    assert region_m2(both) < region_m2(marks)
    assert region_m2(both) < 0.1 * region_m2(sky)
