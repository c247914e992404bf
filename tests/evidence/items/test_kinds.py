from __future__ import annotations

from collections.abc import Callable
from typing import get_args

import numpy as np
import pytest
import shapely

from wherestood.errors import EvidenceError
from wherestood.evidence.items import (
    CameraFacts,
    Feature,
    Hidden,
    Identity,
    InLine,
    Item,
    KnownDistance,
    KnownSize,
    Mark,
    Order,
    Plan,
    PlumbEdge,
    RidgeLine,
    SeaHorizon,
    SkylinePiece,
    Statement,
    WaterLevel,
    gather,
    line_through,
)
from wherestood.evidence.items import camera as camera_items
from wherestood.fix import settings

ENDS = ((10.0, 20.0), (10.0, 90.0))
BOW_TIE = shapely.Polygon([(0, 0), (1, 1), (1, 0), (0, 1)])
SQUARE = shapely.box(0.0, 0.0, 1.0, 1.0)


@pytest.mark.parametrize(
    ("make", "field"),
    [
        (lambda: Feature((8.5, 46.1), id="x", sd_m=0.0), "sd_m"),
        (lambda: Feature((8.5, 46.1), id="x", sd_m=-1.0), "sd_m"),
        (lambda: Feature((8.5, 46.1), id="x", sd_m=float("nan")), "sd_m"),
        (lambda: Feature(BOW_TIE, id="x"), "geometry"),
        (lambda: Feature((2_600_000.0, 1_200_000.0), id="x"), "geometry"),
        (lambda: Feature(shapely.Polygon(), id="x"), "geometry"),
        (lambda: Feature((8.5, 46.1), id="x", height_m=1e5), "height_m"),
        (
            lambda: Feature((8.5, 46.1), id="x", object_height_sd_m=1.0),
            "object_height_sd_m",
        ),
        (lambda: Plan(0.0, id="x"), "shared_shift_sd_m"),
        (lambda: Mark(1.0, 2.0, "a", sd_px=0.0, id="x"), "sd_px"),
        (lambda: Mark(float("nan"), 2.0, "a", id="x"), "x_px"),
        (lambda: Mark(1.0, 2.0, {"a": 0.0}, id="x"), "features"),
        (lambda: Mark(1.0, 2.0, ["a", "a"], id="x"), "features"),
        (lambda: Mark(1.0, 2.0, "a", at="side", id="x"), "at"),
        (lambda: InLine("a", "a", id="x"), "b"),
        (lambda: InLine("a", "b", sd_deg=0.0, id="x"), "sd_deg"),
        (
            lambda: InLine("a", "b", left_deg=1.0, left_widths=0.1, id="x"),
            "left_widths",
        ),
        (lambda: InLine("a", "b", gap_heights=0.1, id="x"), "gap_heights"),
        (lambda: Order("a", "b", relation="near", id="x"), "relation"),
        (lambda: Order("a", "a", id="x"), "b"),
        (lambda: Hidden("a", would_show=0.0, id="x"), "would_show"),
        (lambda: Hidden("a", trust=0.0, id="x"), "trust"),
        (lambda: KnownDistance("a", 0.0, 1.0, id="x"), "distance_m"),
        (lambda: KnownDistance("a", 10.0, -1.0, id="x"), "sd_m"),
        (lambda: PlumbEdge((ENDS[0], ENDS[0]), id="x"), "points_px"),
        (lambda: PlumbEdge((ENDS[0],), id="x"), "points_px"),
        (lambda: WaterLevel((), id="x"), "points_px"),
        (lambda: SeaHorizon(ENDS, height_sd_m=0.0, id="x"), "height_sd_m"),
        (lambda: KnownSize(ENDS, 0.0, 1.0, id="x"), "length_m"),
        (lambda: Statement("a", weight=1.0, id="x"), "weight"),
        (lambda: Statement("a", weight=0.0, id="x"), "weight"),
        (lambda: Statement(Feature((8.0, 46.0), id="a"), "inside", id="x"), "place"),
        (
            lambda: CameraFacts(principal_distance_mm=200.0, id="x"),
            "principal_distance_mm",
        ),
        (
            lambda: CameraFacts(
                principal_distance_least_mm=300.0,
                principal_distance_most_mm=200.0,
                id="x",
            ),
            "principal_distance_least_mm",
        ),
        (lambda: CameraFacts(footing="balloon", id="x"), "footing"),
    ],
)
def test_what_cannot_be_is_refused_by_name_with_a_remedy(
    make: Callable[[], Item], field: str
) -> None:
    with pytest.raises(EvidenceError) as refused:
        make()
    assert (refused.value.item, refused.value.field) == ("x", field)
    assert "'x'" in refused.value.problem
    assert refused.value.remedy


def test_crossing_outline_says_where_it_crosses() -> None:
    with pytest.raises(EvidenceError, match=r"0\.5 0\.5"):
        Feature(BOW_TIE, id="yard")


def test_items_without_an_id_are_told_apart() -> None:
    items = [
        InLine("a", "b"),
        Order("a", "b", relation="above"),
        Order("a", "b"),
        Mark(1.0, 2.0, "a"),
        Mark(1.0, 2.0, "a", at="top"),
        Mark(1.0, 2.0),
        PlumbEdge(ENDS),
        PlumbEdge((ENDS[1], ENDS[0])),
        Feature((8.5, 46.1)),
    ]
    names = [item.id for item in items]
    assert len(set(names)) == len(items)
    assert all(names)


def test_weights_of_an_uncertain_identity_add_up_to_one() -> None:
    mark = Mark(1.0, 2.0, {"horn": 3.0, "lesser horn": 1.0})
    weights = [identity.weight for identity in mark.identities]
    assert weights == [0.75, 0.25]


@pytest.mark.parametrize(
    ("relation", "first"),
    [("left of", "a"), ("right of", "b"), ("above", "a"), ("below", "b")],
)
def test_order_knows_which_is_first(relation: str, first: str) -> None:
    assert Order("a", "b", relation=relation).first == first


def test_statement_of_an_area_holds_its_inside() -> None:
    assert Statement(Feature(SQUARE, id="a"), "inside").reach_m == 0.0


def test_words_of_footing_and_process_are_those_of_the_search() -> None:
    assert get_args(camera_items.Footing) == get_args(settings.Footing)
    assert get_args(camera_items.Process) == get_args(settings.Process)


def test_gathering_finds_what_items_hold() -> None:
    plan = Plan(5.0, id="plan")
    chimney = Feature((8.5, 46.1), id="chimney", plan=plan)
    summit = Feature((8.6, 46.2), id="summit")
    line = line_through(((0.0, 5.0), (100.0, 7.0)), 2.0, 100, 80)
    found = gather(
        [
            InLine(chimney, summit),
            Mark(3.0, 4.0, [Identity(chimney, 2.0), summit], id="A"),
            Order(Mark(9.0, 9.0, summit, id="B"), chimney),
            line,
            RidgeLine(line),
        ],
        plate="one",
    )
    assert [feature.id for feature in found.features] == ["chimney", "summit"]
    assert found.feature("chimney").plan == "plan"
    assert found.plans == (plan,)
    assert [mark.id for mark in found.marks] == ["A", "B"]
    assert found.mark("A").identities[0].feature == "chimney"
    assert found.in_lines[0].a == "chimney"
    assert found.orders[0].a == "B"
    assert isinstance(found.skylines[0], SkylinePiece)
    assert len(found.ridge_lines) == 1


def test_gathering_refuses_what_is_no_evidence() -> None:
    with pytest.raises(EvidenceError, match="int"):
        gather([3])  # type: ignore[list-item]


def test_line_runs_through_its_points() -> None:
    line = line_through(((10.0, 50.0), (60.0, 40.0), (110.0, 60.0)), 2.0, 200, 100)
    assert np.interp(35.0, line.x_px, line.y_px) == pytest.approx(45.0)
    assert (line.x_px[0], line.x_px[-1]) == (10.0, 110.0)


@pytest.mark.parametrize(
    "points",
    [((0.0, 5.0),), ((5.0, 5.0), (4.0, 5.0)), ((0.0, 5.0), (300.0, 5.0))],
)
def test_line_that_cannot_be_is_refused(
    points: tuple[tuple[float, float], ...],
) -> None:
    with pytest.raises(EvidenceError):
        line_through(points, 2.0, 200, 100)
