"""Check how plates were made, their minutes apart and a maker's ways; all invented."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from wherestood.camera.model import Camera, project
from wherestood.dating.months import year_month
from wherestood.dating.sun import seconds_of_day, sun_at
from wherestood.daybook import Daybook, find
from wherestood.daybook.how_made import AskedMaking, how_made
from wherestood.daybook.journeys_told import journeys_form, journeys_map
from wherestood.daybook.made_told import made_form, made_words
from wherestood.daybook.makers_journeys import (
    journeys_of_maker,
    read_trip,
    trip_as_written,
)
from wherestood.daybook.makers_whereabouts import keep_trip
from wherestood.daybook.minutes_apart import minutes_apart
from wherestood.daybook.tables import (
    Dating,
    Evidence,
    Fix,
    Maker,
    Plate,
    Scan,
    Source,
    Statement,
)
from wherestood.daybook.when_exposed import Given, date_of_plate
from wherestood.daybook.withdraw import withdraw
from wherestood.errors import InputError, PlateError
from wherestood.record.page import page_text

LON, LAT = 8.5, 46.1
#: 300 pixels an inch: whole plate, 8 1/2 by 6 1/2 inches, is 2550 by 1950 of them.
PPI, WIDE_PX, HIGH_PX = 300.0, 2550, 1950
#: Corners were marked to a pixel, a twelfth of a millimetre.
TENTH_MM = 0.1


def answer(bearing_deg: float, lon: float = LON, **assumed: Any) -> dict[str, Any]:
    camera = {
        "bearing_deg": bearing_deg, "tilt_deg": 0.0, "roll_deg": 0.0, "reversed": False,
        "principal_distance_px": 3000.0, "principal_distance_mm": 254.0,
        "rise_px": 0.0, "cross_px": 0.0, "k1": 0.0,
        "sd": {"sight_bearing_deg": 0.2, "sight_elevation_deg": 0.05, "roll_deg": 0.1,
               "principal_distance_px": 15.0},
    }  # fmt: skip
    scan = {"width_px": WIDE_PX, "height_px": HIGH_PX, "corners_px": None}
    return {
        "camera": camera, "station": {"lon": lon, "lat": LAT, "height_m": 500.0},
        "inputs": {"scan": scan}, "assumptions": assumed,
    }  # fmt: skip


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Daybook]:
    with Daybook.create(tmp_path / "valley") as made:
        yield made


def add(book: Daybook, key: str, told: dict[str, Any] | None, **more: Any) -> None:
    """Add a plate with a scan and, if told, a fix."""
    with book.writing("Ada") as session:
        plate = Plate(key=key, **more)
        session.add(plate)
        session.flush()
        session.add(
            Scan(plate_id=plate.id, file=f"{key}.tif", sha256="0" * 64, scan_ppi=PPI,
                 kept="left in place", width_px=WIDE_PX + 100, height_px=HIGH_PX + 100,
                 corners_px=[[50, 50], [2600, 50], [2600, 2000], [50, 2000]])
        )  # fmt: skip
        if told is not None:
            station = told["station"]
            session.add(
                Fix(plate_id=plate.id, made=datetime.now(UTC).isoformat(), version="0",
                    verdict="located", lon_deg=station["lon"], lat_deg=station["lat"],
                    answer=told)
            )  # fmt: skip


def keep(book: Daybook, plate: str, kind: str, **content: Any) -> None:
    with book.writing("Ada") as session:
        owner = find(session, Plate, plate)
        session.add(Evidence(plate_id=owner.id, kind=kind, content=content))


def add_fell(book: Daybook) -> str:
    """Write a maker down, and return his id."""
    with book.writing("Ada") as session:
        maker = Maker(key="fell", name="Ben Fell")
        session.add(maker)
        session.flush()
        return str(maker.id)


def test_a_plate_is_told_by_its_corners_lens_clues_and_blur(book: Daybook) -> None:
    add(book, "12", answer(90.0), process="glass negative", size="whole plate")
    keep(book, "12", "making", clue="rough edges", points_px=[[10, 10]])
    keep(book, "12", "making", clue="uneven coat")
    # A walker 60 m off, 1.35 m/s: 3000 px of lens make 67.5 px a second; 4 s here.
    keep(book, "12", "blur", points_px=[[500, 900], [770, 900]],
         moving="person walking", distance_m=60)  # fmt: skip
    keep(book, "12", "reading", reads="writing reads")
    made = how_made(book, "12", AskedMaking())
    assert made.sides is not None
    assert made.sides.long_mm == pytest.approx(215.9, abs=TENTH_MM)
    assert made.sides.guesses[0].name == "whole plate"
    assert made.lens is not None
    # 2 atan(215.9 / 508): 46 deg across.
    assert made.lens.across_deg == pytest.approx(46.05, abs=0.05)
    assert made.blurs[0].exposure.seconds == pytest.approx(4.0)
    assert made.kinds is not None
    assert made.kinds["wet plate"] > 0.95
    assert made.reversal.verdict == "right way round"
    text = " ".join(page_text(made_words(made), 80).split())
    assert "as wet plates and slow dry plates were exposed" in text
    assert made_form(made)["sides"]["sizes"][0]["trimmed"] is False


@pytest.mark.parametrize(
    ("edtf", "wet"), [("1865", 0.15 / (0.15 + 0.8)), ("1854", 0.15 / (0.15 + 0.008))]
)
def test_the_date_counts_for_wet_plate_or_dry(
    book: Daybook, edtf: str, wet: float
) -> None:
    """By hand: wet and dry collodion were in use in 1865, wet alone in 1854.

    Thin glass is seen on 0.15 of wet plates and 0.8 of dry ones; a kind not yet made
    counts a hundredth.
    """
    add(book, "12", None)
    with book.writing("Ada") as session:
        plate = find(session, Plate, "12")
        session.add(Dating(plate_id=plate.id, edtf=edtf, trust=1.0))
    made = how_made(book, "12", AskedMaking(clues=("thin glass",)))
    assert made.kinds is not None
    assert made.kinds["wet plate"] == pytest.approx(wet, abs=0.001)
    assert "By its date alone" in page_text(made_words(made))


def test_a_trimmed_print_is_ranked_as_cut_down(book: Daybook) -> None:
    add(book, "12", None)
    made = how_made(book, "12", AskedMaking(sides="190x150", sides_sd_mm=0.5))
    assert made.sides is not None
    assert made.sides.guesses[0].trimmed
    assert any("no fix yet" in note for note in made.notes)
    with pytest.raises(InputError, match="cannot be read"):
        how_made(book, "12", AskedMaking(sides="a hand wide"))
    with pytest.raises(PlateError, match="plates have sides of"):
        how_made(book, "12", AskedMaking(sides="2160x1650"))
    with pytest.raises(InputError, match="exclude each other"):
        how_made(book, "12", AskedMaking(clues=("thin glass", "thick glass")))


def test_what_the_hills_say_of_left_and_right_multiplies_the_process_s_odds(
    book: Daybook,
) -> None:
    """Before 0.03, after 0.3: the hills' own odds are (0.3/0.7) / (0.03/0.97)."""
    told = answer(90.0, reversed_prior=[0.97, 0.03], reversed_probability=0.3)
    add(book, "12", told, process="glass negative")
    made = how_made(book, "12", AskedMaking())
    assert made.hills_odds == pytest.approx((0.3 / 0.7) / (0.03 / 0.97))
    assert made.reversal.by_all == pytest.approx(0.3)
    mirrored = how_made(book, "12", AskedMaking(readings=("writing is mirrored",)))
    assert mirrored.reversal.verdict == "reversed"


def shadow_at(bearing_deg: float, minutes: float) -> list[list[float]]:
    """Return foot, tip and top of a post's shadow on 3 June 1874 [px]."""
    camera = Camera(
        math.radians(bearing_deg), 0.0, 0.0, 3000.0, 0.0, 0.0, 0.0, WIDE_PX, HIGH_PX
    )
    when = seconds_of_day(1874, 6, 3) + 60.0 * minutes - 240.0 * LON
    sun = sun_at(np.array([when]), LON, LAT, 500.0)
    bearing, elevation = float(sun.bearing_rad[0]), float(sun.elevation_rad[0])
    foot = 100.0 * np.array(
        [math.sin(camera.bearing_rad), math.cos(camera.bearing_rad)]
    )
    reach = 8.0 / math.tan(elevation)
    tip = foot - reach * np.array([math.sin(bearing), math.cos(bearing)])
    points = np.array([[*foot, -20.0], [*tip, -20.0], [*foot, -12.0]])
    x, y = project(camera, points)
    return [[float(a), float(b)] for a, b in zip(x, y, strict=True)]


def test_minutes_between_plates_of_a_panorama_come_back(book: Daybook) -> None:
    for key, bearing, minutes in (("A", 200.0, 560.0), ("B", 240.0, 585.0)):
        add(book, key, answer(bearing), panorama="the bay")
        keep(book, key, "shadow", points_px=shadow_at(bearing, minutes),
             slope_sd_deg=0.2, lean_sd_deg=0.2, sd_px=1.0)  # fmt: skip
    with pytest.raises(InputError, match="one and the same"):
        minutes_apart(book, "A", "A")
    with book.writing("Ada") as session:
        plate = find(session, Plate, "A")
        session.add(
            Dating(plate_id=plate.id, of="exposed", edtf="1874-06-03", trust=1.0)
        )
    apart = minutes_apart(book, "A", "B")
    mean, sd = apart.found.mean_sd
    assert sd < 10.0
    assert abs(mean - 25.0) < 2.0 * sd
    assert apart.found.second_later > 0.9
    assert not any("one panorama?" in note for note in apart.notes)


def test_a_maker_s_plates_are_laid_in_order_and_impossible_ways_named(
    book: Daybook,
) -> None:
    maker_id = add_fell(book)
    # A degree of longitude at 46.1 N is some 77 km, 100 km by road: over two days.
    rows = (("a", 8.5, "1874-06-03"), ("b", 9.5, "1874-06-04"), ("c", 8.6, "1874-07"))
    for key, lon, edtf in rows:
        add(book, key, answer(90.0, lon), maker_id=maker_id, title=f"View {key}")
        with book.writing("Ada") as session:
            plate = find(session, Plate, key)
            session.add(Dating(plate_id=plate.id, of="exposed", edtf=edtf, trust=1.0))
    add(book, "d", None, maker_id=maker_id)
    found = journeys_of_maker(book, "fell")
    assert [one.stop.key for one in found.stops] == ["a", "b", "c"]
    assert [{one.start, one.end} for one, _ in found.contradict] == [{"a", "b"}]
    assert not found.journeys[0].possible
    assert found.left_out == ("d has no place yet.",)
    assert not journeys_of_maker(book, "fell", "railway").contradict
    trip = read_trip(
        "lon,lat,date\n8.5,46.1,1874-06-01,start\n8.7,46.1,1874-06-04", "t"
    )
    fits = journeys_of_maker(book, "fell", "cart", trip).stops
    assert [one.fits for one in fits] == [True, False, False]
    drawn = journeys_map(found)["features"]
    assert [one["geometry"]["type"] for one in drawn] == ["Point"] * 3 + [
        "LineString"
    ] * 2
    assert journeys_form(found)["stops"][2]["last_day"] == "1874-07-31"
    with pytest.raises(InputError, match="Line 1 of trip"):
        read_trip("here, there", "trip")
    with pytest.raises(InputError, match="No pace is known"):
        journeys_of_maker(book, "fell", "balloon")


def test_where_the_maker_was_bounds_the_date_and_is_kept_with_its_source(
    book: Daybook,
) -> None:
    """Two degrees of longitude at 46.1 N are 154 km, by road 201: 4.5 days by cart.

    So on the day itself and three days before and after it the maker was not here: of
    June 1874 23 days in 30 are left. Trusted 0.9, June weighs 0.9 * 23/30 + 0.1.
    """
    with book.writing("Ada") as session:
        maker = Maker(key="fell", name="Ben Fell", working_from_edtf="1870")
        session.add(maker)
        session.flush()
        maker_id = maker.id
        session.add(Source(key="diary", citation="Fell's diary"))
    add(book, "a", answer(90.0), maker_id=maker_id)
    add(book, "b", None, maker_id=maker_id)
    add(book, "c", None)
    with book.writing("Ada") as session:
        for key in ("a", "b"):
            plate = find(session, Plate, key)
            session.add(Dating(plate_id=plate.id, of="exposed", edtf="1874", trust=1.0))
        plate = find(session, Plate, "c")
        session.add(
            Statement(plate_id=plate.id, about="maker", words="by Fell, I think")
        )
    trip = trip_as_written("10.5,46.1,1874-06-15,the pass", "trip")
    keys = keep_trip(book, "fell", trip, "cart", "Ada", source="diary")
    whole = date_of_plate(book, "a", Given()).whole
    of_1874 = whole.probability[whole.probability > 0.0]
    assert of_1874[5] / of_1874[0] == pytest.approx(0.9 * 23.0 / 30.0 + 0.1)
    assert of_1874[4] == pytest.approx(of_1874[0])
    told = date_of_plate(book, "a", Given()).contributions
    assert any(each.group.name == keys[0] for each in told)
    # A stay from 1 March to 30 September rules these out, and three days each way.
    with book.writing("Ada") as session:
        find(session, Statement, keys[0]).means_edtf = "1874-03-01/1874-09-30"
    whole = date_of_plate(book, "a", Given()).whole
    of_1874 = whole.probability[whole.probability > 0.0]
    assert of_1874[5] / of_1874[0] == pytest.approx(0.1)
    assert of_1874[9] / of_1874[0] == pytest.approx(0.9 * 28.0 / 31.0 + 0.1)
    # Some day of June: every day of the month leaves one that is far enough off.
    with book.writing("Ada") as session:
        find(session, Statement, keys[0]).means_edtf = "1874-06"
    whole = date_of_plate(book, "a", Given()).whole
    assert np.ptp(whole.probability[whole.probability > 0.0]) < 1e-12
    # By railway the pass is half a day off: nothing is ruled out.
    with book.writing("Ada") as session:
        said = find(session, Statement, keys[0])
        said.more = {**(said.more or {}), "by": "railway"}
    whole = date_of_plate(book, "a", Given()).whole
    assert np.ptp(whole.probability[whole.probability > 0.0]) < 1e-12
    assert journeys_of_maker(book, "fell").stops[0].fits is not None
    waits = date_of_plate(book, "b", Given()).left_out
    assert (
        "Where Ben Fell was waits for a fix: the way from there is not known." in waits
    )
    undecided = date_of_plate(book, "c", Given()).left_out
    assert any("once somebody decides" in one for one in undecided)


def test_a_kept_period_dates_a_plate_in_its_maker_s_journeys(book: Daybook) -> None:
    """Film of 24 by 36 mm is of 1913 and later, as `when` has it."""
    maker_id = add_fell(book)
    add(book, "a", answer(90.0), maker_id=maker_id)
    keep(book, "a", "period", name="film 24x36 mm")
    (stop,) = journeys_of_maker(book, "fell").stops
    span = date_of_plate(book, "a", Given()).whole.interval(0.9)
    assert span is not None
    assert date.fromordinal(stop.stop.first_day) == date(*year_month(span.first), 1)


def test_withdrawn_whereabouts_bound_nothing_and_leave_no_words(book: Daybook) -> None:
    maker_id = add_fell(book)
    add(book, "a", answer(90.0), maker_id=maker_id)
    trip = trip_as_written("10.51234,46.1,1874-06-15,the Grey Pass", "trip")
    (key,) = keep_trip(book, "fell", trip, "cart", "Ada")
    assert date_of_plate(book, "a", Given()).whole.groups
    with book.reading() as session:
        said = find(session, Statement, key).id
    withdraw(book, Statement, said, person="Ada", why="asked to")
    told = date_of_plate(book, "a", Given())
    assert not told.whole.groups
    assert not any(key in one for one in told.left_out)
    assert not journeys_of_maker(book, "fell").journeys
    with book.reading() as session:
        stub = find(session, Statement, key)
        assert (stub.more, stub.means_edtf) == (None, None)
    for file in book.folder.rglob("*.sqlite*"):
        held = file.read_bytes()
        assert b"10.51234" not in held
        assert b"Grey Pass" not in held
