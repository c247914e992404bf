"""Check what marks are said to tell: of the ground, of blunders, of their features."""

from __future__ import annotations

from dataclasses import replace
from types import ModuleType

import numpy as np
import pytest
import shapely

from wherestood.evidence.items import Evidence, Feature, InLine, Order, gather
from wherestood.fix.answers import answer_for
from wherestood.fix.cells import score_cells
from wherestood.fix.posterior import Place, find_places, posterior_of
from wherestood.fix.problem import Problem, set_up
from wherestood.fix.search import _worth_a_look, first_cells, search
from wherestood.fix.settings import LocateSettings
from wherestood.fix.told import items_told, marks_log_odds
from wherestood.progress import SILENT

SETTINGS = LocateSettings(surface="ground", reversed=False)
#: Marks that say this much [log] stand out; at random they say less than a nat.
STANDS_OUT = 5.0
MARKS = 6
NEAR_M = 25.0


@pytest.fixture(scope="module")
def set_up_with(plate, land, area_of, marked: ModuleType):
    """Return the function that sets up a search about the invented station."""
    east_m, north_m = marked.STATION_M
    square = shapely.box(
        east_m - 330.0, north_m - 270.0, east_m + 270.0, north_m + 330.0
    )

    def made(evidence: Evidence, skyline=None) -> Problem:
        return set_up(plate, land, skyline, area_of(land, square), SETTINGS, evidence)

    return made


@pytest.fixture(scope="module")
def six(land, marked: ModuleType) -> Evidence:
    evidence = marked.evidence_of(land)
    return replace(evidence, marks=evidence.marks[:MARKS])


def answered(problem: Problem):
    posterior = posterior_of(search(problem, SILENT), 0.0)
    (place, *_) = find_places(posterior, SETTINGS.near_enough_m, 2)
    return posterior, place


def moved_at_random(evidence: Evidence, seed: int) -> Evidence:
    x_px, y_px = np.random.default_rng(seed).uniform((0, 0), (1200, 900), (MARKS, 2)).T
    marks = tuple(
        replace(mark, x_px=float(x_px[n]), y_px=float(y_px[n]))
        for n, mark in enumerate(evidence.marks)
    )
    return replace(evidence, marks=marks)


def test_six_good_marks_tell_of_this_ground(set_up_with, six) -> None:
    problem = set_up_with(six)
    found = marks_log_odds(problem, *answered(problem))
    assert found > STANDS_OUT


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_marks_at_random_tell_nothing(set_up_with, six, seed: int) -> None:
    problem = set_up_with(moved_at_random(six, seed))
    found = marks_log_odds(problem, *answered(problem))
    assert found < 1.0


def test_without_marks_nothing_is_told(set_up_with, make_cells) -> None:
    posterior = posterior_of(make_cells(np.zeros(1), np.zeros(1), 20.0, np.zeros(1)))
    place = Place(0.0, 0.0, 1.0, np.array([0]))
    assert marks_log_odds(set_up_with(Evidence()), posterior, place) == 0.0


def test_a_mark_on_a_line_names_the_line(set_up_with, land, marked, six) -> None:
    ends = np.array([[400.0, 100.0], [500.0, 250.0]]) + np.array(marked.STATION_M)
    lon, lat = land.frame.to_lonlat(ends[:, 0], ends[:, 1])
    road = Feature(shapely.LineString(np.column_stack((lon, lat))), id="road", sd_m=5.0)
    # Along a line there are more points than features: the last of them is it too.
    on_road = replace(six.marks[0], features=("road",), id="on the road")
    problem = set_up_with(
        replace(six, features=(*six.features, road), marks=(*six.marks, on_road))
    )
    posterior, place = answered(problem)
    told = {
        item.id: item
        for item in items_told(problem, answer_for(problem, posterior, place))
    }
    assert told["on the road"].feature == "road"
    assert told["mark 1"].feature == "thing 1"


def in_line_through(land, marked: ModuleType, aside_m: float = 0.0) -> Evidence:
    """Return two things in line as seen from the station, or from beside it."""
    turn = np.radians(marked.BEARING_DEG)
    ahead, right = (
        np.array([np.sin(turn), np.cos(turn)]),
        np.array([np.cos(turn), -np.sin(turn)]),
    )
    features = []
    for name, away_m in (("spire", 500.0), ("crag", 2000.0)):
        at = np.array(marked.STATION_M) + away_m * ahead + aside_m * right
        lon, lat = land.frame.to_lonlat(at[:1], at[1:])
        features.append(Feature((float(lon[0]), float(lat[0])), id=name, sd_m=3.0))
    return gather([InLine(*features, id="spire under crag")])


def test_first_cells_are_pruned_and_the_true_one_is_kept(
    set_up_with, land, marked
) -> None:
    problem = set_up_with(in_line_through(land, marked))
    shape = problem.area.in_frame(problem.terrain.frame)
    east, north, _, side = first_cells(shape)
    worth = _worth_a_look(problem, east, north, side)
    off_m = np.maximum(
        np.abs(east - marked.STATION_M[0]), np.abs(north - marked.STATION_M[1])
    )
    assert worth[off_m <= side].all()
    assert set_up_with(Evidence()).free is None
    assert _worth_a_look(set_up_with(Evidence()), east, north, side).all()


def test_distrusted_items_prune_nothing_and_sure_ones_much(
    set_up_with, land, marked
) -> None:
    known = in_line_through(land, marked)
    sure = replace(known, in_lines=(replace(known.in_lines[0], trust=1.0),))
    shares = []
    for evidence in (known, sure):
        problem = set_up_with(evidence)
        east, north, _, side = first_cells(problem.area.in_frame(problem.terrain.frame))
        shares.append(_worth_a_look(problem, east, north, side).mean())
    assert shares[0] == 1.0
    assert shares[1] < 0.6


def test_an_in_line_moves_probability_to_its_line(set_up_with, land, marked) -> None:
    turn = np.radians(marked.BEARING_DEG)
    right = np.array([np.cos(turn), -np.sin(turn)])
    east_m, north_m = (
        marked.STATION_M[axis] + np.array([-200.0, 0.0, 200.0]) * right[axis]
        for axis in (0, 1)
    )
    for aside_m, likeliest in ((0.0, 1), (200.0, 2)):
        problem = set_up_with(in_line_through(land, marked, aside_m))
        cells = score_cells(problem, east_m, north_m, NEAR_M, np.ones(3), SILENT)
        share = np.exp(cells.log_density - np.logaddexp.reduce(cells.log_density))
        assert np.argmax(share) == likeliest
        assert share[likeliest] > 0.8


def test_an_order_halves_the_ground_along_its_line(set_up_with, land, marked) -> None:
    known = in_line_through(land, marked)
    order = replace(
        known, in_lines=(), orders=(Order("spire", "crag", id="left", touching=True),)
    )
    problem = set_up_with(order)
    turn = np.radians(marked.BEARING_DEG)
    # The nearer thing stands left of the farther from the right of their line.
    east_m, north_m = (
        marked.STATION_M[axis] + np.array([-150.0, 150.0]) * part
        for axis, part in ((0, np.cos(turn)), (1, -np.sin(turn)))
    )
    cells = score_cells(problem, east_m, north_m, NEAR_M, np.ones(2), SILENT)
    assert cells.log_density[1] > cells.log_density[0] + 2.0
