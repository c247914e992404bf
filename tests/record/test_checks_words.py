"""Check what is said of evidence left out, set against the rest, or held back."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import ModuleType

import pytest

from wherestood.fix.checked import (
    Agreement,
    Checks,
    HeldBack,
    Indeterminate,
    LeftOut,
)
from wherestood.fix.result import Fix
from wherestood.record.checks_words import (
    agreement_section,
    held_back_section,
    indeterminate_lines,
    left_out_section,
    statements_section,
    times_in_words,
)

CHIMNEY = LeftOut("chimney", ("m1",), 60.0, 0.0, -60.0, 3.0, -5.0, 50.0, 1.2)


@pytest.fixture
def fix(scene: ModuleType, tmp_path: Path) -> Fix:
    made, _ = scene.scene(tmp_path, "located")
    return replace(
        made,
        near_enough_m=100.0,
        left_out=(
            CHIMNEY,
            LeftOut("gable", ("m2",), 2.0, 2.0, 0.0, 1.0, 0.0, 10.0, 0.2),
            LeftOut("skyline", ("skyline",), 3.0, 2.0, 0.0, 1.1, -0.2, 15.0, 0.2),
        ),
    )


def test_what_holds_the_fix_is_told_with_where_it_would_go(fix: Fix) -> None:
    _, row = left_out_section(fix).table
    assert row == ("chimney", "60 m south", "50 m", "3 times", row[-1])
    assert row[-1] == "it alone holds the fix there"


def test_a_movement_far_beyond_its_doubt_is_a_disagreement(fix: Fix) -> None:
    far = replace(CHIMNEY, expected_m=10.0, moved_sds=6.0)
    _, row = left_out_section(replace(fix, left_out=(far,))).table
    assert row[-1] == "it disagrees with the rest"


def test_what_hardly_matters_is_told_together(fix: Fix) -> None:
    assert (
        "Without any one of skyline and gable it stays where it is, within 25 m."
        in left_out_section(fix).lines
    )


def test_a_fix_by_one_item_tells_nothing(fix: Fix) -> None:
    section = left_out_section(replace(fix, left_out=()))
    assert (section.lines, section.table) == ((), ())


@pytest.mark.parametrize(
    ("log_odds", "apart_sds", "words"),
    [
        (6.0, 0.5, "agrees: one place about 400 times likelier than two"),
        (-20.0, 1.0, "disagrees: two places over a million times likelier"),
        (5.0, 4.0, "disagrees: it puts the camera elsewhere"),
        (-2.0, 1.0, "neither speaks for nor against it"),
    ],
)
def test_kinds_of_evidence_agree_or_disagree_in_words(
    fix: Fix, log_odds: float, apart_sds: float, words: str
) -> None:
    one = Agreement("skyline", ("skyline",), log_odds, 130.0, apart_sds, 5000.0)
    section = agreement_section(replace(fix, checks=Checks(agreement=(one,))))
    assert section.table[1][-1] == words


def test_statements_are_told_with_and_without_side_by_side(fix: Fix) -> None:
    less = replace(
        CHIMNEY, area_m2=60_000.0, near_share=0.5, lon_deg=-27.5, lat_deg=41.2
    )
    section = statements_section(replace(fix, checks=Checks(without_statements=less)))
    rows = {row[0]: row[1:] for row in section.table}
    assert rows["9-in-10 ground"] == ("2 ha", "6 ha")
    assert "60 m south" in section.lines[0]


@pytest.mark.parametrize(
    ("off_sds", "words"), [(1.1, "as foretold"), (4.0, "not foretold")]
)
def test_a_mark_held_back_is_set_against_its_ellipse(
    fix: Fix, off_sds: float, words: str
) -> None:
    one = HeldBack("C", "f", 410.0, 220.0, 12.0, 5.0, 20.0, 9.0, off_sds, 0.3)
    section = held_back_section(replace(fix, checks=Checks(held_back=(one,))))
    assert section.table[1][0] == "C"
    assert section.table[1][-1].startswith(words)


def test_a_nearly_indeterminate_station_is_told_with_its_reason(
    scene: ModuleType, tmp_path: Path
) -> None:
    fix, inputs = scene.with_evidence(*scene.scene(tmp_path, "located"))
    circle = Indeterminate(310.0, 2.0, 88.0, 17.7, ("f1", "f2", "road"))
    first, second = indeterminate_lines(
        replace(fix, checks=Checks(indeterminate=circle)), inputs
    )
    assert "to the east and west the camera position is known to 310 m only" in first
    assert "18 m from the circle through tannery chimney, gable and road" in second
    aimed = Indeterminate(90.0, 2.0, 40.0, one_way_deg=4.2)
    _, why = indeterminate_lines(
        replace(fix, checks=Checks(indeterminate=aimed)), inputs
    )
    assert "within 4° of one direction" in why
    assert indeterminate_lines(fix, inputs) == ()


def test_times_are_told_to_one_digit_where_they_are_many() -> None:
    assert times_in_words(0.5) == "about 1.6 times"
    assert times_in_words(4.1) == "about 60 times"
    assert times_in_words(8.2) == "about 4,000 times"


def test_ground_hundreds_of_times_larger_is_never_told_as_a_power_of_ten(
    fix: Fix,
) -> None:
    wide = replace(CHIMNEY, area_ratio=718.0)
    _, row = left_out_section(replace(fix, left_out=(wide,))).table
    assert row[3] == "720 times"
