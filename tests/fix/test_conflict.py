"""Check that evidence which cannot all be so is found, and its smallest part named."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from types import ModuleType

import numpy as np
import pytest
import shapely

from wherestood.evidence.items import Evidence, InLine
from wherestood.fix.checked import Conflict
from wherestood.fix.conflict import (
    LEAST_PROBABILITY,
    smallest_conflict,
    with_conflict,
)
from wherestood.fix.locate import locate
from wherestood.fix.result import Fix
from wherestood.fix.settings import LocateSettings
from wherestood.fix.verdict import Judgement

SETTINGS = LocateSettings(surface="ground", reversed=False)


@pytest.fixture(scope="module")
def searched(plate, land, area_of, marked: ModuleType):
    east, north = marked.STATION_M
    area = area_of(
        land, shapely.box(east - 130.0, north - 120.0, east + 120.0, north + 130.0)
    )

    def made(evidence: Evidence) -> Fix:
        return locate(plate, land, None, area, settings=SETTINGS, evidence=evidence)

    return made


def mixed(evidence: Evidence, wrong: tuple[int, ...]) -> Evidence:
    """Return the marks with some at random places."""
    drawn = np.random.default_rng(4).uniform((0, 0), (1200, 900), (7, 2))
    return replace(
        evidence,
        marks=tuple(
            replace(mark, x_px=float(drawn[n, 0]), y_px=float(drawn[n, 1]))
            if n in wrong
            else mark
            for n, mark in enumerate(evidence.marks)
        ),
    )


def test_one_blunder_of_seven_is_no_conflict(searched, land, marked) -> None:
    found = searched(marked.evidence_of(land, blunder=3))
    assert found.verdict == "located"
    assert found.checks.conflict is None


def test_marks_half_of_which_are_wrong_determine_nothing_and_are_named(
    searched, land, marked
) -> None:
    found = searched(mixed(marked.evidence_of(land), (1, 3, 5)))
    conflict = found.checks.conflict
    assert found.verdict == "not determined"
    assert conflict is not None
    named = set(conflict.smallest)
    assert named & {"mark 1", "mark 3", "mark 5"}
    assert len(named) < 7
    assert any("cannot" in reason for reason in found.reasons)


def test_two_spacings_of_the_same_two_things_contradict_each_other(
    searched, land, marked
) -> None:
    evidence = replace(
        marked.evidence_of(land),
        marks=(),
        in_lines=(
            InLine("thing 1", "thing 2", left_deg=-35.0, id="first reading"),
            InLine("thing 1", "thing 2", left_deg=30.0, id="second reading"),
            InLine("thing 0", "thing 4", left_deg=20.0, id="another"),
        ),
    )
    found = searched(evidence)
    assert found.verdict == "not determined"
    assert found.checks.conflict is not None
    assert "first reading" in found.checks.conflict.smallest or (
        "second reading" in found.checks.conflict.smallest
    )


def test_evidence_trusted_wholly_that_leaves_no_ground_is_an_answer_not_an_error(
    searched, land, marked
) -> None:
    evidence = replace(
        marked.evidence_of(land),
        marks=(),
        in_lines=(
            InLine("thing 2", "thing 4", left_deg=-40.0, trust=1.0, id="sure"),
            InLine("thing 2", "thing 4", left_deg=20.0, trust=1.0, id="surer"),
        ),
    )
    found = searched(evidence)
    assert found.verdict == "not determined"
    assert found.checks.conflict is not None
    assert set(found.checks.conflict.smallest) <= {"sure", "surer"}


@pytest.mark.parametrize("seed", range(6))
def test_the_smallest_part_is_one_of_which_none_can_be_spared(seed: int) -> None:
    """Against every subset: clauses at random that cannot all be so."""
    generator = np.random.default_rng(seed)
    names = [f"item {n}" for n in range(8)]
    clashes = [
        frozenset(generator.choice(names, generator.integers(2, 4), replace=False))
        for _ in range(3)
    ]

    def fits(some: tuple[str, ...]) -> bool:
        return not any(clash <= set(some) for clash in clashes)

    found, sure = smallest_conflict(names, fits)
    assert sure
    assert not fits(found)
    for fewer in combinations(found, len(found) - 1):
        assert fits(fewer)


def test_what_fits_has_no_conflict() -> None:
    assert smallest_conflict(["a", "b"], lambda _: True) == ((), True)


def test_without_time_all_is_named_and_said_to_be_unsure() -> None:
    def tired(some: tuple[str, ...]) -> bool:
        if len(some) < 4:
            raise StopIteration
        return False

    assert smallest_conflict(list("abcd"), tired) == (tuple("abcd"), False)


def test_a_conflict_beyond_chance_overrules_the_verdict() -> None:
    before = Judgement("located", ("All is well.",))
    beyond = Conflict(("b", "c"), LEAST_PROBABILITY / 2, ("a", "b"))
    after = with_conflict(before, beyond)
    assert after.verdict == "not determined"
    assert after.reasons[0] == (
        "No place fits all the evidence: a and b cannot both be so."
    )
    assert "All is well." not in after.reasons
    within = replace(beyond, probability=0.1)
    assert with_conflict(before, within).verdict == "located"
    assert with_conflict(before, None) is before
