"""Check what is left of a problem when parts of its evidence are taken away."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely

from wherestood.evidence.items import gather
from wherestood.fix.groups import SKYLINE, groups_of, only, without
from wherestood.fix.problem import Problem, set_up
from wherestood.fix.settings import LocateSettings

#: On the wavy skyline at its first column, and far below it.
ON_IT_PX, BELOW_PX = (0.5, 400.0), (600.0, 800.0)


@pytest.fixture(scope="module")
def both(plate, land, wavy_skyline, area_of, marked) -> Problem:
    """Return a skyline beside two marks, the first of them on it."""
    marks = marked.evidence_of(land).marks[:2]
    places = (ON_IT_PX, BELOW_PX)
    evidence = gather(
        replace(mark, x_px=x, y_px=y, at="ground")
        for mark, (x, y) in zip(marks, places, strict=True)
    )
    evidence = replace(evidence, features=marked.evidence_of(land).features)
    area = area_of(land, shapely.box(-500.0, -500.0, 500.0, 500.0))
    return set_up(
        plate, land, wavy_skyline, area, LocateSettings(surface="ground"), evidence
    )


def test_each_item_is_a_group_beside_the_skyline(both: Problem) -> None:
    assert list(groups_of(both)) == [SKYLINE, "mark 0", "mark 1"]


def test_a_mark_on_the_skyline_tells_its_height_once_the_skyline_is_gone(
    both: Problem,
) -> None:
    assert list(both.marks.elevated) == [False, True]
    assert list(without(both, {SKYLINE}).marks.elevated) == [True, True]
    assert list(only(both, {"mark 0"}).marks.elevated) == [True]
    # Beside the skyline it tells none, whatever else is left out.
    assert list(without(both, {"mark 1"}).marks.elevated) == [False]
