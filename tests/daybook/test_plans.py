"""A plan is pinned, things are traced from it, and they move as its pins do."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from sqlalchemy import select

from wherestood.daybook import Daybook, find
from wherestood.daybook.change_items import add_item, change_item
from wherestood.daybook.plan_pins import pin_plan, pinned_plan
from wherestood.daybook.plan_traced import TracedThing, trace_plan
from wherestood.daybook.tables import Feature, JournalRow, Plan, Plate
from wherestood.daybook.tell_evidence import tell_evidence
from wherestood.daybook.undo import undo
from wherestood.earth.frame import Frame
from wherestood.errors import InputError, PlanError
from wherestood.plans.error_parts import parts_for_camera

ADA = "Ada Moss"
#: Seven decimals of a degree.
TWO_CENTIMETRES = 0.02
FRAME = Frame.local(8.5, 46.1)
CORNERS_PX = [[0, 0], [2000, 0], [2000, 1500], [0, 1500], [1000, 700]]


def pins(
    shift_m: tuple[float, float] = (0.0, 0.0), count: int = 5
) -> list[dict[str, Any]]:
    """Return pins of a sheet of half a metre a pixel, north up."""
    ground = np.array(CORNERS_PX) * [0.5, -0.5] + shift_m
    lon, lat = FRAME.to_lonlat(ground[:, 0], ground[:, 1])
    return [
        {"name": name, "x_px": x, "y_px": y, "lon_deg": float(e), "lat_deg": float(n),
         "sd_px": 1.0, "sd_m": 1.0}
        for name, (x, y), e, n in zip("ABCDE", CORNERS_PX, lon, lat, strict=True)
    ][:count]  # fmt: skip


FENCE = TracedThing("fence", "line", [[400, 300], [900, 800]], "surveyed")
CORNER = TracedThing("corner", "point", [[400, 300]], "sketched", name="NE corner")


@pytest.fixture
def book(new_daybook: Callable[[], Daybook]) -> Daybook:
    daybook = new_daybook()
    add_item(daybook, "plans", {"title": "Survey of 1871"}, ADA, address="survey")
    pin_plan(daybook, "survey", ADA, pins=pins())
    return daybook


def ground_of(feature: Feature) -> np.ndarray:
    places = (feature.geometry or {})["coordinates"]
    lonlat = np.atleast_2d(np.array(places, dtype=float))
    return np.column_stack(FRAME.from_lonlat(lonlat[:, 0], lonlat[:, 1]))


def test_traced_fence_stands_where_the_pins_put_it(book: Daybook) -> None:
    shared = {"existed-from": "1871", "source-words": "survey office, roll 7"}
    made = trace_plan(book, "survey", [FENCE, CORNER], ADA, fields=shared)
    assert [one["drawn"] for one in made] == ["surveyed", "sketched"]
    with book.reading() as session:
        fence = find(session, Feature, made[0]["key"])
        corner = find(session, Feature, "NE corner")
        plan = find(session, Plan, "survey")
    expected = np.array([[200.0, -150.0], [450.0, -400.0]])
    assert np.abs(ground_of(fence) - expected).max() < TWO_CENTIMETRES
    assert fence.existed_from_edtf == "1871"
    assert fence.source_words == "survey office, roll 7"
    assert fence.plan_id == plan.id
    assert plan.fit == "projective"
    assert plan.shared_shift_sd_m is not None
    assert 0.1 < plan.shared_shift_sd_m < 5.0
    # A sketched corner may be off by a hundredth of the sheet: 12.5 m of 1250.
    assert fence.sd_m is not None
    assert corner.sd_m == pytest.approx(12.5, rel=0.1)
    assert fence.sd_m < 5.0


def test_what_was_traced_moves_as_pins_do_in_one_act(book: Daybook) -> None:
    [fence] = trace_plan(book, "survey", [FENCE], ADA)
    done = pin_plan(book, "survey", ADA, pins=pins((30.0, 40.0)), why="better corners")
    [(key, moved_m)] = done.moved
    assert key == fence["key"]
    assert moved_m == pytest.approx(50.0, abs=TWO_CENTIMETRES)
    with book.reading() as session:
        rows = session.scalars(select(JournalRow).order_by(JournalRow.number)).all()
        last = [row for row in rows if row.act == rows[-1].act]
        assert {row.table_name for row in last} == {"plans", "features"}
        assert {row.why for row in last} == {"better corners"}
        there = ground_of(find(session, Feature, key))
    assert there[0] == pytest.approx([230.0, -110.0], abs=TWO_CENTIMETRES)
    undo(book, ADA)
    with book.reading() as session:
        back = ground_of(find(session, Feature, key))
        [first, *_] = find(session, Plan, "survey").pins or []
    assert back[0] == pytest.approx([200.0, -150.0], abs=TWO_CENTIMETRES)
    assert first["lat_deg"] == pytest.approx(pins()[0]["lat_deg"], abs=1e-7)


def test_pins_changed_by_any_other_way_move_it_too(book: Daybook) -> None:
    [fence] = trace_plan(book, "survey", [FENCE], ADA)
    change_item(book, "plans", "survey", {"pins": pins((10.0, 0.0))}, ADA)
    with book.reading() as session:
        there = ground_of(find(session, Feature, fence["key"]))
    assert there[0] == pytest.approx([210.0, -150.0], abs=TWO_CENTIMETRES)


def test_shift_that_a_person_says_with_the_pins_stands(book: Daybook) -> None:
    change = {"pins": pins((5.0, 0.0)), "shared-shift-sd-m": 7.5}
    assert change_item(book, "plans", "survey", change, ADA)["shared_shift_sd_m"] == 7.5


def test_bad_pins_lose_nothing_that_was_traced(book: Daybook) -> None:
    [fence] = trace_plan(book, "survey", [FENCE], ADA)
    for bad in (pins(count=1), [], None):
        with pytest.raises(InputError, match="would lose their place"):
            change_item(book, "plans", "survey", {"pins": bad}, ADA)
    with pytest.raises(PlanError, match="no scale"):
        pin_plan(book, "survey", ADA, pins=pins(count=1))
    with book.reading() as session:
        there = ground_of(find(session, Feature, fence["key"]))
        assert len(find(session, Plan, "survey").pins or []) == 5
    assert there[0] == pytest.approx([200.0, -150.0], abs=TWO_CENTIMETRES)


def test_pins_may_come_one_by_one_while_nothing_is_traced(book: Daybook) -> None:
    change_item(book, "plans", "survey", {"pins": pins(count=1)}, ADA)
    with book.reading() as session:
        plan = find(session, Plan, "survey")
    with pytest.raises(PlanError, match="no scale"):
        pinned_plan(plan)


def test_dry_run_tells_what_would_move_and_keeps_nothing(book: Daybook) -> None:
    trace_plan(book, "survey", [FENCE], ADA)
    done = pin_plan(book, "survey", ADA, pins=pins((0.0, 7.0)), dry_run=True)
    assert done.moved[0][1] == pytest.approx(7.0, abs=TWO_CENTIMETRES)
    assert done.left_out.tried == 5
    with book.reading() as session:
        assert find(session, Plan, "survey").pins == pins_kept(pins())


def pins_kept(given: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [
        one | {k: round(one[k], 8) for k in ("lon_deg", "lat_deg")}
        | {k: float(one[k]) for k in ("x_px", "y_px")}
        for one in given
    ]  # fmt: skip


def test_evidence_of_a_plate_parts_errors_as_its_camera_feels_them(
    book: Daybook,
) -> None:
    corners = [[400, 300], [600, 350], [700, 700]]
    things = [
        TracedThing("corner", "point", [place], "surveyed", name=f"corner {n}")
        for n, place in enumerate(corners)
    ]
    made = trace_plan(book, "survey", things, ADA)
    add_item(book, "plates", {}, ADA, address="1987.12")
    for n in range(3):
        mark = {
            "points-px": [[100.0 * n, 50.0]],
            "shape": "point",
            "features": [{"feature": f"corner {n}", "weight": 1.0}],
        }
        add_item(book, "marks", mark, ADA, address=f"1987.12/m{n}")
    with book.reading() as session:
        told = tell_evidence(session, find(session, Plate, "1987.12")).document
        plan = find(session, Plan, "survey")
        parts = parts_for_camera(
            pinned_plan(plan).pinning, [[one] for one in corners], 2.0 * 0.5
        )
    [sheet] = told["plan"]
    assert sheet["id"] == "survey"
    assert sheet["shared_shift_sd_m"] == pytest.approx(parts.shared_m, abs=1e-3)
    own = {one["id"]: one["sd_m"] for one in told["feature"]}
    assert list(own.values()) == pytest.approx(list(parts.own_m), abs=1e-3)
    # The shift counts once, and what is left of each corner is mostly its drawing.
    kept = {one["key"]: one["sd_m"] for one in made}
    assert all(own[name] <= kept[name] + 0.01 for name in own)


@pytest.mark.parametrize(
    ("thing", "words"),
    [
        (TracedThing("fence", "line", [[1, 1]], "surveyed"), "line of 1 points"),
        (TracedThing("hut", "outline", [[1, 1], [2, 2]], "surveyed"), "outline of 2"),
        (TracedThing("hut", "point", [[1, np.nan]], "surveyed"), "no number"),
        (TracedThing("hut", "point", [[1, 1]], "surveyed", -2.0), "cannot be"),
        (TracedThing("hut", "point", [[1, 1]], "guessed"), "'guessed'"),  # type: ignore[arg-type]
    ],
)
def test_what_cannot_be_traced_is_refused_and_nothing_kept(
    book: Daybook, thing: TracedThing, words: str
) -> None:
    with pytest.raises(PlanError, match=words):
        trace_plan(book, "survey", [FENCE, thing], ADA)
    with book.reading() as session:
        assert session.scalars(select(Feature)).all() == []


def test_thing_beyond_the_sheet_is_refused(book: Daybook) -> None:
    size = {"width-px": 2000, "height-px": 1500}
    change_item(book, "plans", "survey", size, ADA)
    far = TracedThing("hut", "point", [[2500, 100]], "surveyed")
    with pytest.raises(PlanError, match="beyond the sheet of 2000 x 1500"):
        trace_plan(book, "survey", [far], ADA)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"lat_deg": 95.0}, "nowhere"),
        ({"x_px": "left"}, "no number"),
        ({"height": 3}, "not known"),
        ({"name": "B"}, "Two pins are called 'B'"),
    ],
)
def test_pin_that_cannot_be_is_refused(
    book: Daybook, change: dict[str, Any], words: str
) -> None:
    bad = pins()
    bad[0] |= change
    with pytest.raises(PlanError, match=words):
        pin_plan(book, "survey", ADA, pins=bad)


def test_plan_across_the_antimeridian_is_pinned(book: Daybook) -> None:
    far = Frame.local(179.999, -44.0)
    ground = np.array(CORNERS_PX) * [0.5, -0.5]
    lon, lat = far.to_lonlat(ground[:, 0], ground[:, 1])
    rows = [
        {**pin, "lon_deg": float((e + 180) % 360 - 180), "lat_deg": float(n)}
        for pin, e, n in zip(pins(), lon, lat, strict=True)
    ]
    assert min(row["lon_deg"] for row in rows) < 0 < max(row["lon_deg"] for row in rows)
    done = pin_plan(book, "survey", ADA, pins=rows)
    assert np.abs(done.plan.pinning.left_over_m).max() < TWO_CENTIMETRES
