"""Check the names and the behaviour a notebook meets."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from shapely.geometry import MultiPolygon

import wherestood as ws
from wherestood import notebook
from wherestood.errors import InputError
from wherestood.evidence.file import read_evidence
from wherestood.evidence.items import Checked, Complaint, Feature, Mark, gather
from wherestood.evidence.ridge_lines import MACHINE_TRUST
from wherestood.fix.settings import LocateSettings
from wherestood.plate.skyline import read_traced_lines


@pytest.fixture(scope="module")
def scene() -> ModuleType:
    path = Path(__file__).parent / "record" / "scene.py"
    spec = importlib.util.spec_from_file_location("invented_scene_for_notebook", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def inputs(scene: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Return what a search takes; the search itself answers at once."""
    fix, made = scene.scene(tmp_path)
    monkeypatch.setattr(notebook, "_search", lambda *_: fix)
    return made


def test_every_name_offered_can_be_had() -> None:
    for name in ws.__all__:
        assert getattr(ws, name) is not None
    assert sorted(ws.__all__) == ws.__all__
    assert set(ws.__all__) <= set(dir(ws))


def test_a_name_not_offered_is_an_ordinary_mistake() -> None:
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        ws.nothing  # noqa: B018


def test_the_package_alone_loads_nothing_heavy() -> None:
    code = "import sys, wherestood; sys.exit('numba' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_a_fix_answers_as_the_page_says(inputs: Any, tmp_path: Path) -> None:
    fix = ws.locate(
        inputs.plate,
        inputs.terrain,
        [inputs.skyline],
        within="-27.5,41.2,2500m",
        near_enough_m=50,
    )
    assert fix.verdict == "located"
    assert fix.station.lon_deg == pytest.approx(-27.5)
    assert fix.station.sd_east_m > 0
    assert isinstance(fix.region(0.90), MultiPolygon)
    assert fix.inputs.settings.near_enough_m == 50
    assert fix.comparison().save(tmp_path / "comparison.png").stat().st_size > 0
    assert fix.map().save(tmp_path / "map.svg").read_text().startswith("<?xml")
    assert fix.words().startswith("Where\n")
    assert fix.published()["verdict"] == "located"


def test_saved_words_are_the_page_and_name_plate_and_version(
    inputs: Any, tmp_path: Path
) -> None:
    fix = ws.locate(inputs.plate, inputs.terrain, [inputs.skyline], within=inputs.area)
    fix.save(tmp_path / "answer")
    text = (tmp_path / "answer" / "words.txt").read_text(encoding="utf-8")
    assert text.startswith("invented-plate\nWritten ")
    assert f"wherestood {ws.__version__}" in text
    assert " ".join(text.split()).endswith(" ".join(fix.words().split()))
    assert max(map(len, text.splitlines())) <= notebook.PAGE_WIDTH


def test_rivals_of_an_older_answer_do_not_stay_beside_a_newer_one(
    scene: ModuleType, tmp_path: Path
) -> None:
    folder = tmp_path / "answer"
    written = notebook.LocatedPlate(*scene.scene(tmp_path, "several places")).save(
        folder
    )
    assert [path.name for path in written[len(notebook.OUTPUTS) :]] == [
        "comparison-2.png",
        "comparison-3.png",
    ]
    assert all(path.stat().st_size > 0 for path in written)
    (folder / "comparison-notes.txt").write_text("a person's own")
    notebook.LocatedPlate(*scene.scene(tmp_path)).save(folder)
    kept = {path.name for path in folder.iterdir()}
    assert kept == {*notebook.OUTPUTS, "comparison-notes.txt"}


def test_evidence_used_is_kept_beside_and_goes_with_an_older_answer(
    scene: ModuleType, tmp_path: Path
) -> None:
    folder = tmp_path / "answer"
    told = scene.with_evidence(*scene.scene(tmp_path))
    written = notebook.LocatedPlate(*told).save(folder)
    assert folder / "evidence.toml" in written
    again = read_evidence(folder / "evidence.toml")
    assert again.complaints == ()
    assert [item.id for item in again.evidence.items()] == [
        "A", "B", "C", "a over b", "post", "lake", "mast", "caption", "copy",
    ]  # fmt: skip
    notebook.LocatedPlate(*scene.scene(tmp_path)).save(folder)
    assert not (folder / "evidence.toml").exists()


def test_complaints_of_a_file_stay_with_the_answer(inputs: Any) -> None:
    wrong = Complaint("mark", "Z", "It is outside.", "Move it.")
    given = Checked(gather([inputs.skyline]), (wrong,))
    fix = ws.locate(inputs.plate, inputs.terrain, given, within=inputs.area)
    assert fix.complaints == (wrong,)
    left_out = fix.published()["inputs"]["evidence"]["complaints"]
    assert [(one["id"], one["left_out"]) for one in left_out] == [("Z", True)]


def test_a_place_without_comparison_is_named(scene: ModuleType, tmp_path: Path) -> None:
    fix = notebook.LocatedPlate(*scene.scene(tmp_path))
    with pytest.raises(InputError, match="no comparison for place 2"):
        fix.comparison(2)


def test_what_plate_and_ground_say_is_taken_over(inputs: Any) -> None:
    fix = ws.locate(inputs.plate, inputs.terrain, [inputs.skyline], within=inputs.area)
    assert fix.inputs.settings == LocateSettings(
        surface="ground", refraction=inputs.terrain.refraction
    )


def test_settings_given_whole_can_be_changed_singly(inputs: Any) -> None:
    fix = ws.locate(
        inputs.plate,
        inputs.terrain,
        [inputs.skyline],
        within=inputs.area,
        settings=LocateSettings(seed=4, near_enough_m=10),
        near_enough_m=20,
    )
    assert fix.inputs.settings == LocateSettings(seed=4, near_enough_m=20)


def test_an_unknown_setting_is_named(inputs: Any) -> None:
    with pytest.raises(InputError, match="'nearenough' is not known"):
        ws.locate(
            inputs.plate,
            inputs.terrain,
            [inputs.skyline],
            within=inputs.area,
            nearenough=5,
        )


@pytest.mark.parametrize(
    ("evidence", "words"),
    [
        ([], "There is no evidence to search by"),
        (["a chimney"], "A str is no item of evidence"),
    ],
)
def test_evidence_that_tells_nothing_is_named(
    inputs: Any, evidence: Any, words: str
) -> None:
    with pytest.raises(InputError, match=words):
        ws.locate(inputs.plate, inputs.terrain, evidence, within=inputs.area)


def test_evidence_that_cannot_be_is_complained_of_and_the_rest_kept(
    inputs: Any,
) -> None:
    spire = Feature((-27.499, 41.205), id="spire")
    far = Feature((-20.0, 45.0), id="far")
    inside = Mark(700.0, 500.0, spire, id="A")
    outside = Mark(9000.0, 500.0, spire, id="B")
    elsewhere = Mark(900.0, 500.0, far, id="C")
    fix = ws.locate(
        inputs.plate,
        inputs.terrain,
        [inputs.skyline, inside, outside, elsewhere],
        within=inputs.area,
    )
    said = {complaint.item: complaint for complaint in fix.complaints}
    assert "outside the scan" in said["B"].problem
    assert said["far"].remedy
    assert "A" not in said


def _ridge(inputs: Any, name: str) -> ws.RidgeLine:
    return ws.RidgeLine(id=name, line=inputs.skyline, trust=0.5)


def test_ridge_lines_given_are_kept_beside_the_skyline(
    inputs: Any, tmp_path: Path
) -> None:
    lines = [_ridge(inputs, "spur"), _ridge(inputs, "dam")]
    fix = ws.locate(
        inputs.plate, inputs.terrain, [*lines, inputs.skyline], within=inputs.area
    )
    assert fix.inputs.ridges == tuple(lines)
    fix.save(tmp_path / "answer")
    _, kept = read_traced_lines(tmp_path / "answer" / "skyline.csv", 1600, 1200)
    assert [(one.name, one.trust) for one in kept] == [("spur", 0.5), ("dam", 0.5)]
    again = notebook.ridges_of(kept)
    assert [one.id for one in again] == ["spur", "dam"]


@pytest.mark.parametrize("names", [("spur", "spur"), ("skyline",)])
def test_ridge_lines_that_could_not_be_told_apart_are_refused(
    inputs: Any, names: tuple[str, ...]
) -> None:
    lines = [_ridge(inputs, name) for name in names]
    with pytest.raises(InputError, match=f"cannot be named '{names[0]}'"):
        ws.locate(
            inputs.plate, inputs.terrain, [inputs.skyline, *lines], within=inputs.area
        )


def test_lines_traced_by_machine_are_named_and_little_trusted(inputs: Any) -> None:
    lines = ws.machine_ridges(inputs.plate, inputs.skyline)
    assert [line.id for line in lines] == [
        f"ridge line {number}" for number in range(1, len(lines) + 1)
    ]
    assert all(line.trust == MACHINE_TRUST for line in lines)


def test_a_region_that_was_not_computed_is_refused(inputs: Any) -> None:
    fix = ws.locate(inputs.plate, inputs.terrain, [inputs.skyline], within=inputs.area)
    with pytest.raises(InputError, match=r"0\.5, 0\.9, 0\.99"):
        fix.region(0.75)


def test_a_picture_that_cannot_be_written_is_told(inputs: Any, tmp_path: Path) -> None:
    fix = ws.locate(inputs.plate, inputs.terrain, [inputs.skyline], within=inputs.area)
    for name in ("none/map.png", "map.docx"):
        with pytest.raises(InputError, match="cannot be written"):
            fix.map().save(tmp_path / name)
