"""Test then and now on a rendered pair whose truth is known, and on bad input."""

from __future__ import annotations

import importlib.util
import sys
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from wherestood.demo.ground import GroundGrid
from wherestood.errors import InputError
from wherestood.plate.photograph import read_photograph
from wherestood.plate.scan import Plate
from wherestood.visit.asked_of_photograph import ask_of, settled_photograph
from wherestood.visit.marks_file import read_marks
from wherestood.visit.photo_camera import PhotoCamera
from wherestood.visit.photograph_compared import compare_photograph
from wherestood.visit.then_and_now_page import then_and_now_page
from wherestood.visit.then_and_now_words import offset_sentences, told_sentences
from wherestood.visit.write_then_and_now import (
    THEN_AND_NOW_FILES,
    write_then_and_now,
)

NOW = datetime(2026, 6, 1, 12, 0)
ONE_MICRON = 1e-6
#: Asked of the program: a place within a fifth of how far off it was, or 0.3 m.
SHARE, LEAST_M = 0.2, 0.3
#: And unchanged parts within this of one another.
MISS_PX = 1.5
#: Of three unknowns 99 in 100 lie within this squared distance (chi-squared, 3).
NEARLY_ALL = 11.34


@pytest.fixture(scope="module")
def study():
    path = Path(__file__).parents[2] / "benchmarks" / "then_and_now.py"
    spec = importlib.util.spec_from_file_location("benchmark_then_and_now", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def made(study):
    """Hills of a formula: a paddock that falls away before a far range."""
    at = (np.arange(48) - 23.5) * 60.0
    east, north = np.meshgrid(at, at)
    heights = 40.0 + 26.0 * np.sin(east / 310.0) * np.cos(north / 270.0)
    heights += 150.0 * np.exp(-(((north - 1100.0) / 320.0) ** 2))
    heights += 110.0 * np.exp(-(((east + 1000.0) / 300.0) ** 2))
    ground = GroundGrid(heights.astype(np.float32), at[0], at[0], 60.0, 41.2, -27.5)
    return study.scene(5, ground, 800)


@pytest.fixture(scope="module")
def compared(study, made):
    return study.compare(made, 5, by_hand=True)


def test_photographer_is_told_how_far_off_he_stood(compared) -> None:
    assert compared.told.told
    assert compared.off_m < max(SHARE * np.linalg.norm(compared.truth_m), LEAST_M)
    assert compared.square < NEARLY_ALL


def test_unchanged_parts_lie_on_one_another(compared) -> None:
    assert np.nanmedian(compared.miss_px) < MISS_PX


def test_words_say_what_is_told(compared) -> None:
    words = " ".join([*offset_sentences(compared.told), *told_sentences(compared.told)])
    assert "You stood" in words
    assert "give or take" in words
    assert "agree on both pictures" in words


def test_page_and_pictures_are_written_of_one_size(
    study, made, compared, tmp_path
) -> None:
    rng = np.random.default_rng(1)
    for name, light in (("then", made.then_light), ("now", made.now_light)):
        grey = (study.tones(light, rng) * 255).astype(np.uint8)
        Image.fromarray(np.dstack([grey] * 3)).save(tmp_path / f"{name}.png")
    files = write_then_and_now(
        tmp_path / "out", compared.told, Plate.open(tmp_path / "then.png"),
        read_photograph(tmp_path / "now.png"), "Invented", ("1868", "2026"), ["Told."],
    )  # fmt: skip
    assert [path.name for path in files] == list(THEN_AND_NOW_FILES)
    pictures = []
    for path in files[1:]:
        with Image.open(path) as picture:
            assert picture.size == (800, 600)
            pictures.append(np.asarray(picture.convert("L"), dtype=np.float64))
    far = np.s_[150:260, 100:700]  # hills, as far as they show alike
    alike = np.corrcoef(pictures[0][far].ravel(), pictures[1][far].ravel())[0, 1]
    assert alike > 0.5
    assert files[0].read_text(encoding="utf-8").count("data:image/jpeg;base64,") == 2


def test_photograph_goes_where_a_thing_lies() -> None:
    """A thing 20 m ahead shows, from 1 m to the right, 1 in 20 to the left."""
    values = np.zeros(10)
    values[0] = 1.0
    camera = PhotoCamera(values, 800, 600)
    at = camera.pixels(np.array([[0.0, 1.0, 0.0]]), np.array([1.0 / 20.0]))[0]
    assert at[0] == pytest.approx(400.0 - 1000.0 / 20.0, abs=ONE_MICRON)
    assert at[1] == pytest.approx(300.0, abs=ONE_MICRON)
    other = PhotoCamera(values, 800, 600, mirrored=True)
    turned = other.pixels(np.array([[0.0, 1.0, 0.0]]), np.array([1.0 / 20.0]))[0]
    assert turned[0] == pytest.approx(450.0, abs=ONE_MICRON)


def photo(path: Path, *, gps=None, exif=None, orientation: int | None = None) -> Path:
    tags = Image.Exif()
    if gps:
        tags.get_ifd(0x8825).update(gps)
    if exif:
        tags.get_ifd(0x8769).update(exif)
    if orientation:
        tags[0x0112] = orientation
    Image.new("RGB", (640, 480), (90, 110, 140)).save(path, exif=tags)
    return path


FULL_GPS = {
    1: "S", 2: (41.0, 12.0, 36.0), 3: "W", 4: (27.0, 30.0, 0.0), 16: "T", 17: 38.5,
    31: 6.0,
}  # fmt: skip


def test_what_a_camera_wrote_is_read(tmp_path) -> None:
    path = photo(
        tmp_path / "a.jpg", gps=FULL_GPS,
        exif={0x9003: "2026:05:31 10:20:00", 0xA405: 26},
    )  # fmt: skip
    found = read_photograph(path)
    assert found.lat_deg == pytest.approx(-41.21)
    assert found.lon_deg == pytest.approx(-27.5)
    assert found.position_sd_m == pytest.approx(6.0)
    assert found.heading_deg == pytest.approx(38.5)
    assert found.heading_magnetic is False
    assert found.taken == datetime(2026, 5, 31, 10, 20)
    # CIPA DC-008: told for the diagonal of 36 by 24 mm.
    diagonal = np.hypot(640, 480)
    told = found.principal_distance_px
    assert told == pytest.approx(26.0 / np.hypot(36.0, 24.0) * diagonal)
    assert ask_of(found, NOW) == []


def test_what_is_missing_is_asked_and_not_assumed(tmp_path) -> None:
    found = read_photograph(photo(tmp_path / "bare.jpg"))
    assert [one.what for one in ask_of(found, NOW)] == [
        "position", "heading", "lens", "time",
    ]  # fmt: skip
    with pytest.raises(InputError, match=r"where it was made.*which way it looks"):
        settled_photograph(found, NOW)
    said = settled_photograph(
        found, NOW, place=(8.5, 46.1), focal_35_mm=26.0, not_known=["heading", "time"]
    )
    assert (said.lon_deg, said.lat_deg, said.taken) == (8.5, 46.1, None)
    with pytest.raises(InputError, match="Choose from"):
        settled_photograph(found, NOW, not_known=["weather"])


@pytest.mark.parametrize(
    "clock", ["2031:01:05 10:00:00", "1980:01:01 00:00:00", "2019:01:01 07:43:10"]
)
def test_a_clock_that_cannot_be_right_is_asked_about(tmp_path, clock) -> None:
    path = photo(tmp_path / "c.jpg", gps=FULL_GPS, exif={0x9003: clock, 0xA405: 26})
    asked = ask_of(read_photograph(path), NOW)
    assert [one.what for one in asked] == ["time"]


@pytest.mark.parametrize(
    ("clock", "right"),
    [
        ("2026:05:31 10:20:00", True), ("2026:05:30 21:30:00", True),
        ("2026:05:29 10:20:00", False), ("2025:05:31 10:20:00", False),
    ],
)  # fmt: skip
def test_a_clock_is_held_against_the_receivers(tmp_path, clock, right) -> None:
    """Satellites say 31 May, 8:20 universal time; a zone is 14 hours off at most."""
    gps = {**FULL_GPS, 7: (8.0, 20.0, 0.0), 29: "2026:05:31"}
    path = photo(tmp_path / "s.jpg", gps=gps, exif={0x9003: clock, 0xA405: 26})
    found = read_photograph(path)
    assert found.received == datetime(2026, 5, 31, 8, 20)
    asked = ask_of(found, NOW)
    assert ([one.what for one in asked] == []) is right
    if not right:
        assert "no zone lies so far off" in asked[0].sentence
    said = settled_photograph(found, NOW, taken=datetime(2026, 5, 31, 10, 20))
    assert said.taken == datetime(2026, 5, 31, 10, 20)


def test_a_mirrored_photograph_is_asked_about(tmp_path) -> None:
    path = photo(
        tmp_path / "m.jpg", gps=FULL_GPS, orientation=2,
        exif={0x9003: "2026:05:31 10:20:00", 0xA405: 26},
    )  # fmt: skip
    found = read_photograph(path)
    assert [one.what for one in ask_of(found, NOW)] == ["mirrored"]
    assert ask_of(found, NOW, mirrored=False) == []


def test_marks_off_the_picture_are_refused_by_line(tmp_path) -> None:
    path = tmp_path / "marks.csv"
    head = "plate_x_px,plate_y_px,photo_x_px,photo_y_px,distance_m\n"
    path.write_text(head + "10,20,30,40,12.5\n50,60,70,80,\n")
    found = read_marks(path, (100, 100), (200, 200))
    assert len(found) == 2
    assert found.distance_m[0] == 12.5
    assert np.isnan(found.distance_m[1])
    path.write_text(head + "10,20,30,400,\n")
    with pytest.raises(InputError, match=r"line 2.*off the photograph"):
        read_marks(path, (100, 100), (200, 200))
    path.write_text(head + "10,x,30,40,\n")
    with pytest.raises(InputError, match=r"line 2.*no number"):
        read_marks(path, (100, 100), (200, 200))
    path.write_text("x,y\n1,2\n")
    with pytest.raises(InputError, match="no column"):
        read_marks(path, (100, 100), (200, 200))


def test_page_works_alone() -> None:
    page = then_and_now_page(
        "A & B", b"then", b"now", (800, 600), ("1868", "2026"), ["You stood <there>."],
        "The place is not settled.",
    )  # fmt: skip
    assert "http:" not in page
    assert "https:" not in page
    assert "A &amp; B" in page
    assert "&lt;there&gt;" in page
    assert "not settled" in page
    for way in ("swipe", "fade", "blink", "beside"):
        assert f'value="{way}"' in page
    assert "@" not in page.replace("@media", "")


def test_leaving_parts_out_shows_what_one_part_alone_says() -> None:
    """Five parts say 1 m, one says 7: without each the mean is 2, and 1 without it."""
    from wherestood.visit.left_out_parts import moved_by_parts, parts_of_view

    inverse = np.repeat([0.1, 0.01, 0.001], 40)
    x = np.tile(np.arange(40.0), 3)
    part = parts_of_view(inverse, x)
    assert np.unique(part, return_counts=True)[1].tolist() == [20] * 6
    says = np.where(part == 5, 7.0, 1.0)
    moved = moved_by_parts(part, lambda kept: np.array([says[kept].mean()]))
    # Kuensch: (6 - 1) / 6 of the squares about the mean of 2.2 five times and 1.
    answers = np.array([2.2] * 5 + [1.0])
    assert moved[0, 0] == pytest.approx(5.0 / 6.0 * ((answers - 2.0) ** 2).sum())
    alike = moved_by_parts(part, lambda _: np.array([1.0]))
    assert alike[0, 0] == 0.0


def test_answer_that_much_does_not_agree_with_is_not_told(compared) -> None:
    told = replace(compared.told, left_out=len(compared.told.pairs))
    assert not told.told
    assert "does not agree" in offset_sentences(told)[0]


def test_a_photograph_of_another_place_and_another_scan_are_refused(
    study, made, tmp_path
) -> None:
    rng = np.random.default_rng(2)
    mapping = study.mapping_of(made, rng)
    grey = (study.tones(made.then_light, rng) * 255).astype(np.uint8)
    Image.fromarray(grey).save(tmp_path / "then.png")
    plate = Plate.open(tmp_path / "then.png")
    found = read_photograph(photo(tmp_path / "far.jpg", gps=FULL_GPS))
    east = {"lat": -41.21, "lon": -27.45, "sd_east_m": 5.0, "sd_north_m": None}
    with pytest.raises(InputError, match=r"made 4\.2 km from"):
        compare_photograph(mapping, east, plate, found, NOW.date(), rng)
    here = {**east, "lon": -27.5}
    Image.new("L", (64, 48)).save(tmp_path / "small.png")
    small = Plate.open(tmp_path / "small.png")
    with pytest.raises(InputError, match="64 x 48 px"):
        compare_photograph(mapping, here, small, found, NOW.date(), rng)
