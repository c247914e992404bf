"""Check hours and seasons by what a daybook keeps of a plate; all invented.

The camera is written as a fix would be; where the sun stood comes straight from the
algorithm, and marks are where the camera model's projection puts them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from wherestood.camera.model import Camera, project
from wherestood.dating.items import Exposed
from wherestood.dating.months import span_of
from wherestood.dating.seen_on_plate import OF_TIME as READ
from wherestood.dating.seen_on_plate import HourKnown
from wherestood.dating.sun import seconds_of_day, sun_at
from wherestood.dating.sun_fit import Face
from wherestood.dating.sun_path import Where
from wherestood.dating.weigh import weigh
from wherestood.daybook import Daybook, find
from wherestood.daybook.camera_of_fix import fixed_camera
from wherestood.daybook.keep_seen import keep_given
from wherestood.daybook.shadow_on_map import shadows_on_map
from wherestood.daybook.sun_of_plate import BySun, Marked, day_weights, tell_sun
from wherestood.daybook.tables import (
    OF_TIME,
    Dating,
    Evidence,
    Fix,
    Plate,
    Scan,
    Statement,
)
from wherestood.daybook.tell_evidence import tell_evidence
from wherestood.daybook.undo import undo
from wherestood.daybook.when_exposed import Given, date_of_plate
from wherestood.errors import InputError

LON, LAT, LENS_M = 8.5, 46.1, 900.0
CAMERA = Camera(math.radians(200.0), 0.0, 0.0, 3000.0, 100.0, 0.0, 0.0, 2400, 1800)
#: The instant of the truth: 3 June 1874, 9:40 local mean time.
DAY, MINUTES = (1874, 6, 3), 580.0
ABOVE_M, OFF_M = 30.0, 120.0  # lens above the ground shown, and the thing's distance
#: What a mark's 3 px and the fix's doubt leave of an hour, by far.
FIVE_MINUTES = 5.0


def sun() -> tuple[float, float]:
    when = seconds_of_day(*DAY) + 60.0 * MINUTES - 240.0 * LON
    place = sun_at(np.array([when]), LON, LAT, LENS_M)
    return float(place.bearing_rad[0]), float(place.elevation_rad[0])


def marks(height_m: float = 12.0) -> list[list[float]]:
    """Return foot, tip and top of a post's shadow, as the camera draws them [px]."""
    bearing, elevation = sun()
    foot = OFF_M * np.array(
        [math.sin(CAMERA.bearing_rad), math.cos(CAMERA.bearing_rad)]
    )
    reach = height_m / math.tan(elevation)
    tip = foot - reach * np.array([math.sin(bearing), math.cos(bearing)])
    points = np.array(
        [[*foot, -ABOVE_M], [*tip, -ABOVE_M], [*foot, height_m - ABOVE_M]]
    )
    x, y = project(CAMERA, points)
    return [[float(a), float(b)] for a, b in zip(x, y, strict=True)]


def answer() -> dict[str, Any]:
    camera = {
        "bearing_deg": 200.0, "tilt_deg": 0.0, "roll_deg": 0.0, "reversed": False,
        "principal_distance_px": 3000.0, "rise_px": 100.0, "cross_px": 0.0, "k1": 0.0,
        "sd": {"sight_bearing_deg": 0.2, "sight_elevation_deg": 0.05, "roll_deg": 0.1,
               "principal_distance_px": 15.0},
    }  # fmt: skip
    scan = {"width_px": 2400, "height_px": 1800, "corners_px": None, "size_mm": None}
    station = {"lon": LON, "lat": LAT, "height_m": LENS_M}
    return {"camera": camera, "station": station, "inputs": {"scan": scan}}


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Daybook]:
    """Return a daybook with a plate that has a scan and a fix, written by hand."""
    with Daybook.create(tmp_path / "valley") as made:
        with made.writing("Ada") as session:
            plate = Plate(key="12")
            session.add(plate)
            session.flush()
            session.add_all(
                [
                    Scan(plate_id=plate.id, file="a.tif", sha256="0" * 64,
                         kept="left in place", width_px=2400, height_px=1800),
                    Fix(plate_id=plate.id, made=datetime.now(UTC).isoformat(),
                        version="0", verdict="located", lon_deg=LON, lat_deg=LAT,
                        answer=answer()),
                ]
            )  # fmt: skip
        yield made


def keep(book: Daybook, kind: str, **content: Any) -> str:
    with book.writing("Ada") as session:
        item = Evidence(
            plate_id=find(session, Plate, "12").id, kind=kind, content=content
        )
        session.add(item)
        session.flush()
        return item.key


def said(book: Daybook, edtf: str) -> None:
    with book.writing("Ada") as session:
        plate = find(session, Plate, "12")
        session.add(Dating(plate_id=plate.id, of="exposed", edtf=edtf, trust=1.0))


def test_kinds_kept_are_those_that_can_be_read() -> None:
    assert set(OF_TIME) == set(READ)


def test_a_kept_shadow_tells_hour_and_season_and_lies_on_the_map(book: Daybook) -> None:
    key = keep(book, "shadow", points_px=marks())
    told = date_of_plate(book, "12", Given())
    season = told.contributions[0]
    assert season.group.name == key
    shares = season.group.items[0].agrees(np.arange(12))
    assert int(np.argmax(shares)) in {4, 5, 6}  # a sun as of May to July, not winter's
    assert shares[[9, 10, 11, 0, 1, 2]].max() < 0.01
    # Alone it is right as often as it is trusted, however narrow its season.
    assert season.right == pytest.approx(0.9, abs=1e-6)
    said(book, "1874-06-03")
    told = date_of_plate(book, "12", Given())
    assert told.sun is not None
    assert told.sun.fit.hour_min[0] == pytest.approx(MINUTES, abs=FIVE_MINUTES)
    laid = shadows_on_map(told.sun.by, lambda _, tangent: ABOVE_M / -tangent)
    assert laid[0].sun_bearing_deg == pytest.approx(math.degrees(sun()[0]), abs=0.5)
    north_m = (laid[0].foot_deg[1] - LAT) * 111_100.0
    assert north_m == pytest.approx(OFF_M * math.cos(CAMERA.bearing_rad), abs=1.0)
    undo(book, "Ada")
    undo(book, "Ada")
    assert date_of_plate(book, "12", Given()).sun is None


def test_what_is_given_can_be_kept_in_one_act(book: Daybook) -> None:
    foot, tip, top = (f"{x:.2f},{y:.2f}" for x, y in marks())
    given = Given(
        shadows=(f"{foot}:{tip}:{top}",), edges=(f"{foot}:{top}:{tip}:85",),
        lit=(90.0,), unlit=(270.0,), signs=("leaf",), hour="9:40", day="1874-06-03",
    )  # fmt: skip
    left, kept = keep_given(book, "12", given, "Ada")
    assert left == Given()
    assert len(kept) == 6
    told = date_of_plate(book, "12", left)
    assert told.sun is not None
    assert told.sun.bearing is not None
    assert told.sun.bearing.off < 2.0
    assert any("leaf" in each.group.items[0].what for each in told.contributions)
    with book.reading() as session:  # a search is told nothing of them
        assert tell_evidence(session, find(session, Plate, "12")).is_empty
    undo(book, "Ada")
    assert date_of_plate(book, "12", Given()).sun is None


def test_a_bearing_ten_degrees_off_is_told_by_the_sun(book: Daybook) -> None:
    with book.writing("Ada") as session:
        plate = find(session, Plate, "12")
        turned = answer()
        turned["camera"]["bearing_deg"] = 190.0
        made = datetime(2100, 1, 1, tzinfo=UTC).isoformat()
        session.add(
            Fix(plate_id=plate.id, made=made, version="0", verdict="located",
                lon_deg=LON, lat_deg=LAT, answer=turned)
        )  # fmt: skip
    keep(book, "shadow", points_px=marks(), slope_sd_deg=0.3, lean_sd_deg=0.3)
    keep(book, "hour", hour="9:40", day="1874-06-03", sd_min=2)
    told = date_of_plate(book, "12", Given())
    assert told.sun is not None
    assert told.sun.bearing is not None
    assert math.degrees(told.sun.bearing.turn_rad) == pytest.approx(10.0, abs=1.0)
    assert told.sun.bearing.off > 2.0


def test_a_sun_behind_the_hills_or_down_is_told_and_kept_as_written(
    book: Daybook,
) -> None:
    keep(book, "shadow", points_px=marks())
    key = keep(book, "hour", hour="9:40", day="1874-06-03")
    walls = np.radians(70.0)

    def hills(*_: float) -> Any:
        return lambda bearing: np.full(np.shape(bearing), walls)

    told = date_of_plate(book, "12", Given(), hills)
    assert told.sun is not None
    notes = " ".join(told.sun.notes)
    assert "behind hills of 70.0 deg" in notes
    assert "100% of what fits has the sun behind them" in notes
    with book.writing("Ada") as session:
        item = find(session, Evidence, f"12/{key}")
        item.content = {"hour": "23:30", "day": "1874-06-03"}
    told = date_of_plate(book, "12", Given())
    assert told.sun is not None
    assert not told.sun.fit.possible
    assert f"{key} is kept as written. At that day and hour the sun was" in " ".join(
        told.sun.notes
    )


def test_signs_and_shadows_wait_for_a_fix(book: Daybook) -> None:
    with book.writing("Ada") as session:
        find(session, Fix, "fix-1").removed = True
        with pytest.raises(InputError, match="no fix yet"):
            fixed_camera(session, find(session, Plate, "12"))
    keep(book, "shadow", points_px=marks())
    keep(book, "season", sign="snow")
    told = date_of_plate(book, "12", Given())
    assert len([line for line in told.left_out if "for a fix" in line]) == 2


@pytest.mark.parametrize(
    ("kind", "content", "told"),
    [
        ("shadow", {"points_px": [[1.0, 2.0]]}, "2 to 3 points"),
        ("shadow", {"points_px": [[1, 2], [3, 9000]]}, "off its scan"),
        ("shadow", {"points_px": [[1, 2], [3, 4]], "colour": "red"}, "no meaning"),
        ("shadow_edge", {"points_px": [[1, 2], [3, 4], [5, 6]]}, "bearing_deg is None"),
        ("lit_face", {"looks_deg": 90, "lit": "yes"}, "true or false"),
        ("hour", {"hour": "25:10"}, "no hour of a day"),
        ("hour", {"hour": "9:00", "clock": "zone"}, "but not of which"),
        ("hour", {"hour": "9:00", "day": "1874"}, "no single day"),
        ("hour", {"hour": "9:00", "day": "1874-02-30"}, "1874-02-30"),
        ("blur", {"points_px": [[1, 2], [3, 4]], "moving": "kite"}, "'kite'"),
        ("making", {"clue": "a smell"}, "Choose one of"),
        ("season", None, "sign is missing"),
    ],
)
def test_what_cannot_be_read_is_refused(
    book: Daybook, kind: str, content: Any, told: str
) -> None:
    with pytest.raises(InputError) as refused:
        keep(book, kind, **(content or {}))
    assert told in str(refused.value)


def test_a_julian_day_is_carried_and_kept_as_written(book: Daybook) -> None:
    """3 May 1871 of the old style is 15 May of the new."""
    said(book, "1871-05-03 O.S.")
    with book.reading() as session:
        kept = find(session, Dating, "date-1")
        assert (kept.edtf, kept.words) == ("1871-05-15", "1871-05-03 O.S.")
        assert kept.note == "Carried from the Julian calendar to the Gregorian."


def test_a_year_of_two_digits_waits_as_written_until_it_is_told(book: Daybook) -> None:
    said(book, "3.5.71")
    told = date_of_plate(book, "12", Given())
    assert told.contributions == ()
    assert any("“3.5.71” has two digits. Is it 1871?" in one for one in told.left_out)
    with book.writing("Ada") as session:
        find(session, Dating, "date-1").edtf = "1871-05-03"
    span = date_of_plate(book, "12", Given()).whole.interval(0.9)
    assert span is not None
    assert span.words == "May 1871"
    with book.reading() as session:
        kept = find(session, Dating, "date-1")
        assert (kept.words, kept.note) == ("3.5.71", None)


def test_a_low_river_is_of_late_summer_and_a_high_one_of_winter(book: Daybook) -> None:
    """Shares of the table, January 0.1 and August 0.65 low, 0.45 and 0.1 high.

    Trusted 0.9, a month weighs 0.9 of its share and 0.1 of what it lacks to 1.
    """
    said(book, "1874")
    for sign, january, august in (("low river", 0.1, 0.65), ("high river", 0.45, 0.1)):
        key = keep(book, "season", sign=sign)
        whole = date_of_plate(book, "12", Given()).whole
        of_month = whole.probability[whole.probability > 0.0]
        assert len(of_month) == 12  # those of 1874
        weight = [0.9 * share + 0.1 * (1.0 - share) for share in (january, august)]
        assert of_month[7] / of_month[0] == pytest.approx(weight[1] / weight[0])
        with book.writing("Ada") as session:
            find(session, Evidence, f"12/{key}").removed = True


def test_tide_and_flood_are_told_as_seen_and_count_nothing(book: Daybook) -> None:
    said(book, "1874")
    before = date_of_plate(book, "12", Given())
    states = ("tide in", "tide out", "tide mark", "flood", "flood mark", "ice")
    keys = [keep(book, "water_seen", state=state) for state in states]
    after = date_of_plate(book, "12", Given())
    assert np.array_equal(after.whole.probability, before.whole.probability)
    assert [one.group.name for one in after.contributions] == [
        one.group.name for one in before.contributions
    ]
    for key, state in zip(keys, states, strict=True):
        wanted = (
            f"{key} ({state}) is kept as it was seen: no tide or flood is foretold."
        )
        assert wanted in after.left_out
    with pytest.raises(InputError, match="nothing is known of the state 'neap'"):
        keep(book, "water_seen", state="neap")


def test_what_repeats_a_source_that_was_read_into_a_date_counts_once(
    book: Daybook,
) -> None:
    with book.writing("Ada") as session:
        plate = find(session, Plate, "12")
        first = Statement(plate_id=plate.id, about="date", words="of 1875", weight=0.8)
        session.add(first)
        session.flush()
        session.add(Dating(plate_id=plate.id, edtf="1875", statement_id=first.id))
        session.add(
            Statement(plate_id=plate.id, about="date", words="1875, as the first says",
                      means_edtf="1875", derived_from=[first.key])
        )  # fmt: skip
    whole = date_of_plate(book, "12", Given()).whole
    assert [group.name for group in whole.groups] == ["date-1"]
    assert whole.repeats == ("statement-2",)
    assert whole.groups[0].trust == 0.8  # of what it was read from


def test_a_year_without_plates_is_told_and_counts_nothing(book: Daybook) -> None:
    said(book, "1571")
    told = date_of_plate(book, "12", Given())
    assert not told.whole.groups
    assert any("leaves no month from January 1839" in one for one in told.left_out)
    # A later one counts where later months are considered.
    said(book, "1960")
    later = date_of_plate(book, "12", Given(between="1950/1970")).whole.interval(0.9)
    assert later is not None
    assert later.words == "January 1960 to November 1960"


def test_an_exact_day_holds_what_its_month_holds() -> None:
    """By hand: of 19 July 1871, trusted 0.9, another day is one of 42 705 at 0.1."""
    july = Exposed("d", "", span_of("1871-07"), trust=0.9)
    whole = weigh([july])
    year, days = day_weights(whole, [((1871, 7, 19), 0.9)])
    assert year == 1871
    # The other Julys, 116 of 1403 months that share a tenth, lie over all 31 days.
    others = 0.1 * 116 / 1403 / 31
    assert days[199] == pytest.approx(0.9 + others, abs=1e-4)
    assert days[198] == pytest.approx(others, abs=1e-5)
    assert days.sum() == pytest.approx(1.0)


@pytest.mark.parametrize(("lon_deg", "local_mean_min"), [(-175.0, 720), (175.0, 680)])
def test_a_zone_s_hour_counts_on_either_side_of_the_date_line(
    book: Daybook, lon_deg: float, local_mean_min: float
) -> None:
    """Noon of a zone 12 h 20 min ahead: local mean noon at 175 W, 11:20 at 175 E."""
    noon = HourKnown(720.0, 10.0, "zone", 12.0 + 1.0 / 3.0, None)
    marked = Marked(faces=(("face", Face(0.0, lit=True)),), hours=(("clock", noon),))
    with book.reading() as session:
        fixed = fixed_camera(session, find(session, Plate, "12"))
    by = BySun.of(fixed, marked, Where(lon_deg, -21.0))
    told = tell_sun(by, 1880, np.ones(366))
    assert told.fit.hour_min[0] == pytest.approx(local_mean_min, abs=1.0)
