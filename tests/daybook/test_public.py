"""Check that a copy for the public gives no hidden place away.

Places and people are invented.
"""

from __future__ import annotations

import json
import subprocess
import sys
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pyproj
import pytest
from PIL import Image
from sqlalchemy import select

from wherestood.daybook import Daybook, find
from wherestood.daybook.change_items import add_item
from wherestood.daybook.handing_out import Wanted, gather
from wherestood.daybook.originals import take_in
from wherestood.daybook.precision import restricted, restricted_plates
from wherestood.daybook.public import public_rows, write_public_copy
from wherestood.daybook.public.coarse import coarse_place
from wherestood.daybook.public.people import Unnamed
from wherestood.daybook.public.pictures import forbidden_pictures
from wherestood.daybook.report_made import report_of_plates
from wherestood.daybook.tables import (
    PRECISIONS,
    Decision,
    Detail,
    Feature,
    Fix,
    Maker,
    Plan,
    Plate,
    ProposedPosition,
    Restriction,
    Setting,
    Source,
)
from wherestood.errors import InputError

LON, LAT = 8.512345, 46.103456
HALF_A_DIAGONAL = 0.5**0.5
ADA = "Ada Moss"
WGS84 = pyproj.Geod(ellps="WGS84")


@pytest.fixture
def filled(daybook: Daybook, tmp_path: Path) -> Daybook:
    """Return three plates with answers: one hidden to 1 km, one withheld, one free."""
    for number, key in enumerate(("hidden", "secret", "free")):
        tones = np.random.default_rng(number).integers(0, 255, (24, 32), dtype=np.uint8)
        picture = Image.fromarray(tones).resize((128, 96))
        exif = Image.Exif()
        exif[0x010E] = "Rose Cottage, from the Quexley road"
        source = tmp_path / f"Quexley {key}.jpg"
        picture.save(source, exif=exif, quality=95)
        words = {
            "title": "Garden at Quexley", "place_words": "Rose Cottage, Quexley",
            "description": "Looking up the garden", "note": f"only of {key}",
            "inscription": "Q 12", "date_words": "3 May 1871, noon",
            "subjects": ["gardens", "Quexley"],
        }  # fmt: skip
        take_in(daybook, key, source, ADA, new_plate=words)
        _answered(daybook, key)
    told = {"published_words": "the upper valley", "published_title": "A garden"}
    restrict(daybook, "hidden", precision="1 km", **told)
    restrict(daybook, "secret", precision="withheld", because="a burial ground")
    return daybook


def _answered(daybook: Daybook, key: str) -> None:
    with daybook.writing(ADA) as session:
        plate = find(session, Plate, key)
        fix = Fix(
            plate_id=plate.id, made="2026-01-02T03:04:05+00:00", verdict="located",
            lon_deg=LON, lat_deg=LAT, near_enough_m=50.0,
            answer={"camera": {"sight": {"bearing_deg": 211.27}}},
        )  # fmt: skip
        session.add(fix)
        session.flush()
        session.add(
            Decision(
                plate_id=plate.id, fix_id=fix.id, conclusion="accepted",
                words="the gable is Mrs Quill's", decided_by=ADA,
                decided="2026-01-03T00:00:00+00:00",
            )
        )  # fmt: skip


def restrict(daybook: Daybook, key: str, table: str = "plates", **fields: str) -> None:
    add_item(daybook, "restrictions", fields, ADA, about=(table, key))


def everything_in(folder: Path) -> bytes:
    return b"\n".join(p.read_bytes() for p in folder.rglob("*") if p.is_file())


def test_a_square_holds_its_place_and_is_as_large_as_it_says() -> None:
    draw = np.random.default_rng(3)
    for precision, side_m in (("100 m", 100.0), ("1 km", 1000.0)):
        for _ in range(200):
            lon, lat = draw.uniform(-180, 180), draw.uniform(-85, 85)
            square = coarse_place(lon, lat, precision)
            assert square is not None
            assert square.side_m == side_m
            _, _, apart_m = WGS84.inv(lon, lat, square.lon_deg, square.lat_deg)
            # A hundredth for the earth's flattening and the digits told.
            assert apart_m <= 1.01 * HALF_A_DIAGONAL * side_m + 2.0


def test_all_places_of_one_square_are_told_alike() -> None:
    """So that two exports, or two plates from one spot, tell no more than one."""
    told = {
        coarse_place(8.5 + east, 46.1 + north, "1 km")
        for east in np.linspace(0.0, 0.05, 60)
        for north in np.linspace(0.0, 0.05, 60)
    }
    # 5.6 by 3.9 km: 5 to 7 rows of 4 to 6 squares, each row with its own columns.
    assert 20 <= len(told) <= 42


def test_region_only_and_withheld_tell_no_place() -> None:
    assert coarse_place(LON, LAT, "region only") is None
    assert coarse_place(LON, LAT, "withheld") is None
    exact = coarse_place(LON, LAT, "exact")
    assert exact is not None
    assert (exact.lon_deg, exact.lat_deg, exact.side_m) == (LON, LAT, None)


@pytest.mark.parametrize("new_daybook", ["sqlite"], indirect=True)
def test_a_public_copy_holds_nothing_from_which_a_hidden_place_could_be_found(
    filled: Daybook, tmp_path: Path
) -> None:
    made = write_public_copy(filled, tmp_path / "public")
    assert (made.plates, made.pictures, made.positions, made.restricted) == (3, 3, 3, 2)
    data = tmp_path / "public" / "data"
    everything = everything_in(tmp_path / "public")
    assert b"only of free" in everything
    for word in (
        b"only of hidden",
        b"only of secret",
        b"Quill",
        b"originals",
        b"sqlite",
        b"Exif",
        b"burial",
        b"Quexley h",
    ):
        assert word not in everything, word
    told = json.loads((data / "positions.geojson").read_text("utf-8"))
    by_plate = {one["properties"]["plate"]: one for one in told["features"]}
    free, hidden, secret = (by_plate[key] for key in ("free", "hidden", "secret"))
    assert free["geometry"]["coordinates"] == [LON, LAT]
    assert free["properties"]["looks_towards_deg"] == 211.3
    assert hidden["properties"]["square_side_m"] == 1000.0
    assert hidden["properties"]["place"] == "the upper valley"
    lon, lat = hidden["geometry"]["coordinates"]
    _, _, apart_m = WGS84.inv(LON, LAT, lon, lat)
    assert 0.0 < apart_m <= 1.01 * HALF_A_DIAGONAL * 1000.0
    assert secret["geometry"] is None
    for one in (hidden, secret):
        assert "looks_towards_deg" not in one["properties"]
        assert "sd_east_m" not in one["properties"]
    with filled.reading() as session:
        rows = {row["accession number"]: row for row, _ in public_rows(session)}
    assert rows["free"]["place"] == "Rose Cottage, Quexley"
    assert rows["hidden"]["place"] == "the upper valley"
    assert (rows["hidden"]["title"], rows["secret"]["title"]) == ("A garden", "")
    for key in ("hidden", "secret"):
        row = rows[key]
        assert (row["subjects"], row["date"]) == ("gardens", "1871")
        assert row["description"] == row["note"] == row["inscription"] == ""
    assert all(row["file"] == "" for row in rows.values())
    assert {row["licence"] for row in rows.values()} == {"UNKNOWN"}
    readme = " ".join((data / "README.txt").read_text("utf-8").split())
    assert "THE PICTURE ITSELF MAY STILL GIVE THE PLACE AWAY" in readme


@pytest.mark.parametrize("new_daybook", ["sqlite"], indirect=True)
@pytest.mark.parametrize("name", ["public", "public.zip"])
def test_an_independent_program_finds_the_public_copy_whole(
    filled: Daybook, tmp_path: Path, name: str
) -> None:
    made = write_public_copy(filled, tmp_path / name)
    folder = made.path
    if name.endswith(".zip"):
        with zipfile.ZipFile(made.path) as packed:
            packed.extractall(tmp_path / "out")
        folder = tmp_path / "out" / "public"
    done = subprocess.run(
        [sys.executable, "-m", "bagit", "--validate", str(folder)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "Access: public copy" in (folder / "bag-info.txt").read_text("utf-8")
    with Image.open(folder / "data" / "pictures" / "free.jpg") as picture:
        assert picture.size == (128, 96)
        assert not picture.getexif()


def test_what_lies_on_a_plate_or_is_tied_to_it_hides_the_plate_too(
    daybook: Daybook,
) -> None:
    point = {"type": "Point", "coordinates": [8.5, 46.1]}
    for key in ("a", "b", "c"):
        add_item(daybook, "plates", {}, ADA, address=key)
    add_item(daybook, "features", {"geometry": point}, ADA, address="grave")
    add_item(daybook, "details", {"feature": "grave"}, ADA, address="a/A")
    tied = [{"feature": "grave", "weight": 1.0}]
    fields = {"points_px": [[1.0, 2.0]], "features": tied}
    add_item(daybook, "marks", fields, ADA, address="b/M")
    restrict(daybook, "grave", "features", precision="withheld")
    restrict(daybook, "b/M", "marks", precision="1 km")
    with daybook.reading() as session:
        limits = restricted_plates(session)
        told = {
            plate: limits[find(session, Plate, plate).id].precision
            for plate in ("a", "b")
        }
        assert find(session, Plate, "c").id not in limits
    assert told == {"a": "withheld", "b": "withheld"}


@pytest.mark.parametrize("new_daybook", ["sqlite"], indirect=True)
def test_no_row_of_a_withheld_plate_names_its_place_in_any_form(
    daybook: Daybook, tmp_path: Path
) -> None:
    """Short and common names, inflected ones, ones without spaces, things withheld."""
    naming = {
        "a": ("Abend in Ötz", "Ötz", "Ötz"),
        "b": ("Mill Valley, looking north", "Mill Valley", "Valley Mill Trust"),
        "c": ("谷村の水車", "谷村", "谷村の人"),
        "d": ("Am Qualmsteiner Weg", "Qualmstein", "Qualmsteiner Verein"),
        "e": ("Below the Quexhorn", "", "Quexhorn"),
        "f": ("Below the Rexhorn", "", "Rexhorns"),
        "Qualmsteiner 3": ("", "Qualmstein", ""),
    }
    for key, (title, place, subject) in naming.items():
        words = {"title": title, "place_words": place, "subjects": [subject, "gardens"]}
        words |= {"collection": f"{subject} museum", "held_by": f"{subject} museum"}
        add_item(daybook, "plates", words, ADA, address=key)
        restrict(daybook, key, precision="withheld")
        fields = {"what": "image", "holder": f"{subject} museum", "licence": "free"}
        add_item(daybook, "rights", fields, ADA, about=("plates", key))
    point = {"type": "Point", "coordinates": [8.5, 46.1]}
    for key, name in (("top", "Quexhorn"), ("peak", "Rexhorn")):
        add_item(daybook, "features", {"geometry": point}, ADA, address=key)
        add_item(daybook, "feature_names", {"feature": key, "name": name}, ADA)
        restrict(daybook, key, "features", precision="withheld")
    tied = [{"feature": "top", "weight": 1.0}]
    fields = {"points_px": [[1.0, 2.0]], "features": tied}
    add_item(daybook, "marks", fields, ADA, address="e/M")
    told = {"kind": "hidden", "content": {"feature": "peak"}}
    add_item(daybook, "evidence", told, ADA, address="f/E")
    write_public_copy(daybook, tmp_path / "public")
    gathered = gather(daybook, Wanted("public"))
    everything = everything_in(tmp_path / "public").decode() + repr(gathered.handed)
    for word in ("Ötz", "Mill", "谷", "ualmstein", "uexhorn", "exhorn"):
        assert word not in everything, word
    assert everything.count("gardens") >= 2 * 6
    assert "Image: withheld, as it names the place." in everything


@pytest.mark.parametrize("new_daybook", ["sqlite"], indirect=True)
@pytest.mark.parametrize("what", ["words", None])
def test_a_right_in_words_or_in_all_of_a_plate_holds_in_every_public_form(
    daybook: Daybook, tmp_path: Path, what: str | None
) -> None:
    words = {"title": "The Quillgate", "description": "a long poem", "note": "poems"}
    add_item(daybook, "plates", words, ADA, address="a")
    fields = {"may_be_published": False} | ({"what": what} if what else {})
    add_item(daybook, "rights", fields, ADA, about=("plates", "a"))
    made = write_public_copy(daybook, tmp_path / "public")
    with daybook.reading() as session:
        pictures = forbidden_pictures(session)
    (report,) = report_of_plates(daybook, ["a"], public=True).plates
    gathered = gather(daybook, Wanted("public"))
    told = everything_in(tmp_path / "public").decode() + repr(gathered.handed)
    told += repr((report.title, report.catalogue))
    assert "poem" not in told
    assert ("Quillgate" in told) == (what == "words")
    assert [one.plate for one in pictures] == ([] if what else ["a"])
    assert {one.what for one in made.left_out} >= {"description", "note"}
    broken = {one.what for one in gathered.broken}
    assert broken == ({"words"} if what else {"words", "picture"})


def test_nobody_who_may_not_be_named_stands_in_any_public_form(
    filled: Daybook, tmp_path: Path
) -> None:
    plain = {"name": "Philomena Quexworth", "may_be_named": "no"}
    add_item(filled, "informants", plain, ADA)
    signed = {"name": "山田 花子", "may_be_named": "initials"}
    add_item(filled, "informants", signed, ADA)
    new = {"title": "QUEXWORTHS at home", "note": "Asked PHILOMENA QUEXWORTH, 山田さん",
           "held_by": "Philomena_Quexworth"}  # fmt: skip
    add_item(filled, "plates", new, ADA, address="Quexworth 7")
    detail = {"what": "Mrs QUEXWORTH's gate", "crop_px": [1, 1, 9, 9]}
    add_item(filled, "details", detail, ADA, address="Quexworth 7/A")
    add_item(filled, "features", {"what": "Quexworth Farm"}, ADA, address="farm")
    with filled.writing(ADA) as session:
        feature = find(session, Feature, "farm")
        find(session, Detail, "Quexworth 7/A").feature_id = feature.id
    write_public_copy(filled, tmp_path / "out")
    handed = gather(filled, Wanted("public")).handed
    told = everything_in(tmp_path / "out").decode("utf-8", "replace") + repr(handed)
    assert "quexworth" not in told.lower()
    assert "philomena" not in told.lower()
    assert "山田" not in told
    assert "山. 花." in told or "somebody who is not named" in told
    assert {one.key for one in handed.features} == {"farm"}
    assert any(one.features == ("farm",) for one in handed.plates)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("Ana rang, Anatol did not", "NOBODY rang, Anatol did not"),
        ("Vex album, VEX 7, vexed", "NOBODY album, NOBODY 7, vexed"),
        ("the fisher and FISHER's boat", "the fisher and NOBODY's boat"),
        ("Jo Fisher's, jo fisher, J. O. Fishing", "NOBODY's, NOBODY, J. O. NOBODY"),
    ],
)
def test_short_names_are_taken_out_where_they_are_names(text: str, told: str) -> None:
    people = Unnamed(dict.fromkeys(("Ana", "Jo Fisher", "Tamsin Vex"), "NOBODY"))
    assert people.taken_out_of(text).replace("Fishing", "NOBODY") == told


def test_a_place_that_was_proposed_by_a_hidden_one_is_warned_of(
    daybook: Daybook,
) -> None:
    """An arc of 0.001 deg is 111 m."""
    for key, lat in (("told", LAT), ("hidden", LAT + 0.001)):
        add_item(daybook, "plates", {}, ADA, address=key)
        place = {"plate": key, "lon_deg": LON, "lat_deg": lat, "proposed_by": "B. Fen"}
        add_item(daybook, "proposed_positions", place, ADA)
    restrict(daybook, "hidden", precision="withheld")
    assert gather(daybook, Wanted("public")).cautions == ()
    with daybook.reading() as session:
        told = find(session, Plate, "told").id
        of_it = select(ProposedPosition.key).where(ProposedPosition.plate_id == told)
        place_key = session.scalars(of_it).one()
    decision = {"plate": "told", "proposed-position": place_key}
    decision |= {"conclusion": "accepted", "words": "so it is"}
    add_item(daybook, "decisions", decision, ADA)
    (caution,) = gather(daybook, Wanted("public")).cautions
    assert "111 m from that of hidden" in caution


def test_a_restriction_holds_until_its_day_is_over(daybook: Daybook) -> None:
    add_item(daybook, "plates", {}, ADA, address="a")
    restrict(daybook, "a", precision="1 km", until_edtf="2031-05")
    restrict(daybook, "a", precision="100 m", until_edtf="2040~")
    told = {}
    for day in ("2031-05-31", "2031-06-01", "2090-01-01"):
        daybook.clock = lambda day=day: datetime.fromisoformat(day).replace(tzinfo=UTC)
        with daybook.reading() as session:
            plate = find(session, Plate, "a")
            told[day] = restricted(session, plate).precision
            assert restricted_plates(session)[plate.id].precision == told[day]
    assert told == {
        "2031-05-31": "1 km", "2031-06-01": "100 m", "2090-01-01": "100 m",
    }  # fmt: skip


def test_a_restriction_holds_for_what_is_drawn_from_what_it_is_about(
    daybook: Daybook,
) -> None:
    """Of an informant, a source, a plan, a maker: the plates and features it led to."""
    for key in ("told", "read", "drawn", "made", "free"):
        add_item(daybook, "plates", {"title": key}, ADA, address=key)
    add_item(daybook, "informants", {"name": "W. Fell"}, ADA)
    add_item(daybook, "sources", {"citation": "Herald, 3 May"}, ADA)
    add_item(daybook, "makers", {"name": "J. Thorn"}, ADA)
    for plate, field, of in (
        ("told", "informant", "informant-1"), ("read", "source", "source-1"),
    ):  # fmt: skip
        said = {"plate": plate, "words": "by the weir", field: of}
        add_item(daybook, "statements", said, ADA)
    with daybook.writing(ADA) as session:
        plan = Plan(title="rates", file="terrain/a.tif", sha256="0" * 64)
        session.add(plan)
        find(session, Plate, "made").maker_id = find(session, Maker, "maker-1").id
        session.flush()
        weir = Feature(key="weir", what="weir", plan_id=plan.id)
        well = Feature(key="well", source_id=find(session, Source, "source-1").id)
        session.add_all((weir, well))
        session.flush()
        on = find(session, Plate, "drawn").id
        session.add(Detail(plate_id=on, key="A", feature_id=weir.id))
        plan_key = plan.key
    for table, key in (
        ("informants", "informant-1"), ("sources", "source-1"), ("plans", plan_key),
        ("makers", "maker-1"),
    ):  # fmt: skip
        restrict(daybook, key, table, precision="withheld")
    with daybook.reading() as session:
        limits = restricted_plates(session)
        plates = {p.key: p.id for p in session.scalars(select(Plate))}
        held = {key for key, one in plates.items() if one in limits}
        assert held == {"told", "read", "drawn", "made"}
        for key in ("weir", "well"):
            assert restricted(session, find(session, Feature, key)).precision == (
                "withheld"
            )
    with pytest.raises(InputError, match="means nothing for a setting"):
        daybook_setting(daybook)


def test_a_restriction_that_restricts_nothing_is_refused(daybook: Daybook) -> None:
    add_item(daybook, "plates", {}, ADA, address="P")
    with pytest.raises(InputError, match="restricts nothing"):
        restrict(daybook, "P", because="her garden")


def daybook_setting(daybook: Daybook) -> None:
    with daybook.writing(ADA) as session:
        one = Setting(key="any", value={})
        session.add(one)
        session.flush()
        session.add(
            Restriction(
                about_table="settings", about_id=one.id, precision="withheld"
            )
        )  # fmt: skip


def test_the_strictest_precision_holds_whatever_the_order(daybook: Daybook) -> None:
    for number, first in enumerate(PRECISIONS):
        for second in PRECISIONS:
            key = f"{number} {second}"
            add_item(daybook, "plates", {}, ADA, address=key)
            restrict(daybook, key, precision=first)
            restrict(daybook, key, precision=second)
            with daybook.reading() as session:
                found = restricted(session, find(session, Plate, key)).precision
            assert found == max(first, second, key=PRECISIONS.index)


@pytest.mark.parametrize("new_daybook", ["sqlite"], indirect=True)
def test_covered_and_forbidden_pictures_stay_out_and_are_named(
    filled: Daybook, tmp_path: Path
) -> None:
    restrict(filled, "free/1", "scans", covered="yes")
    add_item(
        filled, "rights", {"what": "scan", "may_be_published": False}, ADA,
        about=("plates", "hidden"),
    )  # fmt: skip
    with filled.reading() as session:
        assert [one.plate for one in forbidden_pictures(session)] == ["hidden"]
    made = write_public_copy(filled, tmp_path / "public")
    pictures = tmp_path / "public" / "data" / "pictures"
    assert [path.name for path in pictures.iterdir()] == ["secret.jpg"]
    out = {one.plate: one.why for one in made.left_out if one.what == "picture"}
    assert out == {"free": "it is covered", "hidden": "scan may not be published"}


@pytest.mark.parametrize("new_daybook", ["sqlite"], indirect=True)
def test_a_copy_that_cannot_be_written_leaves_nothing(
    filled: Daybook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as broken:

        def fails(*_: object) -> None:
            raise KeyboardInterrupt

        broken.setattr("wherestood.daybook.public.copy.write_picture", fails)
        with pytest.raises(KeyboardInterrupt):
            write_public_copy(filled, tmp_path / "out" / "public")
    assert list((tmp_path / "out").iterdir()) == []
    write_public_copy(filled, tmp_path / "out" / "public")
    with pytest.raises(InputError, match="already"):
        write_public_copy(filled, tmp_path / "out" / "public")
