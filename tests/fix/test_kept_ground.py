"""Check how far a shift of the whole model blurs an answer."""

from __future__ import annotations

from dataclasses import replace

import pytest

from wherestood.evidence.profile import SHIFT_CELLS
from wherestood.fix.kept_ground import MARKS_THAT_SETTLE, shift_reach_m
from wherestood.fix.problem import Problem, set_up


def test_a_skyline_is_as_doubtful_sideways_as_its_model(problem: Problem, land) -> None:
    assert shift_reach_m(problem) == pytest.approx(SHIFT_CELLS * land.cell_m)


@pytest.mark.parametrize(
    ("count", "blurred"), [(1, True), (2, True), (MARKS_THAT_SETTLE, False), (7, False)]
)
def test_marks_that_settle_the_station_are_not_blurred(
    plate, land, wavy_skyline, marked, problem: Problem, count: int, blurred: bool
) -> None:
    evidence = marked.evidence_of(land)
    few = replace(evidence, marks=evidence.marks[:count])
    both = set_up(plate, land, wavy_skyline, problem.area, problem.settings, few)
    assert (shift_reach_m(both) > 0.0) is blurred


def test_without_a_skyline_no_model_can_be_shifted(
    plate, land, marked, problem: Problem
) -> None:
    evidence = marked.evidence_of(land)
    alone = set_up(plate, land, None, problem.area, problem.settings, evidence)
    assert shift_reach_m(alone) == 0.0
