"""Check the command line by what it prints, writes and returns."""

from __future__ import annotations

import importlib.util
import json
import math
import os
import re
import signal
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import ModuleType
from typing import Any

import click
import jsonschema
import numpy as np
import pytest
import rasterio
import typer
from rasterio.transform import Affine

from wherestood import errors, notebook
from wherestood.cli.app import app, run
from wherestood.cli.arguments import (
    FootingChoice,
    read_footing,
    read_principal_distance,
    read_proposed,
)
from wherestood.cli.arranged import FLAGS, arranged
from wherestood.cli.demo import compared
from wherestood.cli.exits import EXIT_CODES, exit_code
from wherestood.cli.listed import LISTED
from wherestood.daybook import Daybook
from wherestood.demo import DemoTruth
from wherestood.errors import CancelledError, InputError, LensError
from wherestood.evidence.items import Evidence, RidgeLine
from wherestood.evidence.ridge_lines import MACHINE_TRUST
from wherestood.fix.settings import LocateSettings
from wherestood.plate.formats import plate_formats
from wherestood.plate.skyline import read_skyline_csv, read_traced_lines
from wherestood.record.fix_json import fix_schema

A_HUNDREDTH_OF_A_DEGREE = 0.01


@pytest.fixture(scope="module")
def scene() -> ModuleType:
    path = Path(__file__).parent / "record" / "scene.py"
    spec = importlib.util.spec_from_file_location("invented_scene_for_cli", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@dataclass
class Case:
    """Hold the files of a question, and what the search was asked."""

    folder: Path
    scene: ModuleType
    asked: list[LocateSettings] = field(default_factory=list)
    told: list[Evidence] = field(default_factory=list)
    proposed: list[Any] = field(default_factory=list)

    @property
    def ridges(self) -> list[tuple[RidgeLine, ...]]:
        return [one.ridge_lines for one in self.told]

    @property
    def out(self) -> Path:
        return self.folder / "out"

    def words(self, *more: str) -> list[str]:
        return [
            "locate",
            str(self.folder / "invented-plate.png"),
            "--terrain",
            str(self.folder / "hills.tif"),
            "--within",
            "-27.5,41.2,2500m",
            "--skyline",
            str(self.folder / "line.csv"),
            *more,
        ]


@pytest.fixture
def case(scene: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Case:
    """Write a question's files, and let the search answer at once."""
    fix, inputs = scene.scene(tmp_path)
    _write_terrain(tmp_path / "hills.tif", inputs.terrain)
    from wherestood.plate.skyline import write_skyline_csv

    write_skyline_csv(inputs.skyline, tmp_path / "line.csv")
    made = Case(tmp_path, scene)

    def search(
        plate: Any,
        land: Any,
        sky: Any,
        told: Any,
        area: Any,
        settings: Any,
        proposed: Any,
        _: Any,
    ) -> Any:
        assert plate.width_px == scene.WIDTH_PX
        assert sky is None or sky.width_px == scene.WIDTH_PX
        assert land.frame.from_lonlat(*area.centre)[0] == pytest.approx(0, abs=1.0)
        made.asked.append(settings)
        made.told.append(told)
        made.proposed.append(proposed)
        return fix

    monkeypatch.setattr(notebook, "_search", search)
    return made


def _write_terrain(path: Path, land: Any) -> None:
    rows, columns = land.elevation_m.shape
    top_m = land.south_m + (rows - 0.5) * land.cell_m
    west_m = land.west_m - land.cell_m / 2
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        height=rows,
        width=columns,
        count=1,
        dtype="float32",
        crs=land.frame.crs,
        transform=Affine(land.cell_m, 0.0, west_m, 0.0, -land.cell_m, top_m),
    ) as file:
        file.write(land.elevation_m[::-1], 1)


def _plain_trouble(text: str) -> list[str]:
    """Return the lines of trouble, without stages and notes told before it."""
    told = [line for line in text.splitlines() if not line.endswith(" ...")]
    return [line for line in told if not line.startswith(("Note: ", "Warning: "))]


def test_locate_writes_its_files_and_says_them(
    case: Case, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(case.words("--out", str(case.out))) == 0
    names = {path.name for path in case.out.iterdir()}
    assert names == set(notebook.OUTPUTS)
    printed = capsys.readouterr().out
    assert "Camera position: 41.2000° N, 27.5000° W" in printed
    assert all(str(case.out / name) in printed for name in names)


def test_skyline_beside_the_fix_is_the_one_its_checksum_names(case: Case) -> None:
    import hashlib

    run(case.words("--out", str(case.out)))
    form = json.loads((case.out / "fix.json").read_text())
    kept = (case.out / "skyline.csv").read_bytes()
    assert form["inputs"]["skyline"]["sha256"] == hashlib.sha256(kept).hexdigest()


def test_json_alone_reaches_the_output(
    case: Case, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(case.words("--json", "--out", str(case.out))) == 0
    form = json.loads(capsys.readouterr().out)
    jsonschema.validate(form, fix_schema())


def test_not_determined_is_an_answer(
    case: Case,
    scene: ModuleType,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    fix, _ = scene.scene(case.folder, "not determined")
    monkeypatch.setattr(notebook, "_search", lambda *_: fix)
    assert run(case.words()) == 0
    assert "Not determined" in capsys.readouterr().out


def test_every_option_of_locate_reaches_the_search(case: Case) -> None:
    more = "--size 215.90x165.10mm --scan-ppi 240 --trimmed --surface ground"
    more += " --principal-distance 296.0+-4.4 --footing roof:9m+-2m --near-enough 50"
    more += " --left-for-right --refraction 0.1 --horizon-radius 25 --seed 7"
    assert run([*case.words(), *more.split(), "--process", "glass negative"]) == 0
    assert case.asked == [
        LocateSettings(
            near_enough_m=50.0,
            footing="roof",
            lens_height_m=9.0,
            lens_height_sd_m=2.0,
            principal_distance_mm=296.0,
            principal_distance_sd_mm=4.4,
            trimmed=True,
            surface="ground",
            refraction=0.1,
            horizon_radius_m=25_000.0,
            reversed=True,
            process="glass negative",
            seed=7,
        )
    ]


def test_proposed_positions_reach_the_search(case: Case) -> None:
    words = case.words("--proposed", "8.5,46.1,215", "--proposed", "8.6,46.2")
    assert run(words) == 0
    first, second = case.proposed[0]
    assert (first.lon_deg, first.lat_deg, first.bearing_deg) == (8.5, 46.1, 215.0)
    assert second.bearing_deg is None


def test_whose_answer_it_is_and_why_is_kept() -> None:
    told = read_proposed("8.5,46.1,-145 the sexton, aged 80: told so, twice")
    assert told.name == "the sexton, aged 80"
    assert told.reason == "told so, twice"
    assert told.bearing_deg == 215.0
    assert read_proposed("-8.5,-46.1 Long Hill").name == "Long Hill"
    assert read_proposed("8.5, 46.1", 2).name == "proposed 2"


def test_two_readers_skylines_become_one_with_their_difference_as_doubt(
    case: Case,
) -> None:
    from wherestood.plate.skyline import write_skyline_csv

    _, inputs = case.scene.scene(case.folder)
    one = inputs.skyline
    other = case.folder / "other.csv"
    write_skyline_csv(replace(one, y_px=one.y_px + 6.0), other)
    assert run(case.words("--skyline", str(other))) == 0
    (piece,) = case.told[0].skylines
    assert "Two tracings were compared" in piece.line.notes[-1]
    # Six pixels apart all along: either errs by 6 / sqrt 2.
    assert np.median(piece.line.sd_px) == pytest.approx(
        math.hypot(6.0 / math.sqrt(2.0), float(np.median(one.sd_px))), rel=0.02
    )


def test_a_third_skyline_is_refused(case: Case, capsys: Any) -> None:
    words = case.words(*["--skyline", str(case.folder / "a.csv")] * 2)
    assert run(words) == 2
    assert "two readers" in capsys.readouterr().err


def test_a_mark_to_hold_back_that_is_none_is_refused(case: Case, capsys: Any) -> None:
    assert run(case.words("--hold-back", "Z")) == 2
    assert "no mark 'Z'" in capsys.readouterr().err


def test_a_proposed_position_that_is_none_is_refused(
    case: Case, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(case.words("--proposed", "north of the mill")) != 0
    assert "north of the mill" in capsys.readouterr().err


def test_ridge_lines_are_traced_unless_told_otherwise(
    case: Case, monkeypatch: pytest.MonkeyPatch
) -> None:
    _, inputs = case.scene.scene(case.folder)
    monkeypatch.setattr(
        "wherestood.plate.inner_ridges.trace_ridges", lambda *_: (inputs.skyline,)
    )
    for more in ([], ["--ridge-lines"], ["--no-ridge-lines"]):
        assert run(case.words(*more)) == 0
    assert [[one.id for one in ridges] for ridges in case.ridges] == [
        ["ridge line 1"],
        ["ridge line 1"],
        [],
    ]
    assert case.ridges[0][0].trust == MACHINE_TRUST


def test_ridge_lines_of_the_skyline_file_come_before_those_of_the_machine(
    case: Case,
) -> None:
    lines = (case.folder / "line.csv").read_text().splitlines()
    lines = [f"{lines[0]},line,trust", *lines[1:]]
    lines += ["100.5,900,1,spur,0.7", "400.5,910,1,spur,0.7"]
    (case.folder / "line.csv").write_text("\n".join(lines))
    assert run(case.words("--no-ridge-lines")) == 0
    assert run(case.words("--out", str(case.out))) == 0
    assert case.ridges[0] == ()
    (ridge,) = case.ridges[1]
    assert (ridge.id, ridge.trust, ridge.line.source) == ("spur", 0.7, "line.csv")
    # The file beside the fix keeps them, so that it can be made again.
    kept = read_traced_lines(case.out / "skyline.csv", 1600, 1200)[1]
    assert [(one.name, one.trust) for one in kept] == [("spur", 0.7)]
    np.testing.assert_allclose(kept[0].line.y_px, [900.0, 910.0])


EVIDENCE = """\
wherestood = 1

[camera]
footing = "roof"

[[feature]]
id = "spire"
point = [-27.499, 41.205]

[[mark]]
id = "A"
feature = "spire"
x_px = 700
y_px = 500

[[mark]]
id = "B"
feature = "spyre"
x_px = 800
y_px = 500

[[mark]]
id = "C"
feature = "spire"
x_px = 9000
y_px = 500

[[mark]]
id = "D"
feature = "spire"
x_px = 900
y_px = 500
sd_px = 0
"""


def _with_evidence(case: Case, text: str, *more: str) -> list[str]:
    path = case.folder / "known.toml"
    path.write_text(text, encoding="utf-8")
    return case.words("--evidence", str(path), "--no-ridge-lines", *more)


def test_evidence_reaches_the_search_beside_the_skyline(case: Case) -> None:
    assert run(_with_evidence(case, EVIDENCE)) == 0
    (told,) = case.told
    assert [mark.id for mark in told.marks] == ["A"]
    assert [feature.id for feature in told.features] == ["spire"]
    assert len(told.skylines) == 1
    assert case.asked[0].footing == "roof"


def test_a_footing_typed_goes_before_the_file_s(case: Case) -> None:
    assert run(_with_evidence(case, EVIDENCE, "--footing", "wharf")) == 0
    assert case.asked[0].footing == "wharf"


def test_the_usual_footing_typed_goes_before_the_file_s_too(case: Case) -> None:
    assert run(_with_evidence(case, EVIDENCE, "--footing", "tripod")) == 0
    assert case.asked[0].footing == "tripod"


def test_a_skyline_cannot_be_given_and_refused_at_once(
    case: Case, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(_with_evidence(case, EVIDENCE, "--no-skyline")) == 2
    said = " ".join(capsys.readouterr().err.split())
    assert "--no-skyline" in said
    assert "line.csv" in said
    assert case.told == []


def test_faults_of_evidence_name_file_line_item_and_remedy_and_the_rest_is_kept(
    case: Case, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(_with_evidence(case, EVIDENCE)) == 0
    told = " ".join(capsys.readouterr().err.split())
    for line, item, problem, remedy in (
        (16, "B", "spyre", "Did you mean 'spire'?"),
        (25, "C", "outside the scan of 1600 x 1200 px", "Give pixels of this scan"),
        (33, "D", "sd_px is 0", "above 0 was expected"),
    ):
        found = re.search(rf"known\.toml, line {line}: ([^:]*: )?", told)
        assert found
        said = told[found.start() : found.start() + 400]
        assert f"mark '{item}'" in said
        assert problem in said
        assert remedy in said
    assert told.count("mark 'B'") == 1


def test_without_skyline_the_search_goes_by_the_file_alone(case: Case) -> None:
    words = _with_evidence(case, EVIDENCE, "--no-skyline")
    at = words.index("--skyline")
    assert run(words[:at] + words[at + 2 :]) == 0
    (told,) = case.told
    assert told.skylines == ()
    assert [mark.id for mark in told.marks] == ["A"]


def test_without_skyline_and_without_evidence_there_is_nothing_to_search_by(
    case: Case, capsys: pytest.CaptureFixture[str]
) -> None:
    words = case.words("--no-skyline", "--no-ridge-lines")
    at = words.index("--skyline")
    assert run(words[:at] + words[at + 2 :]) == 2
    assert "no evidence to search by" in capsys.readouterr().err


def test_evidence_of_another_form_ends_the_search_and_says_where(
    case: Case, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(_with_evidence(case, 'wherestood = 1\n[[mark]\nid = "A"\n')) == 2
    said = " ".join(capsys.readouterr().err.split())
    assert "known.toml" in said
    assert "line 2" in said
    assert case.told == []


@pytest.mark.parametrize(
    ("more", "code", "words"),
    [
        (["--within", "nowhere"], 2, "neither numbers nor a file"),
        (["--size", "hole plate"], 2, "whole plate"),
        (["--near-enough", "0"], 2, "near enough"),
        (["--near-enough", "close"], 2, "--near-enough"),
        (["--footing", "balloon"], 2, "balloon"),
        (["--surface", "moon"], 2, "moon"),
        (["--process", "oil"], 2, "oil"),
        (["--principal-distance", "long"], 2, "long"),
        (["--skyline", "none.csv"], 2, "none.csv"),
        (["--bogus"], 2, "--bogus"),
        (["--within", "20.5,41.2,2500m"], 3, ""),
        (["--terrain", "none.tif"], 3, "none.tif"),
    ],
)
def test_trouble_is_two_plain_lines_and_a_code(
    case: Case,
    capsys: pytest.CaptureFixture[str],
    more: list[str],
    code: int,
    words: str,
) -> None:
    assert run(case.words("--out", str(case.out), *more)) == code
    shown = capsys.readouterr()
    lines = _plain_trouble(shown.err)
    assert words in shown.err
    assert shown.out == ""
    assert 1 <= len(lines) <= 2
    assert "Traceback" not in shown.err
    assert not case.out.exists()


def test_a_folder_in_use_is_told_before_the_work(
    case: Case, capsys: pytest.CaptureFixture[str]
) -> None:
    case.out.write_text("a file")
    assert run(case.words("--out", str(case.out / "deeper"))) == 2
    assert "'out' is a file" in capsys.readouterr().err
    assert case.asked == []


def test_a_missing_scan_is_told(case: Case, capsys: pytest.CaptureFixture[str]) -> None:
    words = case.words()
    words[1] = "none.tif"
    assert run(words) == 2
    assert "none.tif" in capsys.readouterr().err


def test_what_was_not_foreseen_is_one_line_and_a_way_to_see_more(
    case: Case, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(*_: Any) -> None:
        raise ZeroDivisionError("by nothing")

    monkeypatch.setattr(notebook, "_search", fail)
    assert run(case.words()) == 1
    shown = capsys.readouterr().err
    assert "by nothing" in shown
    assert "--traceback" in shown
    assert "Traceback" not in shown
    assert run(case.words("--traceback")) == 1
    assert "Traceback" in capsys.readouterr().err


@pytest.mark.parametrize("stop", [KeyboardInterrupt, CancelledError("Stopped.")])
@pytest.mark.parametrize("where", ["_search", "comparison_figure", "map_figure"])
def test_stopping_leaves_nothing_half_written(
    case: Case,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    stop: BaseException,
    where: str,
) -> None:
    def stopped(*_: Any) -> None:
        raise stop

    monkeypatch.setattr(notebook, where, stopped)
    assert run(case.words("--out", str(case.out))) == 130
    assert "nothing was left half-written" in capsys.readouterr().err
    assert not case.out.exists()


def test_an_error_that_a_stop_brought_about_is_told_as_the_stop(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A stop while a kernel is compiled comes out as the compiler's own error."""

    def stopped(*_: Any, **__: Any) -> None:
        try:
            raise KeyboardInterrupt
        except KeyboardInterrupt as stop:
            raise RuntimeError("no compiled object yet") from stop

    monkeypatch.setattr(Daybook, "create", stopped)
    assert run(["daybook", "new", "valley"]) == 130
    assert "nothing was left half-written" in capsys.readouterr().err


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_signal_ends_the_process_plainly(number: int, repository: Path) -> None:
    code = (
        "import os, signal, sys\n"
        # A shell starts what runs in its background deaf to Ctrl-C.
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "from wherestood.cli import main\n"
        "import wherestood.plate.formats as formats\n"
        f"formats.plate_formats = lambda: os.kill(os.getpid(), {int(number)})\n"
        "sys.argv = ['wherestood', 'sizes']\n"
        "main()\n"
    )
    ended = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        env={**os.environ, "PYTHONPATH": str(repository / "src")},
    )
    assert ended.returncode == 130
    assert "Traceback" not in ended.stderr


def test_every_error_has_an_exit_code() -> None:
    kinds = [getattr(errors, name) for name in errors.__all__]
    coded = {kind for kind in kinds if kind is not errors.WherestoodError}
    assert all(exit_code(kind("words")) != 1 for kind in coded)
    assert exit_code(errors.SkylineError("words")) == EXIT_CODES[InputError]
    assert exit_code(RuntimeError()) == 1


def test_several_files_may_follow_terrain() -> None:
    typed = ["locate", "scan.tif", "--terrain", "a.tif", "b.tif", "--within", "c"]
    assert arranged(typed) == [
        "locate",
        "scan.tif",
        "--terrain",
        "a.tif",
        "--terrain",
        "b.tif",
        "--within",
        "c",
    ]


def test_a_scan_named_last_is_not_taken_for_terrain() -> None:
    typed = ["locate", "--trimmed", "--terrain", "a.tif", "scan.tif"]
    assert arranged(typed) == typed


def test_a_place_west_of_greenwich_is_not_an_option() -> None:
    assert arranged(["horizon", "-27.5,41.2"]) == ["horizon", " -27.5,41.2"]
    assert arranged(["--within", "-27.5,41.2,3km"])[1].strip() == "-27.5,41.2,3km"


def test_every_option_without_value_is_known_to_the_arranging() -> None:
    group: Any = typer.main.get_command(app)
    flags = {"--help"}
    made = [group.get_command(click.Context(group), name) for name in LISTED]
    plans: Any = group.get_command(click.Context(group), "plans")
    made += [plans.commands[verb] for verb in ("take", "picture", "pin", "trace")]
    ground: Any = group.get_command(click.Context(group), "ground")
    made += ground.commands.values()
    for command in (group, *made):
        for option in command.params:
            if getattr(option, "is_flag", False):
                flags |= {*option.opts, *option.secondary_opts}
    assert flags - {"--traceback"} == FLAGS


@pytest.mark.parametrize(
    ("text", "mean_mm", "sd_mm"),
    [
        ("296.0+-4.4", 296.0, 4.4),
        ("296±4", 296.0, 4.0),
        ("296 +/- 4 mm", 296.0, 4.0),
        ("300", 300.0, 9.0),
    ],
)
def test_principal_distance_is_read(text: str, mean_mm: float, sd_mm: float) -> None:
    found = read_principal_distance(text)
    assert (found.mean_mm, found.sd_mm) == pytest.approx((mean_mm, sd_mm))


@pytest.mark.parametrize("text", ["", "0", "-300", "300+-0", "300+-", "12in"])
def test_a_wrong_principal_distance_is_refused(text: str) -> None:
    with pytest.raises(LensError, match="principal distance"):
        read_principal_distance(text)


def test_footing_is_read_with_and_without_height() -> None:
    assert read_footing("upper-floor") == FootingChoice("upper floor")
    assert read_footing("Roof:9m") == FootingChoice("roof", 9.0)
    assert read_footing("ship:6+-1") == FootingChoice("ship", 6.0, 1.0)


@pytest.fixture
def plain_with_ridge(tmp_path: Path, scene: ModuleType) -> Path:
    """Write a plain at 100 m with a ridge to 600 m from 5 km north of its middle."""
    land = scene.terrain()
    heights = np.full_like(land.elevation_m, 100.0)
    heights[300:303] = 600.0  # nodes 5.00 to 5.10 km north
    path = tmp_path / "ridge.tif"
    _write_terrain(path, replace(land, elevation_m=heights))
    return path


def test_horizon_is_where_the_ridge_is(
    plain_with_ridge: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    typed = ["horizon", "-27.5,41.2", "--terrain", str(plain_with_ridge), "--json"]
    typed += ["--out", str(tmp_path), "--step", "90", "--horizon-radius", "9"]
    assert run(typed) == 0
    north = json.loads(capsys.readouterr().out)["horizon"][0]
    # The eye is 1.5 m up; the ridge drops by (1 - 0.13) d^2 / 2R, R 6371 km.
    drop_m = 0.87 * 5000.0**2 / (2 * 6_371_000.0)
    expected_deg = math.degrees(math.atan((600.0 - 101.5 - drop_m) / 5000.0))
    assert north["elevation_deg"] == pytest.approx(
        expected_deg, abs=A_HUNDREDTH_OF_A_DEGREE
    )
    assert north["distance_m"] == pytest.approx(5000.0, abs=5.0)
    assert (tmp_path / "horizon.png").stat().st_size > 10_000


def test_horizon_prints_a_row_a_step(
    plain_with_ridge: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    typed = ["horizon", "-27.5,41.2", "--terrain", str(plain_with_ridge)]
    typed += ["--out", str(tmp_path), "--step", "45", "--horizon-radius", "9"]
    assert run(typed) == 0
    printed = capsys.readouterr().out
    assert len(re.findall(r"^ *\d+° ", printed, re.MULTILINE)) == 8


def test_horizon_tells_what_the_ground_lacks(
    plain_with_ridge: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    typed = ["horizon", "-27.5,41.2", "--terrain", str(plain_with_ridge), "--json"]
    typed += ["--out", str(tmp_path), "--horizon-radius", "30"]
    assert run(typed) == 0
    said = capsys.readouterr()
    assert "% of the ground within 30.0 km lies outside" in said.err
    (source,) = json.loads(said.out)["terrain"]
    assert source["path"] == plain_with_ridge.name
    assert any(note.startswith("Warning:") for note in source["notes"])


@pytest.mark.parametrize(
    ("place", "code"), [("46.1", 2), ("8,98", 2), ("12.0,50.0", 3)]
)
def test_horizon_from_nowhere_is_refused(
    plain_with_ridge: Path, tmp_path: Path, place: str, code: int
) -> None:
    typed = ["horizon", place, "--terrain", str(plain_with_ridge)]
    assert run([*typed, "--out", str(tmp_path / "out")]) == code
    assert not (tmp_path / "out").exists()


def test_trace_writes_a_skyline_that_reads_back(
    case: Case, scene: ModuleType, capsys: pytest.CaptureFixture[str]
) -> None:
    scan = str(case.folder / "invented-plate.png")
    assert run(["trace", scan, "--out", str(case.out), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    traced = read_skyline_csv(case.out / "skyline.csv", 1600, 1200)
    line, _ = scene.horizon(scene.terrain())
    truth_px = np.interp(traced.x_px, line[:, 0], line[:, 1])
    assert told["share"] > 0.9
    assert np.median(np.abs(traced.y_px - truth_px)) < 1.5  # rows are whole pixels
    assert (case.out / "skyline.png").exists()


def test_trace_without_a_folder_writes_nothing(
    case: Case, capsys: pytest.CaptureFixture[str]
) -> None:
    before = set(case.folder.iterdir())
    assert run(["trace", str(case.folder / "invented-plate.png")]) == 0
    assert "% of the width" in capsys.readouterr().out
    assert set(case.folder.iterdir()) == before


def test_sizes_lists_every_format(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["sizes"]) == 0
    printed = capsys.readouterr().out
    assert all(size.name in printed for size in plate_formats())
    assert run(["sizes", "--json"]) == 0
    listed = json.loads(capsys.readouterr().out)
    assert [row["name"] for row in listed] == [size.name for size in plate_formats()]


def test_version_is_the_package_s(
    capsys: pytest.CaptureFixture[str], repository: Path
) -> None:
    import tomllib

    assert run(["--version"]) == 0
    project = tomllib.loads((repository / "pyproject.toml").read_text())["project"]
    assert capsys.readouterr().out.split() == ["wherestood", project["version"]]


@pytest.mark.parametrize("command", ["demo", "locate", "trace", "horizon", "sizes"])
def test_every_command_explains_itself(
    command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run([command, "--help"]) == 0
    assert "Usage: wherestood" in capsys.readouterr().out


def test_stages_become_one_line_each_where_nobody_watches(
    case: Case, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    inner: Callable[..., Any] = notebook._search

    def search(*given: Any) -> Any:
        given[-1].stage("searching the ground", 10)
        given[-1].advance(3)
        given[-1].stage("searching the ground", 10)
        return inner(*given)

    monkeypatch.setattr(notebook, "_search", search)
    run(case.words())
    assert capsys.readouterr().err.count("searching the ground ...") == 1


def test_demo_measures_its_answer_against_the_truth(
    case: Case, scene: ModuleType
) -> None:
    """A level camera with a centred lens looks where its axis does."""
    from wherestood.demo.camera_truth import CameraTruth

    answer = notebook.LocatedPlate(*scene.scene(case.folder))
    camera = CameraTruth(36.0, 0.0, 0.0, 1900.0, 800.0, 600.0, 0.0, 1600, 1200)
    north_deg = 10.0 / 111_057.0  # of latitude, at 41.2 north
    truth = DemoTruth(
        -27.5, 41.2 + north_deg, 0.0, 0.0, 130.0, 131.5, 37.0, camera, 250.0
    )
    found = compared(answer, truth)
    assert found.apart_m == pytest.approx(10.0, abs=0.05)
    assert found.inside_90
    assert found.true_sight_deg == pytest.approx(37.0)  # one degree of convergence
    assert found.found_sight_deg == pytest.approx(38.0)
    far = compared(answer, replace(truth, lat_deg=41.21))
    assert not far.inside_90
