"""Check ``wherestood fix`` and ``fixes again``, the search itself standing aside."""

from __future__ import annotations

import hashlib
import importlib.util
import json
import shutil
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
import rasterio
from affine import Affine

from wherestood import notebook
from wherestood.cli.app import run
from wherestood.evidence import traced_lines
from wherestood.plate.skyline import write_skyline_csv

Say = Callable[..., str]
SCAN, HILLS = "originals/plate.png", "terrain/hills.tif"


@pytest.fixture(scope="module")
def scene() -> ModuleType:
    path = Path(__file__).parents[1] / "record" / "scene.py"
    spec = importlib.util.spec_from_file_location("invented_scene_for_fix", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def asked() -> list[Any]:
    """Return what the search was asked, each time."""
    return []


@pytest.fixture
def say(
    scene: ModuleType,
    asked: list[Any],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> Say:
    """Return what runs a command in a daybook that holds a plate, scan and ground."""
    fix, inputs = scene.scene(tmp_path)
    folder = tmp_path / "my valley"
    assert run(["daybook", "new", str(folder)]) == 0
    shutil.copy(inputs.plate.path, folder / SCAN)
    _write_terrain(folder / HILLS, inputs.terrain)
    write_skyline_csv(inputs.skyline, tmp_path / "line.csv")
    monkeypatch.setenv("WHERESTOOD_PERSON", "Ada Moss")
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.chdir(folder)

    def search(*given: Any) -> Any:
        asked.append(given)
        return fix

    monkeypatch.setattr(notebook, "_search", search)

    def command(*words: str, code: int = 0) -> str:
        capsys.readouterr()
        assert run(words) == code, capsys.readouterr()
        told = capsys.readouterr()
        return told.out if code == 0 else told.err

    sha256 = hashlib.sha256((folder / SCAN).read_bytes()).hexdigest()
    command("plates", "add", "1987.12", "--near-enough-m", "50", "--footing", "roof")
    command("scans", "add", "1987.12", "--file", SCAN, "--sha256", sha256)
    files = json.dumps([{"file": HILLS}])
    command("terrain", "add", "hills", "--files", files, "--surface", "ground")
    line = json.dumps({"csv": (tmp_path / "line.csv").read_text("utf-8")})
    command(
        "evidence", "add", "1987.12/sky", "--kind", "skyline", "--content", line
    )  # fmt: skip
    return command


@pytest.fixture
def undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Draw no pictures: that is slow, and others look at them."""

    def save(_plate: notebook.LocatedPlate, folder: Path) -> tuple[Path, ...]:
        folder.mkdir(parents=True)
        return ()

    monkeypatch.setattr(notebook.LocatedPlate, "save", save)


def _write_terrain(path: Path, land: Any) -> None:
    rows, columns = land.elevation_m.shape
    top_m = land.south_m + (rows - 0.5) * land.cell_m
    west_m = land.west_m - land.cell_m / 2
    with rasterio.open(
        path, "w", driver="GTiff", height=rows, width=columns, count=1,
        dtype="float32", crs=land.frame.crs,
        transform=Affine(land.cell_m, 0.0, west_m, 0.0, -land.cell_m, top_m),
    ) as file:  # fmt: skip
        file.write(land.elevation_m[::-1], 1)


def test_fix_asks_with_all_the_daybook_knows_keeps_the_answer_and_makes_it_again(
    say: Say, asked: list[Any]
) -> None:
    assert "does not say where to search" in say("fix", "1987.12", code=2)
    say("plates", "change", "1987.12", "--ground-searched", " -27.5,41.2,400m")
    told = say("fix", "1987.12", "--horizon-radius", "4", "--why", "a first try")
    assert "Kept as fix-1." in told
    plate, land, skyline, evidence, area, settings, *_ = asked[0]
    assert Path(plate.path).name == "plate.png"
    assert land.surface == "ground"
    assert len(skyline.x_px) > 100
    assert [piece.id for piece in evidence.skylines] == ["sky"]
    assert area.radius_m == pytest.approx(400.0, abs=1.0)
    assert (settings.near_enough_m, settings.footing) == (50.0, "roof")
    assert {path.name for path in Path("out/1987.12/fix-1").iterdir()} >= {
        "fix.json", "words.txt", "comparison.png", "map.png",
    }  # fmt: skip
    again = json.loads(say("fixes", "again", "fix-1", "--json"))
    assert (again["fix"], again["same"], again["apart_m"]) == ("fix-1", True, 0.0)
    assert asked[1][5] == settings
    assert asked[1][4].polygon.equals(area.polygon)
    assert "Nothing that it rests on has changed" in say("fixes", "show", "fix-1")
    say("evidence", "remove", "1987.12/sky", "--why", "traced on the wrong copy")
    shown = json.loads(say("fixes", "show", "fix-1", "--json"))
    (sentence,) = shown["changed_since"]
    assert "was set aside by Ada Moss" in sentence
    assert sentence.endswith("traced on the wrong copy.")
    history = say("history", "1987.12")
    assert "a first try" in history
    assert "Made fix-1: located, asked to 125 m." in history
    assert "1 run, 0 set aside" in history


def test_a_fix_made_again_keeps_to_what_stood_before_the_evidence(
    say: Say, asked: list[Any]
) -> None:
    """What the plate's row says is as usual, and the evidence says otherwise."""
    say("plates", "change", "1987.12", "--ground-searched", " -27.5,41.2,400m",
        "--footing", "tripod", "--principal-distance-mm", "300")  # fmt: skip
    camera = json.dumps({"footing": "roof", "trimmed": True})
    say(
        "evidence", "add", "1987.12/camera", "--kind", "camera", "--content", camera
    )  # fmt: skip
    say("fix", "1987.12", "--horizon-radius", "4")
    settings = asked[0][5]
    assert (settings.footing, settings.trimmed) == ("tripod", True)
    assert settings.principal_distance_sd_mm == pytest.approx(9.0)  # 3 per cent
    assert json.loads(say("fixes", "again", "fix-1", "--json"))["same"]
    assert asked[1][5] == settings


@pytest.mark.usefixtures("undrawn")
def test_what_is_left_out_of_a_fix_does_not_count_and_did_not_come_since(
    say: Say, asked: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    below: list[int] = []

    def ridges(_plate: Any, line: Any) -> tuple[()]:
        below.append(len(line.x_px))
        return ()

    monkeypatch.setattr(traced_lines, "machine_ridges", ridges)
    say("plates", "change", "1987.12", "--ground-searched", " -27.5,41.2,400m")
    nothing = say("fix", "1987.12", "--no-skyline", "--horizon-radius", "4", code=2)
    assert "no evidence to go by" in nothing
    none = say("fix", "1987.12", "--near-enough", "0", code=2)
    assert "near enough" in none
    wrong = say("fix", "1987.12", "--without", "Z", code=2)
    assert "Choose from: sky." in wrong
    say("fix", "1987.12", "--horizon-radius", "4")
    assert below == [len(asked[-1][2].x_px)]  # a line that a person traced
    told = say("fix", "1987.12", "--horizon-radius", "4", "--without", "sky")
    assert "Kept as fix-2." in told
    assert "is kept as" not in told  # the plate has its skyline
    evidence = asked[-1][3]
    assert [piece.id for piece in evidence.skylines] != ["sky"]
    shown = json.loads(say("fixes", "show", "fix-2", "--json"))
    assert shown["changed_since"] == []
    assert shown["left_out"] == ["item of evidence 1987.12/sky"]
    told = say("fixes", "show", "fix-2")
    assert "Left out of it on purpose: item of evidence 1987.12/sky." in told


@pytest.mark.usefixtures("undrawn")
def test_a_skyline_traced_for_a_fix_stands_on_the_plate(say: Say) -> None:
    say("evidence", "remove", "1987.12/sky")
    say("plates", "change", "1987.12", "--ground-searched", " -27.5,41.2,400m")
    told = say("fix", "1987.12", "--horizon-radius", "4")
    assert "The skyline traced for it is kept as 1987.12/skyline 1." in told
    shown = json.loads(say("evidence", "show", "1987.12/skyline 1", "--json"))
    assert shown["source_words"] == "traced by machine"
    assert "Nothing that it rests on has changed" in say("fixes", "show", "fix-1")
    say("evidence", "change", "1987.12/skyline 1", "--trust", "0.5")
    (sentence,) = json.loads(say("fixes", "show", "fix-1", "--json"))["changed_since"]
    assert "skyline 1 was changed (trust) by Ada Moss" in sentence


def test_a_plate_without_a_scan_or_ground_is_said(say: Say) -> None:
    say("plates", "add", "bare", "--ground-searched", " -27.5,41.2,400m")
    assert "Plate bare has no scan" in say("fix", "bare", code=2)
    say("terrain", "remove", "hills")
    said = say("fix", "1987.12", "--within=-27.5,41.2,400m", code=2)
    assert "no terrain layers" in said
