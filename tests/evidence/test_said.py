from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely.geometry.base import BaseGeometry

from wherestood.earth.frame import Frame
from wherestood.evidence.dependence import repeats
from wherestood.evidence.items import Evidence, Feature, InLine, Mark, Order, Statement
from wherestood.evidence.said import hill_top, statement_area, weigh_statement
from wherestood.evidence.stations import Stations
from wherestood.terrain.model import Terrain

FRAME = Frame.local(8.5, 46.1)
GROUND = shapely.box(-1000.0, -1000.0, 1000.0, 1000.0)
#: Longitudes and latitudes go round the frame to this.
ONE_PART = 1e-6


def outside(geometry: BaseGeometry) -> BaseGeometry:
    def unproject(points: np.ndarray) -> np.ndarray:
        return np.column_stack(FRAME.to_lonlat(points[:, 0], points[:, 1]))

    moved: BaseGeometry = shapely.transform(geometry, unproject)
    return moved


def cells(side_m: float) -> Stations:
    """Return all cells of the ground searched."""
    middles = np.arange(-1000.0 + side_m / 2.0, 1000.0, side_m)
    east, north = (part.ravel() for part in np.meshgrid(middles, middles))
    return Stations(east, north, np.zeros(east.size), side_m=side_m)


@pytest.mark.parametrize("size_m", [7.0, 90.0, 400.0, 900.0])
@pytest.mark.parametrize("side_m", [25.0, 100.0])
def test_area_holds_its_weight_however_large_it_is_drawn(
    size_m: float, side_m: float
) -> None:
    area = shapely.Point(130.0, -210.0).buffer(size_m / 2.0)
    statement = Statement("hill", "within", weight=0.7)
    stations = cells(side_m)
    found = weigh_statement(statement, area, GROUND, stations)
    mass = np.exp(found.log_likelihood) * side_m**2 / GROUND.area
    assert mass.sum() == pytest.approx(1.0, abs=ONE_PART)
    inside = shapely.intersection(
        area,
        shapely.box(
            stations.east_m - side_m / 2,
            stations.north_m - side_m / 2,
            stations.east_m + side_m / 2,
            stations.north_m + side_m / 2,
        ),
    )
    held = shapely.area(inside) * 0.7 / area.area
    assert held.sum() == pytest.approx(0.7, abs=ONE_PART)
    assert (mass >= held - ONE_PART).all()


def test_words_that_leave_no_choice_say_nothing() -> None:
    statement = Statement("valley", "inside", weight=0.7)
    stations = cells(500.0)
    for area in (GROUND.buffer(10.0), shapely.Point(5000.0, 0.0).buffer(10.0)):
        found = weigh_statement(statement, area, GROUND, stations)
        np.testing.assert_array_equal(found.log_likelihood, 0.0)


def test_odds_that_words_are_wrong_are_those_of_the_place() -> None:
    area = shapely.box(0.0, -1000.0, 1000.0, 1000.0)
    stations = Stations(np.array([-5.0, 5.0]), np.zeros(2), np.zeros(2))
    found = weigh_statement(Statement("b", weight=0.8), area, GROUND, stations)
    np.testing.assert_array_equal(found.blunder, [1.0, 0.0])
    np.testing.assert_allclose(np.exp(found.log_likelihood), [0.4, 1.6], rtol=ONE_PART)


def test_along_a_road_reaches_to_either_side() -> None:
    road = Feature(outside(shapely.LineString([(-500, 0), (500, 0)])), id="r", sd_m=3.0)
    area = statement_area(Statement("r", "along", within_m=40.0), road, FRAME)
    reach_m = math.hypot(40.0, 3.0)
    expected = 1000.0 * 2.0 * reach_m + math.pi * reach_m**2
    assert area.area == pytest.approx(expected, rel=0.01)


def test_inside_is_the_outline_itself() -> None:
    yard = Feature(outside(shapely.box(0.0, 0.0, 100.0, 50.0)), id="y")
    area = statement_area(Statement("y", "inside"), yard, FRAME)
    assert area.area == pytest.approx(5000.0, rel=1e-4)


def cone() -> Terrain:
    """Return a cone of 100 m height and 45 degrees, with a lower one beside it."""
    rows, columns = np.mgrid[0:101, 0:101]
    north, east = rows * 10.0 - 500.0, columns * 10.0 - 500.0
    first = 100.0 - np.hypot(east, north)
    second = 95.0 - np.hypot(east - 250.0, north)
    heights = np.maximum(np.maximum(first, second), 0.0).astype(np.float32)
    return Terrain(heights, -500.0, -500.0, 10.0, FRAME)


def test_top_of_a_hill_is_the_ground_round_its_summit() -> None:
    top = hill_top(cone(), shapely.Point(20.0, 10.0), within_m=400.0, down_m=30.0)
    # A circle of 30 m, in cells of 10 m; the other summit is as high but apart.
    assert top.area == pytest.approx(math.pi * 30.0**2, rel=0.05)
    assert top.contains(shapely.Point(0.0, 0.0))
    assert not top.intersects(shapely.Point(250.0, 0.0))


def test_top_of_a_hill_without_terrain_is_a_circle() -> None:
    hill = Feature((8.5, 46.1), id="h", sd_m=1.0)
    statement = Statement("h", "on top of", within_m=100.0)
    with_terrain = statement_area(statement, hill, FRAME, cone())
    without = statement_area(statement, hill, FRAME)
    assert with_terrain.area < 0.1 * without.area
    assert without.area == pytest.approx(math.pi * 100.0**2, rel=0.01)


def test_copied_captions_count_once() -> None:
    statements = (
        Statement("a", "within", id="album"),
        Statement("a", "within", id="book", derived_from=("album",)),
        Statement("a", "within", id="web", derived_from=("book",)),
        Statement("a", "within", id="diary"),
    )
    found = repeats(Evidence(statements=statements))
    assert set(found) == {"book", "web"}


def test_of_items_derived_from_one_another_the_first_counts() -> None:
    statements = (
        Statement("a", "within", id="x", derived_from=("y",)),
        Statement("a", "within", id="y", derived_from=("x",)),
    )
    assert set(repeats(Evidence(statements=statements))) == {"y"}


def test_item_whose_origin_is_not_given_counts() -> None:
    copied = Statement("a", "within", id="book", derived_from=("lost album",))
    assert repeats(Evidence(statements=(copied,))) == {}


def test_relations_between_marks_only_repeat_them() -> None:
    evidence = Evidence(
        marks=(Mark(1.0, 1.0, "a", id="A"), Mark(2.0, 1.0, "b", id="B")),
        in_lines=(InLine("A", "B", id="both"), InLine("A", "c", id="one")),
        orders=(Order("B", "A", id="order"),),
    )
    assert set(repeats(evidence)) == {"both", "order"}


def test_ground_drawn_from_a_statement_is_not_evidence_again() -> None:
    caption = Statement("a", "within", id="caption")
    evidence = Evidence(statements=(caption,), ground_from=("caption",))
    assert set(repeats(evidence)) == {"caption"}
