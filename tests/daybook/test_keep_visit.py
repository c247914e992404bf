"""Check that what was read on a visit counts, and only what it can tell; all invented.

The camera stood at the middle of the frame. A tripod stands some metres off; gaps are
what shows from there, marks where the camera model's projection puts the same things.
"""

from __future__ import annotations

import math
import shutil
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import select

from wherestood.camera.model import Camera, project
from wherestood.cli.app import run
from wherestood.daybook import Daybook, find
from wherestood.daybook.keep_visit import TRIPOD, keep_visit
from wherestood.daybook.replay import disagreements
from wherestood.daybook.tables import (
    Evidence,
    Feature,
    FeatureName,
    Fix,
    FixInput,
    Mark,
    Note,
    Plate,
    Restriction,
    Scan,
    Statement,
)
from wherestood.daybook.tell_evidence import tell_evidence
from wherestood.daybook.traced_on_plate import DRAWN
from wherestood.daybook.undo import undo
from wherestood.earth.frame import Frame
from wherestood.errors import InputError
from wherestood.evidence.file import read_evidence
from wherestood.visit.read_on_spot import Reading, Visit, checked_reading

LON, LAT = 8.5, 46.1
FRAME = Frame.local(LON, LAT)
CAMERA = Camera(math.radians(10.0), 0.0, 0.0, 3000.0, 0.0, 0.0, 0.0, 3000, 2000)
THINGS = {
    "gate post": (2.0, 27.0), "boulder": (10.0, 34.0), "well": (-2.0, 24.0),
    "church": (40.0, 700.0), "rock": (310.0, 900.0), "mill": (-20.0, 800.0),
}  # fmt: skip
PAIRS = [("church", "gate post"), ("rock", "boulder"), ("mill", "well")]
TRIPOD_M = (2.4, -1.7)
#: What 0.1 degrees on pairs at 24 to 34 m leave, four times over.
HALF_A_METRE = 0.5


def lonlat(east_m: float, north_m: float) -> tuple[float, float]:
    lon, lat = FRAME.to_lonlat(np.array([east_m]), np.array([north_m]))
    return float(lon[0]), float(lat[0])


def gap_deg(far: str, near: str, at: tuple[float, float]) -> float:
    def bearing(name: str) -> float:
        east, north = THINGS[name]
        return math.degrees(math.atan2(east - at[0], north - at[1]))

    return bearing(far) - bearing(near)


@pytest.fixture
def book(prepared: Path, tmp_path: Path) -> Iterator[Daybook]:
    """Return a copy of the daybook prepared."""
    folder = tmp_path / "valley"
    shutil.copytree(prepared, folder)
    with Daybook.open(folder) as opened:
        yield opened


@pytest.fixture(scope="module")
def prepared(empty_daybook: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a daybook with a plate, its fix as it would be written, and marks."""
    folder = tmp_path_factory.mktemp("visited") / "valley"
    shutil.copytree(empty_daybook, folder)
    with Daybook.open(folder) as made:
        _fill(made)
    return folder


def _fill(daybook: Daybook) -> None:
    camera = {
        "bearing_deg": 10.0, "tilt_deg": 0.0, "roll_deg": 0.0, "reversed": False,
        "principal_distance_px": 3000.0, "rise_px": 0.0, "cross_px": 0.0, "k1": 0.0,
        "sd": {"sight_bearing_deg": 0.1, "principal_distance_px": 15.0},
    }  # fmt: skip
    scan = {"width_px": 3000, "height_px": 2000, "corners_px": None, "size_mm": None}
    near = lonlat(7.0, 5.0)
    station = {"lon": near[0], "lat": near[1], "height_m": 900.0}
    answer = {"camera": camera, "station": station, "inputs": {"scan": scan}}
    with daybook.writing("Ada") as session:
        plate = Plate(key="12")
        session.add(plate)
        session.flush()
        held = Scan(
            plate_id=plate.id, file="a.tif", sha256="0" * 64, kept="left in place",
            width_px=3000, height_px=2000,
        )  # fmt: skip
        fix = Fix(
            plate_id=plate.id, made=datetime.now(UTC).isoformat(), version="0",
            verdict="located", lon_deg=near[0], lat_deg=near[1], answer=answer,
        )  # fmt: skip
        session.add_all([held, fix])
        session.flush()
        for name, (east, north) in THINGS.items():
            place = {"type": "Point", "coordinates": list(lonlat(east, north))}
            feature = Feature(geometry=place, sd_m=0.3)
            session.add(feature)
            session.flush()
            session.add(FeatureName(feature_id=feature.id, name=name))
            x, y = project(CAMERA, np.array([[east, north, 0.0]]))
            mark = Mark(
                plate_id=plate.id, scan_id=held.id, shape="point", sd_px=1.0,
                points_px=[[float(x[0]), float(y[0])]],
                features=[{"feature": feature.key, "weight": 1.0}],
            )  # fmt: skip
            session.add(mark)


def visit(*readings: Reading) -> Visit:
    checked = [checked_reading(one) for one in readings]
    return Visit.of(checked, date(2026, 5, 31), "Ada")


def stood(sd: float = 2.0) -> Reading:
    lon, lat = lonlat(*TRIPOD_M)
    return Reading("stood", lon_deg=lon, lat_deg=lat, sd=sd)


def gaps() -> list[Reading]:
    return [
        Reading("gap", far, near, gap_deg(far, near, TRIPOD_M)) for far, near in PAIRS
    ]


def told(book: Daybook, folder: Path) -> list[Evidence]:
    """Return the distances that a fix would be told of."""
    with book.reading() as session:
        file = tell_evidence(session, find(session, Plate, "12")).write(folder)
    read = read_evidence(file, width_px=3000, height_px=2000)
    assert not read.complaints
    return list(read.evidence.known_distances)


def test_gaps_read_beside_the_spot_lead_back_to_the_camera(
    book: Daybook, tmp_path: Path
) -> None:
    kept = keep_visit(book, "12", visit(stood(), *gaps()), "Ada")
    assert kept.counts
    assert "of the camera's place" in kept.sentences[0]
    (item,) = told(book, tmp_path)
    with book.reading() as session:
        spot = find(session, Feature, "spot-2026-05-31")
        tripod = find(session, Feature, "tripod-2026-05-31")
        assert tripod.what == TRIPOD
        lon, lat = spot.geometry["coordinates"]
        assert disagreements(session) == []
    east, north = FRAME.from_lonlat(np.array([lon]), np.array([lat]))
    assert math.hypot(east[0], north[0]) < HALF_A_METRE
    # The receiver's 2 m lead, the gaps add little.
    assert spot.sd_m == pytest.approx(2.0, abs=0.2)
    assert item.distance_m == pytest.approx(0.01)
    assert item.group
    undo(book, "Ada")
    assert told(book, tmp_path) == []


def test_a_tape_is_told_from_where_the_camera_stood(
    book: Daybook, tmp_path: Path
) -> None:
    off = np.subtract(THINGS["boulder"], TRIPOD_M)
    taped = Reading("tape", "boulder", value=float(np.hypot(*off)), sd=0.05)
    keep_visit(book, "12", visit(stood(), taped, *gaps()), "Ada")
    _, tape = sorted(told(book, tmp_path), key=lambda one: one.distance_m)
    assert tape.distance_m == pytest.approx(math.hypot(*THINGS["boulder"]), abs=0.4)
    assert 0.05 < tape.sd_m < HALF_A_METRE
    # A tripod known to 2 m only turns the way to the boulder, and the step across it.
    away_m = float(np.hypot(*off))
    across_m = abs(TRIPOD_M[1] * off[0] - TRIPOD_M[0] * off[1]) / away_m
    assert tape.sd_m > 0.9 * across_m * 2.0 / away_m


def test_a_place_that_nothing_ties_to_the_picture_is_no_evidence(
    book: Daybook, tmp_path: Path
) -> None:
    """Standing where a sheet said to stand tells only what the sheet said."""
    kept = keep_visit(book, "12", visit(stood()), "Ada")
    assert not kept.counts
    assert "Nothing says how the tripod's place lies" in kept.left[0]
    assert told(book, tmp_path) == []
    with book.reading() as session:
        assert find(session, Feature, "tripod-2026-05-31").note == "not matched"


def test_a_gap_that_the_picture_does_not_tell_is_left_out(book: Daybook) -> None:
    with book.writing("Ada") as session:
        for mark in session.scalars(select(Mark)):
            mark.removed = True
    kept = keep_visit(book, "12", visit(stood(), *gaps()), "Ada")
    assert not kept.counts
    assert sum("only the fix's own word" in one for one in kept.left) == len(PAIRS)


def test_one_pair_alone_leaves_the_step_open(book: Daybook) -> None:
    kept = keep_visit(book, "12", visit(stood(), gaps()[0]), "Ada")
    assert not kept.counts
    assert any("one more pair" in one for one in kept.left)


def test_where_the_camera_cannot_have_stood_speaks_against_it(book: Daybook) -> None:
    lon, lat = lonlat(60.0, 0.0)
    wall = Reading("not here", value=20.0, lon_deg=lon, lat_deg=lat, words="a wall")
    gone = Reading("ground gone", words="the sea took it")
    gates = Reading("private", words="ask at the mill")
    kept = keep_visit(book, "12", visit(wall, gone, gates), "Ada")
    assert kept.counts
    with book.reading() as session:
        (said,) = session.scalars(select(Statement))
        assert said.weight < 0.1
        notes = {note.id: note.words for note in session.scalars(select(Note))}
        (hidden,) = session.scalars(select(Restriction))
        assert "ask at the mill" in notes[hidden.about_id]


def test_places_and_heights_are_taken_only_where_they_are_surer(book: Daybook) -> None:
    lon, lat = lonlat(2.1, 27.1)
    worse = Reading("thing", "gate post", lon_deg=lon, lat_deg=lat)
    tall = Reading("height", "church", value=31.0)
    new = Reading("thing", "trig pillar", lon_deg=lon, lat_deg=lat, sd=1.0)
    kept = keep_visit(book, "12", visit(worse, tall, new), "Ada")
    assert any("known to 0.3 m before" in one for one in kept.left)
    with book.reading() as session:
        heights = list(session.scalars(select(Feature.object_height_m)))
        assert 31.0 in heights
        names = set(session.scalars(select(FeatureName.name)))
        assert "trig pillar" in names


def test_a_filled_sheet_and_options_are_taken_by_the_command(
    book: Daybook, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lon, lat = lonlat(*TRIPOD_M)
    rows = ["what,thing,other,value,sd,lon_deg,lat_deg,words"]
    rows += ["day,,,,,,,2026-05-31", f"stood,,,,2,{lon},{lat},", "note,,,,,,,"]
    rows += [f"gap,{f},{n},{gap_deg(f, n, TRIPOD_M):.3f},,,," for f, n in PAIRS[:2]]
    sheet = tmp_path / "filled.csv"
    sheet.write_text("\n".join(rows), encoding="utf-8")
    line = ["visit-in", "12", str(sheet), "--daybook", str(book.folder)]
    far, near = PAIRS[2]
    typed = f"{far},{near}={gap_deg(far, near, TRIPOD_M):.3f}"
    book.close()
    assert run([*line, "--gap", typed, "--person", "Ada"]) == 0
    words = capsys.readouterr().out
    assert "By its gaps the tripod stood" in words
    assert "wherestood fix 12" in words
    for bad, says in (
        (["--tape", "tower=3"], "no feature 'tower'"),
        (["--stood", "900,3"], "no place on the earth"),
        (["--not-here", "8,46"], "and why"),
    ):
        assert run([*line, *bad]) == 2
        assert says in " ".join(capsys.readouterr().err.split())


def test_waypoints_that_were_taken_along_are_not_read_back(tmp_path: Path) -> None:
    from wherestood.visit.filled_sheet import read_filled

    file = tmp_path / "back.gpx"
    file.write_text(
        '<gpx xmlns="http://www.topografix.com/GPX/1/1">'
        '<wpt lat="46.1" lon="8.5"><name>Camera</name></wpt>'
        '<wpt lat="46.1" lon="8.5"><name>Stood</name><hdop>0.8</hdop></wpt>'
        '<wpt lat="46.2" lon="8.5"><name>Thing: old oak</name></wpt></gpx>'
    )
    readings, passed_over = read_filled(file)
    assert [one.what for one in readings] == ["stood", "thing"]
    assert readings[0].sd == pytest.approx(4.0)
    assert readings[1].thing == "old oak"
    assert "Camera" in passed_over[0]
    file.write_text('<!DOCTYPE x [<!ENTITY a "b">]><gpx>&a;</gpx>')
    with pytest.raises(InputError, match="no GPX"):
        read_filled(file)


@pytest.mark.parametrize("own", [True, False])
def test_a_mark_tied_to_what_the_same_plate_placed_tells_nothing(
    book: Daybook, own: bool
) -> None:
    with book.writing("Ada") as session:
        plate = find(session, Plate, "12")
        name = session.scalars(
            select(FeatureName).where(FeatureName.name == "well")
        ).one()
        well = session.get_one(Feature, name.feature_id)
        placed = plate.id if own else "0" * 32
        well.imported = {DRAWN: {"plate": placed, "fix": "fix-1"}}
        key = well.key
    with book.reading() as session:
        found = tell_evidence(session, find(session, Plate, "12"))
    tied = [one.get("feature") for one in found.document["mark"]]
    assert (key in tied) is not own
    assert len(tied) == len(THINGS) - own
    assert any(key in sentence for sentence in found.left_out) is own


@pytest.mark.parametrize("back", [True, False])
def test_what_another_plates_answer_placed_from_this_one_tells_nothing_either(
    book: Daybook, back: bool
) -> None:
    """12 places the mill; 13 is fixed by it, and places the well, marked on 12."""
    with book.writing("Ada") as session:
        plates = {"12": find(session, Plate, "12"), "13": Plate(key="13")}
        session.add(plates["13"])
        session.flush()
        things = {
            one.name: session.get_one(Feature, one.feature_id)
            for one in session.scalars(select(FeatureName))
        }
        fix = Fix(
            plate_id=plates["13"].id, made=datetime.now(UTC).isoformat(), version="0",
            verdict="located", lon_deg=LON, lat_deg=LAT, answer={},
        )  # fmt: skip
        session.add(fix)
        session.flush()
        session.add(
            FixInput(
                fix_id=fix.id, role="item", name="feature mill",
                item_table=Feature.__tablename__, item_id=things["mill"].id,
            )
        )  # fmt: skip
        placed = plates["12"].id if back else "0" * 32
        things["mill"].imported = {DRAWN: {"plate": placed, "fix": fix.key}}
        things["well"].imported = {DRAWN: {"plate": plates["13"].id, "fix": fix.key}}
        key = things["well"].key
    with book.reading() as session:
        found = tell_evidence(session, find(session, Plate, "12"))
    tied = [one.get("feature") for one in found.document["mark"]]
    assert (key in tied) is not back
