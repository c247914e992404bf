"""Check ``wherestood ground`` on an invented place, as a person would call it."""

from __future__ import annotations

import importlib.util
import json
import subprocess
import warnings
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine
from PIL import Image

from wherestood.cli.app import run
from wherestood.fix.camera_draws import CameraDraws
from wherestood.record.fix_json import write_fix

Say = Callable[..., str]
COUNT = 120


@pytest.fixture(scope="module")
def scene():
    path = Path(__file__).parents[1] / "record" / "scene.py"
    spec = importlib.util.spec_from_file_location("invented_scene_for_ground", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def draws_of(fix, rng) -> CameraDraws:
    """Return cameras about a fix's own, 3 m and a tenth of a degree off."""
    answer, station = fix.camera, fix.station
    none = np.zeros(COUNT)
    return CameraDraws(
        rng.normal(station.east_m, 3.0, COUNT),
        rng.normal(station.north_m, 3.0, COUNT),
        rng.normal(station.height_m, 0.5, COUNT),
        rng.normal(np.radians(answer.grid_bearing_deg), np.radians(0.1), COUNT),
        rng.normal(np.radians(answer.tilt_deg), np.radians(0.05), COUNT),
        none,
        none + answer.principal_distance_px,
        none + answer.rise_px,
        none,
        none,
        none,
        none,
        none,
        none > 0.0,
    )


@pytest.fixture(scope="module")
def folder(scene, tmp_path_factory) -> Path:
    """Return a folder with a fix that is located, one that is not, and the terrain."""
    made = tmp_path_factory.mktemp("on the ground")
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
    for verdict in ("located", "several places"):
        fix, inputs = scene.scene(made, verdict)
        fix = replace(fix, draws=draws_of(fix, np.random.default_rng(6)))
        write_fix(made / f"{verdict}.json", fix, inputs, scene.MAKING)
    shapes = {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "properties": {"name": "old fence", "note": "posts"},
                "geometry": {
                    "type": "LineString",
                    "coordinates": [[650, 610], [850, 615]],
                },
            }
        ],
    }
    (made / "drawn.geojson").write_text(json.dumps(shapes))
    return made


@pytest.fixture
def say(folder, capsys, monkeypatch) -> Say:
    monkeypatch.setenv("COLUMNS", "100")
    monkeypatch.chdir(folder)

    def said(*words: str, code: int = 0) -> str:
        assert run(list(words)) == code
        told = capsys.readouterr()
        return told.out + told.err

    return said


def test_points_are_told_with_their_doubt_or_the_reason(say: Say) -> None:
    words = say(
        "ground", "points", "located.json", "--terrain", "hills.tif",
        "--at", "300,630", "--at", "800,20", "--terrain-sd", "1",
    )  # fmt: skip
    assert "Nine times in ten within" in words
    assert "800, 20 looks over all ground" in words
    assert "not settled" not in words


def test_json_holds_the_caution_of_a_place_that_is_not_settled(
    folder: Path, capsys, monkeypatch
) -> None:
    monkeypatch.chdir(folder)
    line = ["ground", "points", "several places.json", "--terrain", "hills.tif"]
    assert run([*line, "--at", "300,630", "--terrain-sd", "1", "--json"]) == 0
    told = capsys.readouterr()
    form = json.loads(told.out)
    assert "not settled (several places)" in form["caution"]
    assert "not settled" in told.err
    point = form["points"][0]
    assert point["what"] == "ground"
    assert point["nearest_m"] < point["distance_m"] < point["farthest_m"]
    # No camera was drawn at the second place: its single doubts serve, as is said.
    assert run([*line, "--at", "300,630", "--place", "2"]) == 0
    assert "hardly any cameras there" in capsys.readouterr().err


@pytest.mark.outside_program("ogrinfo")
def test_drawn_lines_are_read_by_gdal(say: Say, folder: Path) -> None:
    words = say(
        "ground", "drawn", "located.json", "--terrain", "hills.tif",
        "--shapes", "drawn.geojson", "--out", "map.gpkg", "--terrain-sd", "1",
    )  # fmt: skip
    assert "old fence" in words
    told = subprocess.run(
        ["ogrinfo", "-al", str(folder / "map.gpkg")],
        capture_output=True, text=True, check=True,
    ).stdout  # fmt: skip
    assert "name (String) = old fence" in told
    assert "drawn on plate" in told
    assert "No evidence of a boundary" in told
    assert "LINESTRING" in told
    assert "WGS 84" in told


def test_map_is_drawn_on_the_plate(say: Say, folder: Path) -> None:
    say(
        "ground", "drawn", "located.json", "--terrain", "hills.tif",
        "--shapes", "drawn.geojson", "--out", "map.geojson", "--terrain-sd", "1",
    )  # fmt: skip
    words = say(
        "ground", "onto-plate", "located.json", "--terrain", "hills.tif",
        "--features", "map.geojson", "--scan", "invented-plate.png", "--out", "look",
        "--terrain-sd", "1",
    )  # fmt: skip
    assert "old fence: in sight" in words
    form = json.loads((folder / "look" / "on-plate.json").read_text())
    at = np.array(form["features"][0]["pieces"][0]["points_px"])
    assert np.abs(at[:, 1] - 612.5).max() < 12.0
    assert (folder / "look" / "on-plate.png").stat().st_size > 10_000


def test_bad_input_is_refused_in_words(say: Say) -> None:
    assert "no point of the scan" in say(
        "ground", "points", "located.json", "--terrain", "hills.tif", "--at", "8",
        code=2,
    )  # fmt: skip
    assert "--terrain" in say("ground", "points", "located.json", "--at", "8,9", code=2)
    assert "End the name in" in say(
        "ground", "drawn", "located.json", "--terrain", "hills.tif",
        "--shapes", "drawn.geojson", "--out", "map.xyz", code=2,
    )  # fmt: skip


def test_sizes_and_worth_are_told_in_words(say: Say) -> None:
    ground = ["--terrain", "hills.tif", "--terrain-sd", "1"]
    words = say(
        "ground", "size", "located.json", *ground, "--foot", "300,630",
        "--top", "300,620", "--at", "300,630", "--at", "360,630",
    )  # fmt: skip
    assert "Height: " in words
    assert "Length over the ground: " in words
    assert "One pixel there is" in words
    assert "hardly worth mapping from" in say(
        "ground", "worth", "located.json", *ground
    )
    assert "nothing to measure" in say(
        "ground", "size", "located.json", *ground, "--foot", "1,2", code=2
    )


def test_ground_in_sight_is_written_where_it_lies(
    say: Say, folder: Path, scene
) -> None:
    words = say(
        "ground", "seen", "several places.json", "--terrain", "hills.tif",
        "--out", "seen.tif",
    )  # fmt: skip
    assert "In sight of the camera" in words
    with rasterio.open(folder / "seen.tif") as file:
        seen, framed = file.read()
        assert "not settled" in file.tags()["caution"]
        land = scene.terrain()
        assert seen.shape == land.elevation_m.shape
        east, north = file.xy(0, 0)
        assert abs(east - land.west_m) < 1.0
        top = land.south_m + (seen.shape[0] - 1) * land.cell_m
        assert abs(north - top) < 1.0
    assert np.all(framed <= seen)
    assert 0.0 < seen.mean() < 1.0


def test_view_is_drawn_from_the_fix_and_from_another_place(
    say: Say, folder: Path, scene
) -> None:
    ground = ("--terrain", "hills.tif", "--width", "400")
    say("ground", "view", "located.json", *ground, "--out", "view.png")
    # The demo's ground lies over itself in one colour: all that is seen has it.
    land = scene.terrain()
    with rasterio.open(folder / "hills.tif") as hills:
        profile = {**hills.profile, "dtype": "uint8", "count": 3, "nodata": None}
        paint = np.full((3, hills.height, hills.width), 20, np.uint8)
    paint[1] = 230
    with rasterio.open(folder / "green.tif", "w", **profile) as file:
        file.write(paint)
    lon, lat = land.frame.to_lonlat(np.array([900.0]), np.array([-400.0]))
    say(
        "ground", "view", "located.json", *ground, "--out", "there.png", "--drape",
        "green.tif", "--at", f"{lon[0]},{lat[0]}", "--no-ridge-lines", "--haze", "0",
    )  # fmt: skip
    with Image.open(folder / "view.png") as drawn:
        assert drawn.mode == "L"
        assert drawn.size == (400, 300)
        here = np.asarray(drawn)
    with Image.open(folder / "there.png") as drawn:
        there = np.asarray(drawn).astype(int)
    sky = np.ptp(there, axis=2) == 0
    assert 0.05 < sky.mean() < 0.95
    assert (there[~sky][:, 1] > there[~sky][:, 0] + 60).mean() > 0.99
    assert not np.array_equal(here > 240, sky)
    assert "no picture that can be laid" in say(
        "ground", "view", "located.json", *ground, "--drape", "located.json", code=2
    )


def test_every_pixel_gets_a_distance_and_the_scan_a_map(say: Say, folder: Path) -> None:
    """A plate whose tone is its column shows, on the map, the column of each place."""
    tones = np.rint(np.tile(np.linspace(0, 255, 1600), (1200, 1))).astype(np.uint8)
    Image.fromarray(tones).save(folder / "ramp.png")
    say(
        "ground", "raster", "located.json", "--terrain", "hills.tif",
        "--scan", "ramp.png", "--out", "rasters", "--positions", "--cell", "5",
        "--farthest", "4",
    )  # fmt: skip
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", rasterio.errors.NotGeoreferencedWarning)
        with rasterio.open(folder / "rasters" / "distance.tif") as file:
            assert (file.width, file.height, file.count) == (1600, 1200, 4)
            distance, _, east, north = file.read()
    with rasterio.open(folder / "rasters" / "on-the-map.tif") as file:
        laid = file.read(1)
        some = distance[::10, ::10]
        told = (some > 1000.0) & (some < 3900.0)
        rows, columns = rasterio.transform.rowcol(
            file.transform, east[::10, ::10][told], north[::10, ::10][told]
        )
    rows, columns = np.array(rows), np.array(columns)
    inside = (rows >= 0) & (rows < laid.shape[0])
    inside &= (columns >= 0) & (columns < laid.shape[1])
    shown = laid[rows[inside], columns[inside]]
    x = np.broadcast_to(np.arange(0.5, 1600.0, 10.0), told.shape)[told][inside]
    both = np.isfinite(shown)
    assert both.mean() > 0.5
    # A cell of 5 m is 9.5 px wide at 1 km, a step of 8 bits 6.3 px: half of both.
    off_px = np.abs(1600.0 * shown - x)[both]
    assert np.quantile(off_px, 0.95) < 0.5 * (9.5 + 6.3), np.quantile(off_px, 0.95)
