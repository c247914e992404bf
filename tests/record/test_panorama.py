"""Check what goes out of a panorama: its form, its words and its files."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import jsonschema
import pytest

from wherestood.evidence.items.tie import TieMark
from wherestood.fix.panorama_result import OneStation, Panorama, TieTold
from wherestood.panorama import LocatedPanorama
from wherestood.plate.scan import Plate
from wherestood.record.fix_json import fix_schema
from wherestood.record.page import page_text
from wherestood.record.panorama_json import panorama_to_json
from wherestood.record.panorama_words import panorama_words

NAMES = ("plate-a", "plate-b")
TURN_DEG = 30.0


@pytest.fixture
def made(scene: ModuleType, tmp_path: Path):
    """Return the function that makes a panorama of two plates, the second left."""

    def panorama(verdict: str = "located", belongs: float = 0.97) -> LocatedPanorama:
        fix, inputs = scene.scene(tmp_path, verdict)
        plates = []
        for name in NAMES:
            path = tmp_path / f"{name}.png"
            shutil.copy(inputs.plate.path, path)
            plates.append(Plate.open(path))
        other = replace(
            fix, camera=scene.camera(scene.BEARING_DEG - TURN_DEG), rms_px=7.77
        )
        tests = (
            OneStation(0, 0.97, 12.0, 6.0, 48.0, 0.1, 2),
            OneStation(1, belongs, 96.0, 24.0, 384.0, 0.1, 2),
        )
        ties = (
            TieTold("tie 1", (0, 1), -9.0, 1.25),
            TieTold("tie 2", (0, 1), 4.0, 88.0),
        )
        answer = Panorama(
            (fix, other), (1, 0), 0.83, (TURN_DEG,), (0.12,), tests, ties, True
        )
        marks = tuple(
            TieMark(id=tie.id, plates=NAMES, first_px=(5.0, 5.0), second_px=(9.0, 9.0))
            for tie in ties
        )
        both = tuple(replace(inputs, plate=plate) for plate in plates)
        return LocatedPanorama(answer, both, marks)

    return panorama


def text_of(panorama: LocatedPanorama) -> str:
    return page_text(panorama_words(panorama.answer, panorama.inputs))


@pytest.mark.parametrize("verdict", ["located", "several places", "not determined"])
def test_form_holds_to_the_schema(made, scene: ModuleType, verdict: str) -> None:
    one = made(verdict)
    form = panorama_to_json(one.answer, one.inputs, scene.MAKING)
    jsonschema.validate(form, fix_schema(), cls=jsonschema.Draft202012Validator)
    assert "camera" not in form
    assert [c["bearing_deg"] for c in form["cameras"]] == [
        scene.BEARING_DEG,
        scene.BEARING_DEG - TURN_DEG,
    ]
    assert form["panorama"]["order"] == ["plate-b", "plate-a"]
    assert form["panorama"]["order_probability"] == 0.83
    assert all(len(other["cameras"]) == 2 for other in form["alternatives"])


def test_words_say_order_turn_and_what_ties_the_plates(made) -> None:
    words = text_of(made())
    assert "From left to right hang plate-b and plate-a (not as given): " in words
    assert "(not as given): about 5 in 6." in words
    assert "From the middle of plate-b to that of plate-a the camera turned" in words
    assert "2 things seen on two plates tie them" in words
    assert "1 agrees with the cameras found" in words


def test_words_tell_each_plate_apart(made) -> None:
    words = text_of(made())
    assert words.index("plate-b looks towards") < words.index("plate-a looks towards")
    assert "plate-a: the traced skyline lies 1.4 px" in words
    assert "plate-b: the traced skyline lies 7.8 px" in words


def test_words_say_how_far_apart_stations_would_be(made) -> None:
    words = text_of(made(belongs=0.2))
    assert "plate-b was taken from the station of the others: about 1 in 5." in words
    assert "If not, some 96 m from it" in words


def test_all_files_are_written_and_named_after_the_scans(made, tmp_path) -> None:
    folder = tmp_path / "answer"
    written = {path.name for path in made().save(folder)}
    assert written == {path.name for path in folder.iterdir()}
    assert written == {
        "fix.json",
        "words.txt",
        "panorama.png",
        "map.png",
        "evidence.toml",
        *(
            f"{name}-{kind}"
            for name in NAMES
            for kind in ("skyline.csv", "comparison.png")
        ),
    }
    form = json.loads((folder / "fix.json").read_text(encoding="utf-8"))
    kept = [plate["skyline"]["file"] for plate in form["panorama"]["plates"]]
    assert kept == [f"{name}-skyline.csv" for name in NAMES]
