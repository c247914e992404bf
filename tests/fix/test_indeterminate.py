"""Check that stations which angles hardly fix are flagged, and others are not.

SOURCE of the near-danger-circle case: computed for the three-point resection of
`tests/reference/test_against_three_point_resection.py`: A (0, 0), B (4000, 6000),
C (10000, 1000), P (5000, -4000); P lies 17.7 m from the circle through A, B and C.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from wherestood.earth.frame import Frame
from wherestood.evidence.items import Evidence, Feature, InLine, Mark, gather
from wherestood.fix.locate import locate
from wherestood.fix.result import Fix
from wherestood.fix.settings import LocateSettings
from wherestood.terrain.model import Terrain

SETTINGS = LocateSettings(surface="ground", reversed=False)
CORNERS = {"A": (0.0, 0.0), "B": (4000.0, 6000.0), "C": (10_000.0, 1000.0)}
STATION_M = (5000.0, -4000.0)
ANGLES_DEG = (45.629599, 50.710593)
FROM_CIRCLE_M = 17.7
#: The answer's own station lies within some metres of P.
WITHIN_M = 15.0


@pytest.fixture(scope="module")
def plain() -> Terrain:
    """Return level ground, 20 km across."""
    return Terrain(
        np.full((401, 401), 100.0, dtype=np.float32),
        -5000.0,
        -10_000.0,
        50.0,
        Frame.local(-27.5, 41.2),
        "ground",
        50.0,
    )


def feature(land: Terrain, name: str, at: tuple[float, float]) -> Feature:
    lon, lat = land.frame.to_lonlat(np.array([at[0]]), np.array([at[1]]))
    return Feature((float(lon[0]), float(lat[0])), id=name, sd_m=0.5, height_m=100.0)


def by_angles(plate, land: Terrain, area_of, station, angles_deg) -> Fix:
    a, b, c = (feature(land, name, at) for name, at in CORNERS.items())
    east, north = station
    return locate(
        plate,
        land,
        None,
        area_of(
            land,
            shapely.box(east - 250.0, north - 250.0, east + 250.0, north + 250.0),
        ),
        settings=SETTINGS,
        evidence=gather(
            [
                InLine(a, b, left_deg=angles_deg[0], sd_deg=0.01),
                InLine(b, c, left_deg=angles_deg[1], sd_deg=0.01),
            ]
        ),
    )


def test_a_station_near_the_danger_circle_is_flagged(plate, plain, area_of) -> None:
    found = by_angles(plate, plain, area_of, STATION_M, ANGLES_DEG)
    told = found.checks.indeterminate
    assert told is not None
    assert told.on_circle == ("A", "B", "C")
    assert told.near_circle_m == pytest.approx(FROM_CIRCLE_M, abs=WITHIN_M)
    # Along the circle, which at its foot runs east and west.
    assert abs(told.grid_bearing_deg - 90.0) < 10.0
    assert told.long_m > 20.0 * told.short_m


def test_a_station_well_inside_the_triangle_is_not(plate, plain, area_of) -> None:
    station = (4600.0, 2200.0)
    bearings = [
        np.degrees(np.arctan2(e - station[0], n - station[1]))
        for e, n in CORNERS.values()
    ]
    first, second = np.diff(bearings) % 360.0
    found = by_angles(
        plate,
        plain,
        area_of,
        station,
        (first, second if second < 180 else second - 360),
    )
    assert found.checks.indeterminate is None


def test_marks_almost_in_one_direction_are_flagged(
    plate, land, area_of, marked
) -> None:
    ahead = np.array([500.0, 900.0, 1300.0, 1700.0, 2100.0])
    aside = 0.03 * ahead * np.array([1.0, -1.0, 0.5, -0.5, 0.2])
    turn = np.radians(marked.BEARING_DEG)
    things = np.column_stack((ahead, aside, np.full(5, 15.0)))
    before = marked.THINGS
    try:
        marked.THINGS = tuple(map(tuple, things))
        evidence: Evidence = marked.evidence_of(land)
    finally:
        marked.THINGS = before
    east, north = marked.STATION_M
    # Heights hardly known: what is left are the directions.
    features = tuple(replace(one, height_sd_m=60.0) for one in evidence.features)
    found = locate(
        plate,
        land,
        None,
        area_of(
            land,
            shapely.box(east - 300.0, north - 300.0, east + 300.0, north + 300.0),
        ),
        settings=SETTINGS,
        evidence=replace(evidence, features=features),
    )
    told = found.checks.indeterminate
    assert told is not None
    assert told.one_way_deg < 5.0
    assert abs(told.grid_bearing_deg - np.degrees(turn)) < 10.0


def test_marks_spread_over_the_picture_are_not(plate, land, area_of, marked) -> None:
    east, north = marked.STATION_M
    found = locate(
        plate,
        land,
        None,
        area_of(
            land,
            shapely.box(east - 300.0, north - 300.0, east + 300.0, north + 300.0),
        ),
        settings=SETTINGS,
        evidence=marked.evidence_of(land),
    )
    assert found.checks.indeterminate is None
    assert isinstance(marked.evidence_of(land).marks[0], Mark)
