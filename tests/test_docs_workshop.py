"""Run every command that the pages show, as their reader would, in a workshop.

The workshop holds what the pages name: ``scan.tif``, ``valley.tif``, ``answer``, a
daybook with plates 1987.12 and 1987.13, and so on; place, people and plates are
invented. Each page has a workshop of its own, and its commands are run in their order.
Two things stand aside, since they have tests of their own: the search for a place
answers at once, with the answer that belongs to the scene, and all scans show one
picture, whose lines are the scene's. What is drawn is drawn coarsely.
"""

from __future__ import annotations

import importlib.util
import json
import re
import shlex
import shutil
import zipfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import openpyxl
import pyogrio
import pytest
import rasterio
from affine import Affine
from PIL import Image, ImageFilter
from sqlalchemy import select

from wherestood import notebook
from wherestood.cli.app import run
from wherestood.daybook import Daybook, report_made
from wherestood.daybook.sheet_number import numbers_of
from wherestood.daybook.tables import Lead
from wherestood.fix.camera_draws import CameraDraws
from wherestood.plate import inner_ridges, trace
from wherestood.plate.copies.joined import joined_picture

ROOT = Path(__file__).parents[1]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
FENCE = re.compile(r"^```(?:sh|console)?\n(.*?)^```", re.M | re.S)
COMMAND = re.compile(r"(?:\.venv/bin/)?wherestood (.*)")
LON_DEG, LAT_DEG = 8.5, 46.1  # as the pages have it
WIDTH_PX, HEIGHT_PX, DISTANCE_PX = 1600, 1320, 1900.0
COUNT = 60
COARSE = 30  # dots an inch: nobody looks at these
#: Where pictures are drawn, by the name of what says how finely.
DRAWN = {
    "DPI": ("record.against", "record.checks_plot", "record.comparison",
            "record.horizon_strip", "record.map", "record.report.figures",
            "record.side_by_side", "record.traced"),
    "_DPI": ("record.on_plate", "visit.sheet_pictures"),
}  # fmt: skip
#: A photograph is laid over the plate as coarsely, and as few points weighed.
LAID = (("visit.photograph_compared", "LONGEST_PX", 640),
        ("visit.weighed_pairs", "_MOST_ASKED", 150))  # fmt: skip
#: What cannot be run here, and where it is.
ELSEWHERE = {
    "serve my-valley": "runs until it is ended: tests/server/test_in_the_browser.py",
    "locate left.tif middle.tif right.tif": "tests/fix/test_locate_panorama.py",
}
#: What would be the same again on another page.
ONCE = ("trace", "locate", "horizon", "report answer")
ADA = "Ada Moss"
#: The number of a query sheet on the pages; a sheet's own takes its place.
SHEET_NUMBER = "3F09A2Q"
#: What says nothing where all is well.
QUIET = ("history",)


def _commands(page: Path) -> list[str]:
    found = []
    for block in FENCE.findall(page.read_text(encoding="utf-8")):
        for line in block.replace("\\\n", " ").splitlines():
            if told := COMMAND.fullmatch(line.strip()):
                found.append(told[1])
    return found


WITH_COMMANDS = [page for page in PAGES if _commands(page)]


@pytest.fixture(scope="module")
def scene() -> ModuleType:
    path = Path(__file__).parent / "record" / "scene.py"
    spec = importlib.util.spec_from_file_location("invented_scene_of_pages", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    module.LON_DEG, module.LAT_DEG = LON_DEG, LAT_DEG  # type: ignore[attr-defined]
    module.WIDTH_PX, module.HEIGHT_PX = WIDTH_PX, HEIGHT_PX  # type: ignore[attr-defined]
    module.DISTANCE_PX = DISTANCE_PX  # type: ignore[attr-defined]
    return module


def _draws(fix: Any) -> CameraDraws:
    """Return cameras about a fix's own, 3 m and a tenth of a degree off."""
    rng, camera, at = np.random.default_rng(6), fix.camera, fix.station
    none = np.zeros(COUNT)
    return CameraDraws(
        rng.normal(at.east_m, 3.0, COUNT), rng.normal(at.north_m, 3.0, COUNT),
        rng.normal(at.height_m, 0.5, COUNT),
        rng.normal(np.radians(camera.grid_bearing_deg), np.radians(0.1), COUNT),
        rng.normal(0.0, np.radians(0.05), COUNT), none,
        none + camera.principal_distance_px, none + camera.rise_px, none, none, none,
        none, none, none > 0.0,
    )  # fmt: skip


@pytest.fixture(scope="module")
def answers(scene: ModuleType, tmp_path_factory: pytest.TempPathFactory) -> list[Any]:
    """Return the answers of two plates, 250 m apart, and what they were made from."""
    folder = tmp_path_factory.mktemp("scene")
    fix, inputs = scene.scene(folder)
    beside = replace(fix, station=scene.station(250.0, 0.0), camera=scene.camera(34.0))
    return [replace(one, draws=_draws(one)) for one in (fix, beside)] + [inputs]


def _at(answers: list[Any], east_m: float, north_m: float) -> tuple[float, float]:
    frame = answers[2].terrain.frame
    lon, lat = frame.to_lonlat(np.array([east_m]), np.array([north_m]))
    return float(lon[0]), float(lat[0])


def _shown(
    answers: list[Any], number: int, east_m: float, north_m: float
) -> list[float]:
    """Return where a thing on the ground shows through the camera of an answer."""
    fix, land = answers[number], answers[2].terrain
    east, north = east_m - fix.station.east_m, north_m - fix.station.north_m
    row, column = ((v + 10_000.0) / land.cell_m for v in (north_m, east_m))
    up = land.elevation_m[round(row), round(column)] - fix.station.height_m
    ahead = np.arctan2(east, north) - np.radians(fix.camera.bearing_deg)
    away = np.hypot(east, north) * np.cos(ahead)
    return [
        float(WIDTH_PX / 2 + DISTANCE_PX * np.tan(ahead)),
        float(HEIGHT_PX / 2 + fix.camera.rise_px - DISTANCE_PX * up / away),
    ]


@pytest.fixture(scope="module")
def calm() -> Iterator[pytest.MonkeyPatch]:
    with pytest.MonkeyPatch.context() as patch:
        yield patch


@pytest.fixture(scope="module")
def made(
    answers: list[Any],
    tmp_path_factory: pytest.TempPathFactory,
    calm: pytest.MonkeyPatch,
) -> Path:
    """Return the workshop, of which each page gets a copy."""
    place = tmp_path_factory.mktemp("workshop")
    turn = iter([0, 0, 1])
    calm.setattr(notebook, "_search", lambda *_: answers[next(turn, 0)])
    # Traced lines have tests of their own: tests/plate, tests/test_cli.py.
    calm.setattr(trace, "trace_skyline", lambda *_, **__: answers[2].skyline)
    calm.setattr(inner_ridges, "trace_ridges", lambda *_, **__: ())
    # What a report is drawn with has tests of its own.
    calm.setattr(report_made, "plate_pictures", lambda *_, **__: ((), ()))
    # Scans are laid on one another coarsely, and drawn so.
    module = importlib.import_module("wherestood.plate.copies.register")
    calm.setattr(module, "SIZES_PX", (400,))
    calm.setattr(joined_picture, "__defaults__", (300,))
    for name, modules in DRAWN.items():
        for one in modules:
            calm.setattr(importlib.import_module(f"wherestood.{one}"), name, COARSE)
    for one, name, value in LAID:
        calm.setattr(importlib.import_module(f"wherestood.{one}"), name, value)
    calm.setenv("WHERESTOOD_PERSON", ADA)
    calm.setenv("COLUMNS", "100")
    calm.setenv("WHERESTOOD_DAYBOOK", str(place / "book"))
    calm.chdir(place)
    _files(place, answers)
    within = f"{LON_DEG},{LAT_DEG},3km"
    for words in (
        f"locate scan.tif --terrain valley.tif --within {within} --size 'whole plate'"
        " --surface ground --out answer",
        "daybook new book",
        "take-in original.tif --plate 1987.12 --new",
        "take-in copy.tif --plate 1987.12",
        "take-in beside.tif --plate 1987.13 --new",
        "plates add VW14 --title 'The church from the gate'",
        "terrain-in valley.tif --surface ground",
        "gazetteer-in things.geojson",
        *(
            f"details add 1987.{plate}/{key} --what post"
            for plate, keys in (("12", "AB"), ("13", "CF"))
            for key in keys
        ),
        f"fix 1987.12 --within {within}",
        f"fix 1987.13 --within {within}",
        "report 1987.12 --issue --form html --out issued",
        "bag their-copy.zip",
    ):
        assert run(shlex.split(words)) == 0, words
    _marks(place / "book", answers)
    return place


POSTS_M = {"A": (500.0, 800.0), "B": (900.0, 900.0)}


def _marks(book: Path, answers: list[Any]) -> None:
    """Mark on both plates what stands at one place."""
    for number, plate, keys in ((0, "1987.12", "AB"), (1, "1987.13", "CF")):
        for key, at_m in zip(keys, POSTS_M.values(), strict=True):
            x_px, y_px = _shown(answers, number, *at_m)
            words = ["marks", "add", f"{plate}/{key}", "--detail", f"{plate}/{key}",
                     "--shape", "point", "--points-px", f"{x_px:.2f},{y_px:.2f}",
                     "--sd-px", "1", "--at", "ground"]  # fmt: skip
            assert run(words) == 0
    assert book.is_dir()


def _files(place: Path, answers: list[Any]) -> None:
    """Write what the pages name."""
    land, inputs = answers[2].terrain, answers[2]
    # Without its grain, which is what registering would look at for long.
    picture = Image.open(inputs.plate.path).filter(ImageFilter.GaussianBlur(2.0))
    (place / "scans-of-may").mkdir()
    for name in ("scan", "original", "copy", "beside", "scans-of-may/VW14"):
        picture.save(place / f"{name}.tif")
        picture = picture.point(lambda tone: min(255, tone + 1))
    exif = Image.Exif()
    exif[0x0132] = "2026:05:31 10:20:00"
    held = exif.get_ifd(0x8769)
    held[0x9003], held[0xA405] = "2026:05:31 10:20:00", 41
    lon, lat = _at(answers, 0.0, 0.0)
    exif.get_ifd(0x8825).update(
        {1: "N", 2: (lat, 0.0, 0.0), 3: "E", 4: (lon, 0.0, 0.0), 16: "T", 17: 38.0}
    )
    small = picture.resize((WIDTH_PX // 2, HEIGHT_PX // 2)).convert("RGB")
    small.save(place / "photograph.jpg", exif=exif, quality=95)
    _write_heights(place / "valley.tif", land, 0.0)
    _write_heights(place / "tile.tif", land, 0.5)  # another model of the same ground
    with rasterio.open(
        place / "parish-plan.tif", "w", driver="GTiff", dtype="uint8", count=1,
        height=200, width=200, crs=land.frame.crs,
        transform=Affine(10.0, 0, 0, 0, -10.0, 2000.0),
    ) as file:  # fmt: skip
        file.write(np.tile(np.arange(200, dtype=np.uint8), (200, 1)), 1)
    with zipfile.ZipFile(place / "tiles.zip", "w") as packed:
        packed.write(place / "tile.tif", "tile.tif")
    things = {
        "church": (900.0, 1500.0), "gate post": (210.0, 330.0),
        "tower": (1500.0, 2100.0), "oak": (320.0, 380.0),
    }  # fmt: skip
    named = [
        ({"name": name}, "Point", _at(answers, *at)) for name, at in things.items()
    ]
    fence = [[650.0, 670.0], [850.0, 675.0]]
    ring_m = ((300, 500), (700, 500), (700, 900), (300, 500))
    square = [_at(answers, *at) for at in ring_m]
    for name, rows in (
        ("near-and-far.geojson", named),
        ("things.geojson", named),
        ("fence.geojson", [({"name": "fence"}, "LineString", fence)]),
        ("parcels.geojson", [({"name": "lot 3"}, "Polygon", [square])]),
    ):
        told = [
            {"type": "Feature", "properties": about,
             "geometry": {"type": kind, "coordinates": at}}
            for about, kind, at in rows
        ]  # fmt: skip
        form = {"type": "FeatureCollection", "features": told}
        (place / name).write_text(json.dumps(form), encoding="utf-8")
    for source, target in (("parcels", "parcels"), ("things", "places")):
        meta, _, shapes, fields = pyogrio.raw.read(place / f"{source}.geojson")
        pyogrio.raw.write(
            place / f"{target}.gpkg", shapes, fields, meta["fields"],
            geometry_type=meta["geometry_type"], crs="EPSG:4326",
        )  # fmt: skip
    (place / "deed.txt").write_text(
        "214 30', 12 chains 50 links\nN 55 1/2 W, 8 chains\n34 30, 12 chains 52 links\n"
        "S 55 45 E for 7 chains 2 links\n", encoding="utf-8",
    )  # fmt: skip
    sheet = openpyxl.Workbook()
    sheet.active.append(["Inv. No.", "title"])
    sheet.active.append(["2001.3", "A bridge"])
    sheet.save(place / "register.xlsx")
    corners = [(150, 200), (1500, 260), (1400, 1200), (240, 1100), (700, 700)]
    rows = [f"{scan},{x},{y},1,{x},{y}" for scan in (2, 3) for x, y in corners]
    (place / "points.csv").write_text(
        "\n".join(["scan,x_px,y_px,onto,onto_x_px,onto_y_px", *rows]), encoding="utf-8"
    )
    pairs = [f"{x},{y},{x / 2},{y / 2}" for x, y in corners]
    (place / "both.csv").write_text(
        "\n".join(["plate_x_px,plate_y_px,photo_x_px,photo_y_px", *pairs]),
        encoding="utf-8",
    )
    (place / "filled-sheet.csv").write_text(
        "what,thing,other,value,sd,lon_deg,lat_deg,words\nday,,,,,,,2026-05-31\n"
        f"stood,,,,5,{LON_DEG},{LAT_DEG},\n", encoding="utf-8",
    )  # fmt: skip


def _write_heights(path: Path, land: Any, more_m: float) -> None:
    """Write every second node of the ground: it is coarse enough for the pages."""
    heights, cell_m = land.elevation_m[::-2, ::2] + np.float32(more_m), 2 * land.cell_m
    top_m = land.south_m + (land.elevation_m.shape[0] - 1) * land.cell_m + cell_m / 2
    with rasterio.open(
        path, "w", driver="GTiff", dtype="float32", count=1, height=heights.shape[0],
        width=heights.shape[1], crs=land.frame.crs,
        transform=Affine(cell_m, 0, land.west_m - cell_m / 2, 0, -cell_m, top_m),
    ) as file:  # fmt: skip
        file.write(heights, 1)


@pytest.mark.parametrize("page", WITH_COMMANDS, ids=lambda page: page.name)
def test_every_command_of_a_page_does_what_it_says(
    page: Path,
    made: Path,
    once: set[str],
    tmp_path: Path,
    calm: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    place = tmp_path / "place"
    shutil.copytree(made, place)
    calm.chdir(place)
    calm.setenv("WHERESTOOD_DAYBOOK", str(place / "book"))
    number = ""
    for words in _commands(page):
        if words.startswith(tuple(ELSEWHERE)) or words in once:
            continue
        if words.startswith(ONCE):
            once.add(words)
        if words.startswith("fix ") and page.name == "daybook.md":
            _with_scan()
        told = shlex.split(words.replace(SHEET_NUMBER, number))
        capsys.readouterr()
        assert run(told) == 0, (words, capsys.readouterr().err)
        said = capsys.readouterr().out
        if told[:2] == ["daybook", "new"]:
            # From here on the page is about this daybook.
            calm.setenv("WHERESTOOD_DAYBOOK", str(place / told[2]))
        if told[0] == "ask":
            number = _number(place / "book")
        assert said or told[0] in QUIET, words


@pytest.fixture(scope="module")
def once() -> set[str]:
    """Hold the commands that would be the same again on another page."""
    return set()


def _with_scan() -> None:
    """Give a daybook of a page what its reader has of their own."""
    assert run(["take-in", "scan.tif", "--plate", "1987.12"]) == 0
    assert run(["terrain-in", "valley.tif", "--surface", "ground"]) == 0


def _number(book: Path) -> str:
    """Return the number that the sheet of the newest lead has."""
    with Daybook.open(book) as opened, opened.reading() as session:
        lead = session.scalars(select(Lead).order_by(Lead.key.desc())).first()
        assert lead is not None
        return numbers_of(lead.id)[0]


def test_what_is_run_elsewhere_is_shown_on_some_page() -> None:
    shown = [words for page in WITH_COMMANDS for words in _commands(page)]
    for begins in ELSEWHERE:
        assert any(words.startswith(begins) for words in shown), begins
