"""Check what is said of positions that somebody proposed, and of two side by side."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import pytest

from wherestood.fix.result import Alternative, Fix, Proposed, ProposedTold
from wherestood.record.inputs import FixInputs
from wherestood.record.proposed_words import (
    favours,
    proposed_section,
    side_by_side_section,
)

SEXTON = Proposed("the sexton", -27.5, 41.2, reason="his father said so")
CATALOGUE = Proposed("the catalogue", -27.51, 41.21)


@pytest.fixture
def asked(scene: ModuleType, tmp_path: Path) -> tuple[Fix, FixInputs]:
    fix, inputs = scene.with_evidence(*scene.scene(tmp_path, "located"))
    return replace(fix, near_enough_m=100.0), inputs


def told(fix: Fix, proposed: Proposed, ratio: float, *because, **more) -> ProposedTold:
    verdict = "fits" if ratio > -3.0 else "impossible"
    place = Alternative(fix.station, fix.camera, 0.9, rms_px=2.0, evidence=fix.evidence)
    values = {"bearing_off_sds": math.nan, "answer": place, "apart_m": 5.0, **more}
    return ProposedTold(proposed, verdict, ratio, because, **values)


def line_of(asked: tuple[Fix, FixInputs], one: ProposedTold) -> str:
    fix, inputs = asked
    (line,) = proposed_section(replace(fix, proposed=(one,)), inputs).lines
    return line


def test_name_place_and_reason_are_kept(asked) -> None:
    assert line_of(asked, told(asked[0], SEXTON, -0.1)) == (
        "the sexton (41.20000° N, 27.50000° W), because 'his father said so': fits. "
        "Within 100 m of it the camera stood as likely as anywhere."
    )


def test_what_speaks_against_it_is_told_with_its_odds_and_by_how_much(asked) -> None:
    line = line_of(asked, told(asked[0], SEXTON, -40.0, ("B", -9.0), ("A", -0.1)))
    assert ": impossible." in line
    assert "over a million times less likely" in line
    assert "mark B (gable) (about 8,000 times less likely): it shows 200 px" in line
    assert "mark A" not in line


def test_unknown_ground_is_impossible(asked) -> None:
    gone = told(asked[0], SEXTON, -math.inf, answer=None, apart_m=math.nan)
    assert line_of(asked, gone).endswith("impossible; no ground is known there.")


@pytest.mark.parametrize(
    ("off_deg", "sds", "words"),
    [
        (-30.0, 4.2, "it looks 30° too far left (4.2 times its doubt)."),
        (1.2, 0.3, "Its bearing agrees with the view that fits there, to 1.2°."),
    ],
)
def test_a_bearing_agrees_or_looks_too_far_one_way(
    asked, off_deg: float, sds: float, words: str
) -> None:
    more = {"bearing_off_deg": off_deg, "bearing_off_sds": sds}
    assert line_of(asked, told(asked[0], SEXTON, 0.0, **more)).endswith(words)


def test_two_answers_stand_side_by_side_item_by_item(asked) -> None:
    fix, _ = asked
    one = told(fix, SEXTON, -0.2, ("A", -0.1), ("caption", -3.0), ("B", 0.0))
    other = told(fix, CATALOGUE, -5.0, ("A", -6.1), ("caption", 0.0), ("B", -0.2))
    assert favours(one, other) == [
        ("A", pytest.approx(6.0)),
        ("caption", pytest.approx(-3.0)),
        ("B", pytest.approx(0.2)),
    ]
    section = side_by_side_section(replace(fix, proposed=(one, other)))
    head, *rows = section.table
    assert head[3:] == ("the sexton", "the catalogue")
    assert [row[:3] for row in rows] == [
        ("mark A", "the sexton", "about 400 times"),
        ("statement caption", "the catalogue", "about 20 times"),
        ("mark B", "neither", ""),
    ]
    assert "favours the sexton, about 100 times" in section.lines[0]


def test_one_proposed_position_is_compared_with_none(asked) -> None:
    fix, _ = asked
    one = told(fix, SEXTON, -0.2)
    assert side_by_side_section(replace(fix, proposed=(one,))).table == ()
