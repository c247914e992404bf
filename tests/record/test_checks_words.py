"""Check what is said of items left out and of positions proposed."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import pytest

from wherestood.fix.result import Fix, LeftOut, Proposed, ProposedTold
from wherestood.record.checks_words import left_out_lines, proposed_lines

POSITION = Proposed("the sexton", 8.5, 46.1)


@pytest.fixture
def fix(scene: ModuleType, tmp_path: Path) -> Fix:
    made, _ = scene.scene(tmp_path, "located")
    return replace(
        made,
        near_enough_m=100.0,
        left_out=(
            LeftOut("chimney", ("m1",), 60.0, 0.0, -60.0, 3.0, -5.0),
            LeftOut("gable", ("m2",), 2.0, 2.0, 0.0, 1.0, 0.0),
            LeftOut("skyline", ("skyline",), 3.0, 2.0, 0.0, 1.1, -0.2),
        ),
    )


def test_what_holds_the_fix_is_told_with_where_it_would_go(fix: Fix) -> None:
    first = left_out_lines(fix)[0]
    assert first == (
        "Without chimney it moves 60 m south, and the 9-in-10 ground grows to 3.0 "
        "times; it alone holds the fix where it is."
    )


def test_what_hardly_matters_is_told_together(fix: Fix) -> None:
    assert left_out_lines(fix)[1] == (
        "Without any one of skyline and gable it stays where it is, within 25 m."
    )


def test_a_fix_by_one_item_tells_nothing(fix: Fix) -> None:
    assert left_out_lines(replace(fix, left_out=())) == []


@pytest.mark.parametrize(
    ("told", "words"),
    [
        (
            ProposedTold(POSITION, "fits", -0.1, (("gable", -0.1),), math.nan),
            "the sexton: fits.",
        ),
        (
            ProposedTold(
                POSITION, "impossible", -40.0, (("gable", -9.0), ("x", -0.1)), math.nan
            ),
            "the sexton: impossible. The likeliest ground explains the evidence over "
            "a million times better. What speaks against it: gable.",
        ),
        (
            ProposedTold(POSITION, "impossible", -math.inf, (), math.nan),
            "the sexton: impossible; no ground is known there.",
        ),
        (
            ProposedTold(POSITION, "fits poorly", 0.0, (), 4.2),
            "the sexton: fits poorly. Its bearing does not agree with what the plate "
            "would show from there (4.2 standard errors off).",
        ),
    ],
)
def test_a_proposed_position_is_told_with_its_reasons(
    fix: Fix, told: ProposedTold, words: str
) -> None:
    assert proposed_lines(replace(fix, proposed=(told,))) == [words]
