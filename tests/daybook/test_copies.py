"""Check that a plate's scans are laid over one another in a daybook."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from wherestood.daybook import Daybook, find
from wherestood.daybook.carried import carried_marks
from wherestood.daybook.copies import register_copies
from wherestood.daybook.originals import take_in, verify
from wherestood.daybook.tables import Evidence, Mark, Plate, Scan
from wherestood.daybook.tell_evidence import tell_evidence
from wherestood.errors import InputError
from wherestood.plate.copies import HandPoints
from wherestood.plate.skyline import read_skyline_csv

ONE_PIXEL = 1.0
pytestmark = pytest.mark.parametrize("new_daybook", ["sqlite"], indirect=True)


@pytest.fixture(scope="module")
def pair() -> Any:
    """Return an invented pair: the copy is tilted, trimmed and reversed."""
    path = Path(__file__).parents[1] / "plate" / "copies" / "invented_pairs.py"
    spec = importlib.util.spec_from_file_location("invented_pairs", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["invented_pairs"] = module
    spec.loader.exec_module(module)
    return module.invented_pair(
        4, width_px=400, height_px=300, tilt_deg=8.0, keep=(0.1, 0.0, 1.0, 0.9),
        mirrored=True,
    )  # fmt: skip


def saved(path: Path, grey: np.ndarray) -> Path:
    Image.fromarray(np.round(grey * 255.0).astype(np.uint8)).save(path)
    return path


@pytest.fixture
def filled(daybook: Daybook, pair: Any, tmp_path: Path) -> Daybook:
    for name, grey in (("print", pair.reference), ("negative", pair.copy)):
        source = saved(tmp_path / f"{name}.png", grey)
        take_in(daybook, "1987.12", source, "Ada", new_plate={})
    return daybook


def test_scans_are_registered_kept_and_marks_carried(
    filled: Daybook, pair: Any
) -> None:
    spot = np.array([[150.0, 120.0]])
    with filled.writing("Ada") as session:
        plate = find(session, Plate, "1987.12")
        scan = find(session, Scan, "1987.12/2")
        session.add(
            Mark(
                plate_id=plate.id, scan_id=scan.id, key="chimney", shape="point",
                points_px=spot.tolist(), sd_px=1.5,
            )
        )  # fmt: skip
    copies = register_copies(filled, "1987.12", "Ada")
    assert copies.reference == "1"
    assert copies.alone == ()
    assert copies.registered["2"][1].warp.mirrored
    # The reference lies on top, so the picture is it wherever it shows.
    left, top = -copies.extent.left_px, -copies.extent.top_px
    drawn = copies.picture[round(top) :, round(left) :][:300, :400]
    assert np.abs(drawn - pair.reference)[20:-20, 20:-20].mean() < 0.1
    with filled.reading() as session:
        plate = find(session, Plate, "1987.12")
        (mark,), left = carried_marks(session, plate)
    assert left == []
    truth = pair.true_target(spot)[0]
    assert np.hypot(*(np.array(mark.points_px[0]) - truth)) < ONE_PIXEL
    assert mark.sd_px[0] > 1.0
    assert verify(filled) == []


def test_a_dry_run_keeps_nothing(filled: Daybook) -> None:
    register_copies(filled, "1987.12", "Ada", dry_run=True)
    with filled.reading() as session:
        assert find(session, Scan, "1987.12/2").registration is None


def test_a_scan_of_something_else_is_left_alone_until_points_are_put(
    filled: Daybook, tmp_path: Path
) -> None:
    noise = np.random.default_rng(1).uniform(0.4, 0.6, (200, 300))
    take_in(filled, "1987.12", saved(tmp_path / "piece.png", noise), "Ada")
    assert register_copies(filled, "1987.12", "Ada").alone == ("3",)
    here = np.array([[10.0, 10.0], [290.0, 20.0], [150.0, 190.0]])
    hand = {("3", "1"): HandPoints(here, here + 30.0)}
    copies = register_copies(filled, "1987.12", "Ada", hand=hand)
    assert copies.alone == ()
    assert copies.registered["3"][1].hand_points == 3
    with filled.reading() as session:
        record = find(session, Scan, "1987.12/3").registration
    assert record is not None
    assert record["points_by_hand"][0] == [10.0, 10.0, 40.0, 40.0]


def test_what_cannot_be_registered_is_told(daybook: Daybook, tmp_path: Path) -> None:
    grey = np.random.default_rng(1).uniform(0.0, 1.0, (60, 80))
    take_in(daybook, "7", saved(tmp_path / "a.png", grey), "Ada", new_plate={})
    with pytest.raises(InputError, match=r"has 1 scan\(s\)"):
        register_copies(daybook, "7", "Ada")
    points = HandPoints(np.ones((3, 2)), np.ones((3, 2)))
    with pytest.raises(InputError, match="no scan '9'"):
        register_copies(daybook, "7", "Ada", hand={("9", "1"): points})


def test_marks_edges_and_lines_of_a_registered_copy_count_where_they_lie_on_the_main(
    filled: Daybook, pair: Any, tmp_path: Path
) -> None:
    spot = np.array([[150.0, 120.0]])
    edge = np.array([[100.0, 60.0], [102.0, 160.0]])
    x = np.linspace(60.0, 340.0, 57)
    y = 90.0 + 10.0 * np.sin(x / 40.0)
    line = "\n".join(
        ["x_px,y_px,sd_px", *(f"{a},{b},1" for a, b in zip(x, y, strict=True))]
    )
    with filled.writing("Ada") as session:
        plate, scan = find(session, Plate, "1987.12"), find(session, Scan, "1987.12/2")
        on_it = {"plate_id": plate.id, "scan_id": scan.id}
        session.add_all(
            [
                Mark(
                    key="A", shape="point", points_px=spot.tolist(), sd_px=1.5, **on_it
                ),
                Evidence(
                    key="wall", kind="plumb_edge", **on_it,
                    content={"points_px": edge.tolist(), "sd_px": 1.0},
                ),
                Evidence(key="sky", kind="skyline", content={"csv": line}, **on_it),
            ]
        )  # fmt: skip
    with filled.reading() as session:
        told = tell_evidence(session, find(session, Plate, "1987.12"))
    assert told.is_empty
    assert len(told.left_out) == 3
    assert "not registered" in told.left_out[0]
    register_copies(filled, "1987.12", "Ada")
    with filled.reading() as session:
        told = tell_evidence(session, find(session, Plate, "1987.12"))
        scan = find(session, Scan, "1987.12/2")
    assert told.left_out == ()
    (mark,) = told.document["mark"]
    there = np.array([mark["x_px"], mark["y_px"]])
    assert np.hypot(*(there - pair.true_target(spot)[0])) < ONE_PIXEL
    assert mark["sd_px"] > 1.0
    (wall,) = told.document["plumb_edge"]
    apart = np.array(wall["points_px"]) - pair.true_target(edge)
    assert np.hypot(*apart.T).max() < ONE_PIXEL
    assert [one.id for one in told.items if isinstance(one, Scan)] == [scan.id]
    path = tmp_path / "line.csv"
    path.write_text(told.lines["skyline-1.csv"], encoding="utf-8")
    carried = read_skyline_csv(path, 400, 300)
    truth = pair.true_target(np.column_stack((x, y)))[::-1]  # it is a mirror image
    assert (np.diff(carried.x_px) > 0.0).all()
    on_main = np.interp(carried.x_px, truth[:, 0], truth[:, 1])
    assert np.abs(carried.y_px - on_main).max() < ONE_PIXEL
    assert not carried.break_after.any()


def test_a_registration_that_cannot_be_read_is_as_none(filled: Daybook) -> None:
    register_copies(filled, "1987.12", "Ada")
    with filled.writing("Ada") as session:
        plate, scan = find(session, Plate, "1987.12"), find(session, Scan, "1987.12/2")
        scan.registration = {"form": 0}
        session.add(
            Mark(key="A", plate_id=plate.id, scan_id=scan.id, points_px=[[9.0, 9.0]])
        )
    with filled.reading() as session:
        told = tell_evidence(session, find(session, Plate, "1987.12"))
    assert "see wherestood register" in told.left_out[0]
