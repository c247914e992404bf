"""Check that the commands say what they did, in words and as JSON."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from wherestood.cli.app import run
from wherestood.daybook import Daybook


@pytest.fixture
def valley(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Make a daybook and work beside it."""
    Daybook.create(tmp_path / "valley").close()
    monkeypatch.setenv("WHERESTOOD_DAYBOOK", str(tmp_path / "valley"))
    monkeypatch.setenv("WHERESTOOD_PERSON", "Ada Moss")
    monkeypatch.chdir(tmp_path)
    tones = np.random.default_rng(1).integers(0, 255, (24, 32), dtype=np.uint8)
    Image.fromarray(tones).resize((128, 96)).save("scan.png")
    Path("register.csv").write_text(
        "Inv. No.;Title\n1987.12;The mill\n;Nameless\n", encoding="utf-8"
    )
    return tmp_path / "valley"


def answered(capsys: pytest.CaptureFixture[str], *words: str, code: int = 0) -> Any:
    """Run a command with --json, and return what it wrote."""
    capsys.readouterr()
    assert run([*words, "--json"]) == code
    return json.loads(capsys.readouterr().out)


def test_a_day_of_taking_in_and_handing_over(
    valley: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = answered(
        capsys, "catalogue-in", "register.csv", "--dry-run", "--report", "not.csv"
    )
    assert (plan["add"], plan["refused"][0]["where"]) == (1, "row 3")
    assert answered(capsys, "catalogue-in", "register.csv")["add"] == 1
    taken = answered(capsys, "take-in", "scan.png", "--plate", "1987.12")
    assert taken["taken"][0]["address"] == "1987.12/1"
    mended = answered(capsys, "verify", "--mend-words")
    assert (mended["sound"], mended["findings"], len(mended["seal"])) == (True, [], 64)
    assert answered(capsys, "bag", "bag.zip")["plates"] == 1
    back = answered(capsys, "unbag", "bag.zip", "back")
    assert (back["plates"], back["findings"]) == (1, [])
    merged = answered(capsys, "merge", "back")
    assert (merged["acts"], merged["conflicts"]) == (0, [])
    assert answered(capsys, "catalogue-out", "out.xlsx")["plates"] == 1
    original = valley / taken["taken"][0]["file"]
    original.chmod(0o644)
    original.write_bytes(b"?")
    findings = answered(capsys, "verify", code=5)["findings"]
    assert findings[0]["trouble"] == "changed"


@pytest.mark.usefixtures("valley")
def test_a_box_that_holds_no_plate_says_where_a_plate_lies(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run(["plates", "list", "--box", "8,46,9,47"]) == 0
    told = capsys.readouterr().out
    assert "0 plates." in told
    assert "where its newest fix puts the camera" in told


@pytest.mark.usefixtures("valley")
def test_what_was_not_taken_is_said_and_written(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run(["catalogue-in", "register.csv", "--report", "not-taken.csv"]) == 0
    told = capsys.readouterr()
    assert "Plates added: 1" in told.out
    assert "row 3: it has no accession number" in told.err
    report = Path("not-taken.csv").read_text(encoding="utf-8-sig")
    assert report.splitlines()[1].startswith('"row 3"')


@pytest.mark.usefixtures("valley")
def test_features_are_taken_in_and_offered_by_date(
    capsys: pytest.CaptureFixture[str],
) -> None:
    Path("places.csv").write_text(
        "name,grid reference,to\nMill,TG 514 131,1880\n", encoding="utf-8"
    )
    assert answered(capsys, "gazetteer-in", "places.csv")["add"] == 1
    assert answered(capsys, "offer", "--years", "1890")["features"] == []
    every = answered(capsys, "offer", "--years", "1890", "--all")
    assert every["features"][0]["standing"] == "did not stand"
    assert run(["offer", "--years", "soon"]) == 2


def test_terrain_that_is_lacking_is_told(
    valley: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = answered(
        capsys, "terrain-needed", "-70.6,-33.4,1km", "--daybook", str(valley)
    )
    assert told["far"]["grid"] == "EPSG:32719"
    assert told["far_missing"] == told["near_missing_of_any_cell"] == 1.0
    assert run(["terrain-needed"]) == 2
    assert "No ground is named" in capsys.readouterr().err


def test_terrain_is_told_for_a_plate_and_that_it_gives_a_hidden_one_away(
    valley: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    edges = ["--west-deg", "-75", "--south-deg", "-38", "--east-deg", "-66"]
    for words in (
        ["plates", "add", "a", "--ground-searched", " -70.6,-33.4,1km"],
        ["terrain", "add", "wide", *edges, "--north-deg", "-28", "--cell-m", "30"],
    ):
        assert run(words) == 0
    here = ["terrain-needed", "--plate", "a", "--daybook", str(valley)]
    assert run([*here, "--near-enough", "25"]) == 0
    told = capsys.readouterr()
    by_key = ["terrain-needed", "a", "--daybook", str(valley), "--near-enough", "25"]
    assert run(by_key) == 0
    assert told.out.endswith(capsys.readouterr().out)
    assert "larger cells than 5 m" in told.err
    assert "has all hills that may show" in told.out
    assert "Note" not in told.err
    assert run(["restrictions", "add", "plates", "a", "--precision", "1 km"]) == 0
    assert run(here) == 0
    assert "may not be published as they are known: a." in capsys.readouterr().err


@pytest.mark.usefixtures("valley")
def test_a_public_catalogue_says_what_it_is_and_what_is_left_out(
    capsys: pytest.CaptureFixture[str],
) -> None:
    for words in (
        ["plates", "add", "a", "--title", "Quexley weir", "--place-words", "Quexley"],
        ["restrictions", "add", "plates", "a", "--precision", "region only",
         "--published-words", "the upper valley"],
    ):  # fmt: skip
        assert run(words) == 0
    capsys.readouterr()
    assert run(["catalogue-out", "full.csv"]) == 0
    told = capsys.readouterr()
    assert "(full, restricted)" in told.out
    assert "write it with --public" in told.err
    told_json = answered(capsys, "catalogue-out", "public.csv", "--public")
    assert told_json["kind"] == "public copy"
    assert {one["what"] for one in told_json["left_out"]} == {"title", "place"}
    words = Path("public.csv").read_text("utf-8-sig")
    assert "the upper valley" in words
    assert "Quexley" not in words
    assert run(["bag", "b", "--no-pictures"]) == 2
    assert answered(capsys, "bag", "b.zip", "--public")["kind"] == "public copy"


@pytest.mark.usefixtures("valley")
@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["take-in", "missing.tif", "--plate", "7"], "missing.tif"),
        (["take-in", "scan.png"], "No plate is named"),
        (["take-in", "scan.png", "--plate", "7"], "no plate '7'"),
        (["catalogue-in", "register.csv", "--column", "Title"], "COLUMN=MEANING"),
        (["unbag", "scan.png", "out"], "scan.png"),
        (["merge", "nowhere"], "nowhere"),
        (["register", "7"], "no plate '7'"),
        (["terrain-in", "scan.png", "--surface", "moon"], "moon"),
    ],
)
def test_trouble_is_said_without_a_trace(
    capsys: pytest.CaptureFixture[str], words: list[str], told: str
) -> None:
    assert run(words) in (2, 3, 4)
    said = capsys.readouterr().err
    assert told in said
    assert "Traceback" not in said
    assert not [name for name in os.listdir() if name.startswith(".")]  # noqa: PTH208
