"""Check the field sheet as a person would call for it, and read it back."""

from __future__ import annotations

import base64
import importlib.util
import io
import json
import re
import subprocess
from dataclasses import replace
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
import rasterio
from affine import Affine
from PIL import Image

from wherestood.cli.app import run
from wherestood.fix.camera_draws import CameraDraws
from wherestood.record.fix_json import write_fix
from wherestood.visit.sheet_page import _called

COUNT = 120
#: Of the tones from black to white.
A_THIRD = 85.0
#: Distance [m], and how far right of the middle of the view [rad].
PLACES = {"gate & post": (28.0, 0.03), "rock": (34.0, -0.06), "peak": (3000.0, 0.0)}


@pytest.fixture(scope="module")
def scene():
    path = Path(__file__).parents[1] / "record" / "scene.py"
    spec = importlib.util.spec_from_file_location("invented_scene_to_visit", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def folder(scene, tmp_path_factory) -> Path:
    made = tmp_path_factory.mktemp("visit")
    land = scene.terrain()
    heights = land.elevation_m[::-1]
    with rasterio.open(
        made / "hills.tif", "w", driver="GTiff", dtype="float32", count=1,
        height=heights.shape[0], width=heights.shape[1], crs=land.frame.crs,
        transform=Affine(
            land.cell_m, 0, land.west_m - land.cell_m / 2, 0, -land.cell_m,
            land.south_m + (heights.shape[0] - 0.5) * land.cell_m,
        ),
    ) as file:  # fmt: skip
        file.write(heights, 1)
    rng = np.random.default_rng(6)
    none = np.zeros(COUNT)
    for verdict in ("located", "several places"):
        fix, inputs = scene.scene(made, verdict)
        camera = fix.camera
        draws = CameraDraws(
            rng.normal(0.0, 3.0, COUNT), rng.normal(0.0, 3.0, COUNT),
            none + fix.station.height_m,
            none + np.radians(camera.grid_bearing_deg), none, none,
            none + camera.principal_distance_px, none + camera.rise_px, none, none,
            none, none, none, none > 0.0,
        )  # fmt: skip
        fix = replace(fix, draws=draws)
        write_fix(made / f"{verdict}.json", fix, inputs, scene.MAKING)
    bearing = np.radians(scene.BEARING_DEG)
    features = []
    for name, (away, turn) in PLACES.items():
        lon, lat = land.frame.to_lonlat(
            np.array([away * np.sin(bearing + turn)]),
            np.array([away * np.cos(bearing + turn)]),
        )
        point = {"type": "Point", "coordinates": [float(lon[0]), float(lat[0])]}
        told = {"type": "Feature", "properties": {"name": name}, "geometry": point}
        features.append(told)
    form = {"type": "FeatureCollection", "features": features}
    (made / "near.geojson").write_text(json.dumps(form))
    return made


@pytest.fixture
def say(folder, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "100")
    monkeypatch.chdir(folder)

    def said(*words: str, code: int = 0) -> str:
        line = ["field-sheet", *words, "--terrain", "hills.tif", "--day", "2026-05-31"]
        assert run(line) == code
        told = capsys.readouterr()
        return told.out + told.err

    return said


def pages(path: Path) -> list[str]:
    document = pypdfium2.PdfDocument(str(path))
    return [page.get_textpage().get_text_range() for page in document]


def test_sheet_of_a_settled_place_is_one_or_two_pages(say, folder) -> None:
    words = say(
        "located.json", "--features", "near.geojson", "--out", "one",
        "--scan", "invented-plate.png",
    )  # fmt: skip
    assert "38.0° true" in words
    assert "magnetic" in words
    assert "gate & post" in words
    told = pages(folder / "one" / "field-sheet.pdf")
    assert len(told) <= 2
    text = " ".join(told)
    assert "Stand here" in text
    assert "not settled" not in text
    assert "gate & post" in text
    assert "never step backwards" in text
    page = (folder / "one" / "field-sheet.html").read_text(encoding="utf-8")
    assert "gate &amp; post" in page
    assert "http" not in page  # nothing is fetched
    assert page.count("data:image/png;base64,") == 2


@pytest.mark.parametrize(
    ("name", "heading"),
    [("plate", "the plate"), ("VW 14", "plate VW 14"), ("Plate 3", "Plate 3")],
)
def test_plate_is_called_plate_once(name, heading) -> None:
    assert _called(name) == heading


def test_sheet_of_an_unsettled_place_says_so_on_its_face(say, folder) -> None:
    say("several places.json", "--out", "three")
    for text in (
        pages(folder / "three" / "field-sheet.pdf")[0],
        (folder / "three" / "field-sheet.html").read_text(encoding="utf-8"),
        (folder / "three" / "field-sheet.gpx").read_text(encoding="utf-8"),
    ):
        assert "not settled (several places)" in text
    first = pages(folder / "three" / "field-sheet.pdf")[0]
    assert "Place 1" in first
    assert "Place 2" in first


@pytest.mark.outside_program("ogrinfo")
def test_waypoints_are_read_by_gdal(say, folder, scene) -> None:
    say("located.json", "--features", "near.geojson", "--out", "gdal")
    told = subprocess.run(
        ["ogrinfo", "-al", str(folder / "gdal" / "field-sheet.gpx")],
        capture_output=True, text=True, check=True,
    ).stdout  # fmt: skip
    assert "name (String) = Camera" in told
    assert "name (String) = gate & post" in told
    assert f"POINT ({scene.LON_DEG}" in told
    assert "Holds the camera 9 times in 10" in told


@pytest.mark.usefixtures("say")
def test_no_compass_bearing_is_told_outside_the_models_years(capsys) -> None:
    line = ["field-sheet", "located.json", "--terrain", "hills.tif", "--out", "old"]
    assert run([*line, "--day", "1931-06-01"]) == 0
    told = capsys.readouterr()
    assert "By compass" not in told.out
    assert "No compass bearing" in told.err
    assert run([*line, "--day", "June"]) == 2


def test_sheet_without_near_things_says_that_nothing_tells_the_last_metres(
    say,
) -> None:
    assert "nothing tells the last metres" in say("located.json", "--out", "far")


def test_gaps_read_off_the_spot_tell_the_way_to_it(say, scene) -> None:
    """Read 1 m to the right of the spot, looking 38 degrees: it lies north-west."""
    line = ["located.json", "--features", "near.geojson", "--out", "gaps"]
    line += ["--feature-sd", "0.05"]
    told = say(*line, "--json")
    form = json.loads(told[told.index("{") : told.rindex("}") + 1])
    look, right = np.radians(scene.BEARING_DEG), np.radians(scene.BEARING_DEG + 90.0)
    at = np.array([np.sin(right), np.cos(right)])

    def bearing_deg(name: str) -> float:
        away, turn = PLACES[name]
        off = away * np.array([np.sin(look + turn), np.cos(look + turn)]) - at
        return float(np.degrees(np.arctan2(*off)))

    gaps = []
    for number, (sentence, _) in enumerate(form["pairs"], start=1):
        far = re.search(r"spot (.*?) \(", sentence)[1]
        near = re.search(r" (?:right|left|line) (?:of|with) (.*?) \(", sentence)[1]
        gaps += ["--gap", f"{number}={bearing_deg(far) - bearing_deg(near):.3f}"]
    words = say(*line, *gaps)
    assert re.search(r"north-west of where they were read, by (1\.|0\.9)", words), words
    assert "There is no pair 9" in say(*line, "--gap", "9=1", code=2)
    assert "is no gap" in say(*line, "--gap", "x", code=2)


def test_a_scan_left_for_right_is_shown_as_the_view_was(say, folder) -> None:
    """The same fix with its camera's hand turned."""
    form = json.loads((folder / "located.json").read_text(encoding="utf-8"))
    form["camera"]["reversed"] = True
    (folder / "turned.json").write_text(json.dumps(form), encoding="utf-8")
    with Image.open(folder / "invented-plate.png") as scan:
        width, height = scan.size
    ramp = np.broadcast_to(np.linspace(20.0, 230.0, width), (height, width))
    Image.fromarray(ramp.astype(np.uint8)).save(folder / "ramp.png")
    said = say("turned.json", "--out", "turned", "--scan", "ramp.png")
    assert "left for right" in said
    page = (folder / "turned" / "field-sheet.html").read_text(encoding="utf-8")
    encoded = page.split("data:image/png;base64,")[2].split('"')[0]
    with Image.open(io.BytesIO(base64.b64decode(encoded))) as opened:
        shown = np.asarray(opened.convert("L"), dtype=np.float64).mean(axis=0)
    # Dark on the scan's left, bright on its right: on the sheet the other way.
    assert shown[: shown.size // 3].mean() > shown[-shown.size // 3 :].mean() + A_THIRD
