"""Check that no part of the evidence is weighed twice for the checks of a fix."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from wherestood.fix import kept_ground
from wherestood.fix.kept_ground import KeptGround
from wherestood.fix.left_out import agreement_of_kinds, leave_out, leave_out_each
from wherestood.fix.problem import set_up
from wherestood.fix.settings import LocateSettings
from wherestood.progress import SILENT

SIDE_M = 10.0


@pytest.fixture
def weighed(
    plate, land, wavy_skyline, area_of, marked, make_cells, monkeypatch
) -> tuple[KeptGround, list[tuple[bool, int, bool]]]:
    """Return kept ground of a skyline and two marks, and what it was weighed by.

    Each is told by whether there was a skyline, how many marks there were, and whether
    cameras were looked for anew.
    """
    evidence = marked.evidence_of(land)
    evidence = replace(evidence, marks=evidence.marks[:2])
    area = area_of(land, shapely.box(-500.0, -500.0, 500.0, 500.0))
    settings = LocateSettings(surface="ground", reversed=False)
    problem = set_up(plate, land, wavy_skyline, area, settings, evidence)
    at_m = np.arange(5) * SIDE_M
    east, north = (part.ravel() for part in np.meshgrid(at_m, at_m))
    asked: list[tuple[bool, int, bool]] = []

    def scored(changed, east_m, north_m, side_m, share, _progress, starts=None, **_):
        parts = (changed.has_skyline, len(changed.marks.plate), starts is None)
        asked.append(parts)
        spread = -(east_m**2 + north_m**2) / (2.0 * SIDE_M**2)
        return make_cells(east_m, north_m, side_m, sum(parts[:2]) * spread, share)

    monkeypatch.setattr(kept_ground, "score_cells", scored)
    cells = make_cells(east, north, SIDE_M, np.zeros(east.size))
    return KeptGround(problem, ((cells, np.ones(east.size), None),)), asked


def test_each_part_of_the_evidence_is_weighed_once(weighed) -> None:
    ground, asked = weighed
    problem = ground.problem
    told = leave_out_each(problem, ground, SILENT)
    assert [one.name for one in told] == ["skyline", "mark 0", "mark 1"]
    leave_out(problem, ground, "a mark", ("mark 0",), SILENT)
    assert asked == [(True, 2, False), (False, 2, False), *2 * [(True, 1, False)]]


def test_of_two_kinds_each_is_what_is_left_without_the_other(weighed) -> None:
    ground, asked = weighed
    told = agreement_of_kinds(ground.problem, ground, SILENT)
    assert [one.name for one in told] == ["skyline", "marks"]
    assert told[0].log_odds == pytest.approx(told[1].log_odds)
    assert sorted(asked) == sorted(
        [(True, 2, True), (False, 0, True), (True, 0, True), (False, 2, True)]
    )
