"""Check, by whole searches, that a fix of a daybook can be made again."""

from __future__ import annotations

import hashlib
import importlib.util
import json
import shutil
from pathlib import Path
from types import ModuleType

import numpy as np
import pyproj
import pytest
import rasterio
from affine import Affine
from PIL import Image

from wherestood import notebook
from wherestood.cli.app import run
from wherestood.daybook import Daybook, find
from wherestood.daybook.tables import Fix
from wherestood.earth.frame import Frame
from wherestood.evidence.file_write import write_evidence
from wherestood.terrain.model import Terrain

ONE_CENTIMETRE = 0.01
#: Of seven marks good to a pixel or two the ground left is 15 m across.
A_FEW_METRES = 30.0
CELL_M, HALF_M = 50.0, 4_000.0
SCAN, HILLS = "originals/plate.png", "terrain/hills.tif"
_WGS84 = pyproj.Geod(ellps="WGS84")


@pytest.fixture(scope="module")
def marked() -> ModuleType:
    path = Path(__file__).parents[1] / "fix" / "marked.py"
    spec = importlib.util.spec_from_file_location("invented_marks_again", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def land() -> Terrain:
    """Return invented hills, 8 km square, smooth."""
    at_m = np.arange(-HALF_M, HALF_M + 1.0, CELL_M)
    east, north = np.meshgrid(at_m, at_m)
    height_m = 200.0 + 120.0 * np.sin(east / 900.0) * np.cos(north / 1100.0)
    frame = Frame.local(-27.5, 41.2)
    height_m = height_m.astype(np.float32)
    return Terrain(height_m, -HALF_M, -HALF_M, CELL_M, frame, "ground", CELL_M)


@pytest.fixture
def valley(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, marked: ModuleType, land: Terrain
) -> Path:
    """Return a daybook of a plate with marks on known things; no pictures are drawn."""

    def save(_plate: notebook.LocatedPlate, folder: Path) -> tuple[Path, ...]:
        folder.mkdir(parents=True)
        return ()

    monkeypatch.setattr(notebook.LocatedPlate, "save", save)
    monkeypatch.setenv("WHERESTOOD_PERSON", "Ada Moss")
    folder = tmp_path / "valley"
    Daybook.create(folder).close()
    monkeypatch.chdir(folder)
    Image.new("L", (1200, 900), 120).save(SCAN)
    edge_m = HALF_M + CELL_M / 2.0
    with rasterio.open(
        HILLS, "w", driver="GTiff", height=land.elevation_m.shape[0],
        width=land.elevation_m.shape[1], count=1, dtype="float32", crs=land.frame.crs,
        transform=Affine(CELL_M, 0.0, -edge_m, 0.0, -CELL_M, edge_m),
    ) as file:  # fmt: skip
        file.write(land.elevation_m[::-1], 1)
    write_evidence(marked.evidence_of(land), tmp_path / "marks.toml")
    sha256 = hashlib.sha256(Path(SCAN).read_bytes()).hexdigest()
    hills = json.dumps([{"file": HILLS}])
    for words in (
        ("plates", "add", "1987.12", "--title", "Seven things"),
        ("scans", "add", "1987.12", "--file", SCAN, "--sha256", sha256),
        ("terrain", "add", "hills", "--files", hills, "--surface", "ground"),
        ("evidence", "take", "1987.12", str(tmp_path / "marks.toml")),
    ):
        assert run(words) == 0
    return folder


def test_a_whole_search_made_again_of_a_bag_gives_the_station_to_one_centimetre(
    valley: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    marked: ModuleType,
    land: Terrain,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Made again by somebody who has what was handed over, and nothing else."""
    lon_deg, lat_deg = map(float, land.frame.to_lonlat(*marked.STATION_M))
    searched = f" {lon_deg:.3f},{lat_deg:.3f},200m"
    asked = ("--no-skyline", "--within", searched, "--horizon-radius", "3")
    assert run(["fix", "1987.12", *asked]) == 0
    with Daybook.open(valley) as book, book.reading() as session:
        kept = find(session, Fix, "fix-1")
    bag, back = str(tmp_path / "valley.zip"), tmp_path / "at the reader's"
    assert run(["bag", bag]) == 0
    assert run(["unbag", bag, str(back)]) == 0
    monkeypatch.chdir(back)
    shutil.rmtree(valley)
    capsys.readouterr()
    assert run(["fixes", "again", "fix-1", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["apart_m"] <= ONE_CENTIMETRE
    assert (told["same"], told["verdict"]) == (True, "located")
    # It was searched for, and found: it stands where the invented camera stood.
    *_, off_m = _WGS84.inv(kept.lon_deg, kept.lat_deg, lon_deg, lat_deg)
    assert off_m < A_FEW_METRES
