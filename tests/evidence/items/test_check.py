from __future__ import annotations

import numpy as np
import pytest
import shapely

from wherestood.evidence.items import (
    Evidence,
    Feature,
    InLine,
    Mark,
    Order,
    Plan,
    PlumbEdge,
    Seen,
    Statement,
    check_evidence,
)

A, B, C = (Feature((8.5 + 0.01 * i, 46.1), id=name) for i, name in enumerate("abc"))
FEATURES = (A, B, C)


def test_good_evidence_is_kept_whole() -> None:
    given = Evidence(
        features=FEATURES,
        marks=(Mark(5.0, 6.0, "a", id="A"),),
        in_lines=(InLine("A", "b"),),
        orders=(Order("a", "b"), Order("b", "c"), Order("b", "a", relation="above")),
    )
    checked = check_evidence(given, width_px=10, height_px=10)
    assert checked.evidence == given
    assert checked.complaints == ()


def test_repeated_id_keeps_the_first() -> None:
    again = Feature((9.0, 47.0), id="a")
    checked = check_evidence(Evidence(features=(A, again), seen=(Seen("a", id="a"),)))
    assert checked.evidence.features == (A,)
    assert checked.evidence.seen == ()
    assert [(c.kind, c.item) for c in checked.complaints] == [
        ("feature", "a"),
        ("seen", "a"),
    ]


def test_reference_to_nothing_is_left_out_with_a_suggestion() -> None:
    chimney = Feature((8.5, 46.1), id="chimney")
    checked = check_evidence(
        Evidence(features=(chimney, B), in_lines=(InLine("chimny", "b"),))
    )
    assert checked.evidence.in_lines == ()
    (complaint,) = checked.complaints
    assert "'chimny'" in complaint.problem
    assert complaint.remedy == "Did you mean 'chimney'?"


def test_what_refers_to_a_thing_left_out_goes_too() -> None:
    lost = Feature((8.5, 46.1), id="lost", plan="no such plan")
    checked = check_evidence(
        Evidence(
            features=(lost, B),
            marks=(Mark(1.0, 1.0, "lost", id="A"),),
            in_lines=(InLine("A", "b", id="line"),),
            seen=(Seen("b", id="kept"),),
        )
    )
    assert [item.id for item in checked.evidence.items()] == ["kept"]
    assert {c.item for c in checked.complaints} == {"lost", "A", "line"}


def test_orders_in_a_circle_are_named_together_and_the_closing_one_left_out() -> None:
    orders = (
        Order("a", "b", id="one"),
        Order("b", "c", id="two"),
        Order("a", "c", relation="right of", id="three"),
        Order("a", "c", relation="below", id="apart"),
    )
    checked = check_evidence(Evidence(features=FEATURES, orders=orders))
    assert [order.id for order in checked.evidence.orders] == ["one", "two", "apart"]
    (complaint,) = checked.complaints
    assert complaint.item == "three"
    assert "'one', 'two'" in complaint.problem


def test_marks_outside_the_scan_are_left_out() -> None:
    checked = check_evidence(
        Evidence(
            features=FEATURES,
            marks=(Mark(5.0, 5.0, "a", id="in"), Mark(11.0, 5.0, "b", id="out")),
            plumb_edges=(PlumbEdge(((1.0, 1.0), (1.0, -2.0)), id="edge"),),
        ),
        width_px=10,
        height_px=10,
    )
    assert [mark.id for mark in checked.evidence.marks] == ["in"]
    assert {c.item for c in checked.complaints} == {"out", "edge"}
    assert "10 x 10 px" in str(checked.complaints[0])


def test_features_off_the_terrain_serve_where_only_bearings_matter() -> None:
    off = Feature((20.0, 46.1), id="off")
    high = Feature((20.0, 46.1), id="high", height_m=900.0)

    def has_height(lon_deg: np.ndarray, lat_deg: np.ndarray) -> np.ndarray:
        return np.asarray((lon_deg < 10.0) & (lat_deg > 0.0))

    checked = check_evidence(
        Evidence(
            features=(*FEATURES, off, high),
            marks=(Mark(1.0, 1.0, "off", id="A"), Mark(1.0, 1.0, "high", id="B")),
            in_lines=(InLine("off", "a", id="line"),),
            orders=(Order("off", "a", relation="above", id="above"),),
            seen=(Seen("off", id="seen"),),
        ),
        has_height=has_height,
    )
    assert [item.id for item in checked.evidence.items()] == ["B", "line"]
    (complaint,) = checked.complaints
    assert complaint.item == "off"
    assert not complaint.dropped
    for name in ("'A'", "'above'", "'seen'"):
        assert name in complaint.remedy


def test_statement_inside_a_line_is_left_out() -> None:
    road = Feature(shapely.LineString([(8.5, 46.1), (8.6, 46.1)]), id="road")
    checked = check_evidence(
        Evidence(features=(road,), statements=(Statement("road", "inside", id="s"),))
    )
    assert checked.evidence.statements == ()
    assert "no inside" in checked.complaints[0].problem


def test_unknown_origin_is_named_and_the_item_kept() -> None:
    seen = Seen("a", id="s", derived_from=("captoin",))
    caption = Statement("a", "within", id="caption")
    checked = check_evidence(
        Evidence(features=(A,), seen=(seen,), statements=(caption,))
    )
    assert checked.evidence.seen == (seen,)
    (complaint,) = checked.complaints
    assert complaint.remedy == "Did you mean 'caption'?"
    assert not complaint.dropped


@pytest.mark.parametrize("dropped", [True, False])
def test_features_of_a_known_plan_are_kept(dropped: bool) -> None:
    plans = () if dropped else (Plan(5.0, id="p"),)
    feature = Feature((8.5, 46.1), id="f", plan="p")
    checked = check_evidence(Evidence(plans=plans, features=(feature,)))
    assert bool(checked.complaints) == dropped
