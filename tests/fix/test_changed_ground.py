"""Check that a plate sees the ground of its own years, on ground heaped up by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from wherestood.evidence.items import ChangedGround, Evidence
from wherestood.evidence.unknowns import COUNT, UNKNOWN_M
from wherestood.fix.answers import Chosen
from wherestood.fix.leaning import told_of_changed_ground
from wherestood.fix.problem import set_up
from wherestood.fix.settings import LocateSettings

LOOKING_NORTH = np.zeros(COUNT)  # and c as long as the diagonal: 45 deg wide
STATION_M = np.array((10.0, 10.0))
ONE_MILLIMETRE = 1e-3
#: A heap 800 m wide whose near side is 1.8 km off takes this share of a picture that is
#: 0.8 of its diagonal, and so of the principal distance, wide.
HEAP_SHARE = 800.0 / 1800.0 / 0.8
A_FEW_DIRECTIONS = 0.03


@pytest.fixture
def setting(plate, land, wavy_skyline, area_of):
    """Return the function that sets up a search on a plain with a ridge far off."""
    at_m = np.arange(-80, 81) * 50.0
    _, north = np.meshgrid(at_m, at_m)
    heights_m = np.where((north >= 2950) & (north <= 3050), 300.0, 100.0)
    plain = replace(land, elevation_m=heights_m.astype(np.float32))
    area = area_of(land, shapely.box(-500.0, -500.0, 500.0, 500.0))

    def lonlat(points):
        return np.column_stack(land.frame.to_lonlat(points[:, 0], points[:, 1]))

    def made(change, date="1875", box_m=(-400.0, 1800.0, 400.0, 2200.0), **values):
        shape = shapely.transform(shapely.box(*box_m), lonlat)
        item = ChangedGround(shape, change, id="heap", **values)
        return set_up(
            plate,
            plain,
            wavy_skyline,
            area,
            LocateSettings(surface="ground", horizon_radius_m=3500.0),
            Evidence(changed_ground=(item,), date=date),
        )

    return made


def told(problem):
    cell_m = np.array((*STATION_M, 101.5))
    chosen = Chosen(None, None, LOOKING_NORTH, 0, cell_m)
    (only,) = told_of_changed_ground(problem, chosen)
    return only


def middle_profile(problem):
    east_m, north_m = STATION_M[:, None]
    return problem.profiles(east_m, north_m).table[0, 0]


def test_a_heap_that_was_not_yet_there_changes_nothing(setting) -> None:
    problem = setting("raise", by_m=200.0, existed_from="1900")
    assert problem.terrain is problem.then.before
    found = told(problem)
    assert (found.chance, found.skyline_share, found.under_station) == (0.0, 0.0, False)


def test_a_heap_that_was_there_makes_the_horizon(setting) -> None:
    problem = setting("raise", by_m=300.0, sd_m=1.0, existed_to="1900", trust=1.0)
    profile = middle_profile(problem)
    # Its near foot is 1790 m off and the top 298.5 m above the lens.
    assert profile[0] == pytest.approx(298.5 / 1790.0, rel=0.02)
    found = told(problem)
    assert found.chance == 1.0
    assert found.skyline_share == pytest.approx(HEAP_SHARE, abs=A_FEW_DIRECTIONS)
    assert not found.under_station


def test_a_fix_leans_on_a_hill_that_is_taken_away_as_much(setting) -> None:
    """The far ridge is seen where today's ground would hide it."""
    there = setting("raise", by_m=300.0, existed_to="1900")
    gone = setting(
        "lower",
        by_m=190.0,
        existed_to="1900",
        box_m=(-400.0, 2900.0, 400.0, 3100.0),
    )
    assert told(there).skyline_share > 0.1
    assert told(gone).skyline_share > 0.1


def test_a_heap_that_may_have_been_there_counts_for_nothing(setting) -> None:
    sure = setting("raise", by_m=300.0, sd_m=1.0, existed_to="1900", trust=1.0)
    perhaps = setting("raise", by_m=300.0, sd_m=1.0, existed_to="1870/1880", trust=1.0)
    assert middle_profile(sure)[2] < UNKNOWN_M
    assert middle_profile(perhaps)[2] == UNKNOWN_M
    assert 0.0 < told(perhaps).chance < 1.0


def test_a_doubtful_height_widens_the_doubt_of_the_horizon(setting) -> None:
    """With 8 m beside the usual 6 m its error counts from 0.6 of the distance."""
    narrow, wide = (
        middle_profile(
            setting("raise", by_m=300.0, sd_m=sd_m, existed_to="1900", trust=1.0)
        )
        for sd_m in (0.01, 8.0)
    )
    assert wide[0] == pytest.approx(narrow[0], abs=1e-6)
    assert wide[2] / narrow[2] == pytest.approx(0.6, rel=0.02)


def test_a_camera_on_changed_ground_is_said_and_stands_on_it(setting) -> None:
    problem = setting(
        "raise",
        by_m=30.0,
        sd_m=5.0,
        existed_to="1900",
        trust=1.0,
        box_m=(-800.0, -800.0, 800.0, 800.0),
    )
    assert told(problem).under_station
    ground, sd = problem.maker.heights(*STATION_M[:, None])
    assert ground[0] == pytest.approx(130.0, abs=ONE_MILLIMETRE)
    assert sd[0] == pytest.approx(math.hypot(3.5, 5.0, 0.3), abs=0.1)


def test_trees_lift_the_horizon_and_no_camera(setting) -> None:
    problem = setting(
        "cover",
        cover_then_m=28.0,
        existed_to="1900",
        box_m=(-4000.0, -4000.0, 4000.0, 4000.0),
    )
    ground, _ = problem.maker.heights(*STATION_M[:, None])
    assert ground[0] == pytest.approx(100.0, abs=ONE_MILLIMETRE)
    # 8 m of trees are allowed for everywhere: 20 m more.
    rise_m = problem.terrain.elevation_m - problem.then.before.elevation_m
    assert np.abs(rise_m[5:-5, 5:-5] - 20.0).max() < ONE_MILLIMETRE


def test_an_outline_between_the_nodes_is_said_to_change_nothing(setting) -> None:
    problem = setting("raise", by_m=9.0, box_m=(10.0, 10.0, 20.0, 20.0))
    assert told(problem).reached == 0
    before = problem.then.before
    assert np.array_equal(problem.terrain.elevation_m, before.elevation_m)
