"""Check what is said of evidence item by item, in words and as a table."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from wherestood.cli.screen import say_page
from wherestood.evidence.items import Complaint, Evidence
from wherestood.fix.result import Fix
from wherestood.record.evidence_words import evidence_section, table_section
from wherestood.record.inputs import FixInputs
from wherestood.record.item_words import item_sentence, two_digits
from wherestood.record.page import Section, page_text
from wherestood.record.uncounted import uncounted
from wherestood.record.words import plain_words

VERDICTS = ["located", "several places", "not determined"]
CERTAIN, EVEN, POSSIBLE, SURE = 8.0, 0.4, -1.0, -8.0


@pytest.fixture
def told(scene: ModuleType, tmp_path: Path) -> tuple[Fix, FixInputs]:
    found: tuple[Fix, FixInputs] = scene.with_evidence(*scene.scene(tmp_path))
    return found


def _text(sections: tuple[Section, ...]) -> str:
    return " ".join(page_text(sections).split())


def test_blunder_is_named_first_with_its_odds_and_way(
    told: tuple[Fix, FixInputs],
) -> None:
    lines = evidence_section(*told).lines
    assert lines[:2] == (
        "Seen from the camera position:",
        "Mark B (gable) is almost certainly a blunder (more than 99 in 100): it shows "
        "200 px to the right of where it should.",
    )


def test_what_agrees_says_how_well(told: tuple[Fix, FixInputs]) -> None:
    lines = evidence_section(*told).lines
    assert "Mark A (tannery chimney) agrees: 1.5 px from where it should show." in lines
    assert "In line a over b agrees to 0.043°." in lines
    assert "Statement caption agrees: the place lies inside." in lines


def test_every_item_given_is_spoken_of_once(told: tuple[Fix, FixInputs]) -> None:
    fix, inputs = told
    lines = evidence_section(fix, inputs).lines
    for item in inputs.evidence.items():
        assert len([one for one in lines if f" {item.id} " in one]) == 1, item.id


def test_what_counts_nothing_is_said_with_the_reason(
    told: tuple[Fix, FixInputs],
) -> None:
    assert {one.name: one.why for one in uncounted(*told)} == {
        "C": "it is tied to nothing on the ground",
        "copy": "it only repeats what is known (taken from 'caption')",
    }


def test_what_was_left_out_stands_with_file_line_and_remedy(
    told: tuple[Fix, FixInputs],
) -> None:
    fix, inputs = told
    wrong = Complaint("mark", "Z", "It is outside.", "Move it.", file="e.toml", line=7)
    lines = evidence_section(fix, replace(inputs, complaints=(wrong,))).lines
    assert lines[-1] == "e.toml, line 7: It is outside. Move it. It is left out."


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ({"kind": "mark", "blunder_log_odds": EVEN, "residual_px": [-3.0, 4.0],
          "residual": 5.0},
         "Mark X is likelier a blunder than not (about 3 in 5): it shows 3 px to the "
         "left of and 4 px below where it should."),
        ({"kind": "mark", "blunder_log_odds": CERTAIN, "residual_px": [1.0, -90.0],
          "residual": 90.0},
         "Mark X is almost certainly a blunder (more than 99 in 100): it shows 90 px "
         "above where it should."),
        ({"kind": "in line", "blunder_log_odds": POSSIBLE, "residual_deg": -1.25},
         "In line X may be a blunder (about 1 in 4): from there the two stand 1.2° off "
         "what was read."),
        ({"kind": "order", "blunder_log_odds": CERTAIN, "residual_deg": -41.0},
         "Order X is almost certainly a blunder (more than 99 in 100): from there they "
         "stand the other way round, 41° apart."),
        ({"kind": "order", "blunder_log_odds": SURE},
         "Order X agrees."),
        ({"kind": "known distance", "blunder_log_odds": CERTAIN, "residual_m": 380.0},
         "Known distance X is almost certainly a blunder (more than 99 in 100): it is "
         "380 m nearer than said."),
        ({"kind": "statement", "blunder_log_odds": CERTAIN, "residual_m": 1200.0},
         "Statement X is almost certainly a blunder (more than 99 in 100): the place "
         "lies 1.2 km outside what it says."),
        ({"kind": "upright edge", "blunder_log_odds": CERTAIN, "residual_deg": -6.1},
         "Upright edge X is almost certainly a blunder (more than 99 in 100): it leans "
         "6.1° to the left, and an upright thing does not."),
        ({"kind": "upright edge", "blunder_log_odds": SURE, "residual_deg": 0.21},
         "Upright edge X agrees: it leans by 0.21°."),
        ({"kind": "water level", "blunder_log_odds": CERTAIN, "residual": 300.0,
          "residual_px": [0.0, -300.0]},
         "Water level X is almost certainly a blunder (more than 99 in 100): it shows "
         "300 px above where it should."),
        ({"kind": "sea horizon", "blunder_log_odds": CERTAIN},
         "Sea horizon X is almost certainly a blunder (more than 99 in 100): from "
         "there no such water is to be seen that way."),
        ({"kind": "sea horizon", "blunder_log_odds": SURE, "residual": 2.0,
          "residual_px": [0.0, 2.0]},
         "Sea horizon X agrees: 2 px from where it should show."),
        ({"kind": "known size", "blunder_log_odds": SURE, "residual_m": -0.43},
         "Known size X agrees to 0.43 m."),
        ({"kind": "known size", "blunder_log_odds": CERTAIN, "residual_m": 14.2},
         "Known size X is almost certainly a blunder (more than 99 in 100): it shows "
         "14 m longer than it is."),
        ({"kind": "known size", "blunder_log_odds": SURE, "distance_m": 643.0},
         "Known size X agrees: by its size it is 640 m away."),
        ({"kind": "seen", "blunder_log_odds": CERTAIN},
         "Seen X is almost certainly a blunder (more than 99 in 100): from there it "
         "would hardly show."),
    ],
)  # fmt: skip
def test_one_sentence_tells_kind_odds_and_amount(
    row: dict[str, Any], said: str
) -> None:
    assert item_sentence({"id": "X", **row}, Evidence()) == said


def test_made_ids_do_not_say_their_kind_twice() -> None:
    row = {"id": "in line: f5, f2", "kind": "in line", "blunder_log_odds": SURE}
    assert item_sentence(row, Evidence()) == "In line (f5, f2) agrees."


@pytest.mark.parametrize(
    ("value", "said"), [(311.4, "310"), (0.0432, "0.043"), (1835.7, "1800"), (0, "0")]
)
def test_amounts_have_two_digits_and_no_powers(value: float, said: str) -> None:
    assert two_digits(value) == said


def test_table_has_a_row_for_every_item(told: tuple[Fix, FixInputs]) -> None:
    table = table_section(*told).table
    assert table[0] == ("item", "what", "off by", "chance of a blunder")
    assert [row[0] for row in table[1:]] == [
        "skyline", "A", "B", "a over b", "caption", "post", "lake", "mast", "C", "copy",
    ]  # fmt: skip
    assert table[3] == ("B", "mark: gable", "200 px", "more than 99 in 100")
    assert table[-2] == ("C", "mark", "", "counts nothing")


def test_columns_of_the_table_stand_under_one_another(
    told: tuple[Fix, FixInputs],
) -> None:
    section = table_section(*told)
    lines = page_text([section], 88).splitlines()[1:]
    at = lines[0].index("off by")
    assert lines[4][at:].startswith("200 px")
    assert len(lines) == len(section.table) + 1


def test_table_is_shown_at_the_terminal(
    told: tuple[Fix, FixInputs], capsys: pytest.CaptureFixture[str]
) -> None:
    say_page([table_section(*told)])
    row = next(r for r in capsys.readouterr().out.splitlines() if "mark: gable" in r)
    assert row.split("  ")[0].strip() == "B"
    assert row.rstrip().endswith("more than 99 in 100")


def test_a_skyline_alone_has_neither_list_nor_table(
    scene: ModuleType, tmp_path: Path
) -> None:
    headings = [s.heading for s in plain_words(*scene.scene(tmp_path))]
    assert not [heading for heading in headings if heading.startswith("The evidence")]


@pytest.mark.parametrize("verdict", VERDICTS)
def test_without_a_skyline_nothing_speaks_of_one_traced(
    scene: ModuleType, tmp_path: Path, verdict: str
) -> None:
    made = scene.with_evidence(*scene.scene(tmp_path, verdict))
    text = _text(plain_words(*scene.without_skyline(*made)))
    assert re.findall(r"[^.]*skyline[^.]*\.", text) == [
        " No skyline was used: the answer rests on the other evidence alone."
    ]
    assert "tracing" not in text
