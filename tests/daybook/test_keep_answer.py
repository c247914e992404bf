"""Check what of an answer is kept beside the fix itself."""

from __future__ import annotations

import importlib.util
import json
import shutil
from pathlib import Path
from types import ModuleType

import pytest

from wherestood.daybook import Daybook, find
from wherestood.daybook.changed_since import changed_since
from wherestood.daybook.keep_answer import SCREEN, folder_of_fix, keep_answer
from wherestood.daybook.originals import take_in
from wherestood.daybook.question import read_plate
from wherestood.daybook.replay import disagreements
from wherestood.daybook.skylines import BY_MACHINE, keep_skyline, line_of, lines_on
from wherestood.daybook.tables import Fix, Plate
from wherestood.daybook.undo import undo
from wherestood.notebook import LocatedPlate

ONE_HUNDREDTH_PX = 0.01
GROUND = Path("hills.tif")  # named alone: nothing is searched


@pytest.fixture(scope="module")
def located(tmp_path_factory: pytest.TempPathFactory) -> LocatedPlate:
    path = Path(__file__).parents[1] / "record" / "scene.py"
    spec = importlib.util.spec_from_file_location("invented_scene_keep", path)
    assert spec is not None
    assert spec.loader is not None
    scene: ModuleType = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(scene)
    return LocatedPlate(*scene.scene(tmp_path_factory.mktemp("scene")))


@pytest.fixture
def plated(
    daybook: Daybook, located: LocatedPlate, monkeypatch: pytest.MonkeyPatch
) -> Daybook:
    """Return a daybook of a plate with its scan and nothing read off it yet."""

    def save(_located: LocatedPlate, folder: Path) -> tuple[Path, ...]:
        folder.mkdir(parents=True)
        return (folder / "map.png",)

    monkeypatch.setattr(LocatedPlate, "save", save)
    scan = daybook.folder.parent / "scan.png"
    shutil.copy(located.inputs.plate.path, scan)
    take_in(daybook, "VW 14", scan, "Ada", new_plate={})
    return daybook


def test_a_skyline_traced_for_an_answer_is_read_off_the_plate_from_then_on(
    plated: Daybook, located: LocatedPlate
) -> None:
    read = read_plate(plated, "VW 14", [GROUND])
    kept = keep_answer(plated, read, located, "Ada", "first try")
    with plated.reading() as session:
        plate = find(session, Plate, "VW 14")
        (line,) = lines_on(session, plate.id, "skyline")
        assert (line.id, line.key) == (kept.skyline_id, kept.skyline)
        assert line.source_words == BY_MACHINE
        inputs = located.inputs
        there = line_of(line, inputs.plate.width_px, inputs.plate.height_px)
        assert there is not None
        assert there.y_px == pytest.approx(inputs.skyline.y_px, abs=ONE_HUNDREDTH_PX)
        fix = find(session, Fix, kept.key)
        assert changed_since(session, plated.folder, fix, files=False) == []
        assert disagreements(session) == []
    again = keep_answer(plated, read_plate(plated, "VW 14", [GROUND]), located, "Ada")
    assert again.skyline is None
    undo(plated, "Ada")
    undo(plated, "Ada")  # one act kept both
    with plated.reading() as session:
        assert lines_on(session, plate.id, "skyline") == []
        assert find(session, Fix, kept.key).removed


def test_a_line_drawn_while_the_search_ran_stays(
    plated: Daybook, located: LocatedPlate
) -> None:
    read = read_plate(plated, "VW 14", [GROUND])
    with plated.writing("Ben") as session:
        line = located.inputs.skyline
        keep_skyline(session, read.plate.id, read.scan.id, line, by_hand=True)
    kept = keep_answer(plated, read, located, "Ada")
    assert kept.skyline is None
    with plated.reading() as session:
        (drawn,) = lines_on(session, read.plate.id, "skyline")
        assert drawn.source_words != BY_MACHINE


def test_what_the_screens_show_lies_beside_the_pictures(
    plated: Daybook, located: LocatedPlate
) -> None:
    read = read_plate(plated, "VW 14", [GROUND])
    kept = keep_answer(plated, read, located, "Ada")
    folder = folder_of_fix(plated, "VW 14", kept.key)
    assert kept.files == (folder / "map.png",)
    screen = json.loads((folder / SCREEN).read_text("utf-8"))
    assert screen["verdict"].startswith("Located to")
