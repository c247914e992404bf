"""Run all checks of a fix, one after another."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wherestood.evidence.items import Evidence
from wherestood.fix.advice import MOST_ADVICE, advise
from wherestood.fix.answers import Chosen
from wherestood.fix.checked import Advice, Checks, HeldBack, MissingGround
from wherestood.fix.groups import said_by_people
from wherestood.fix.held_back import held_back
from wherestood.fix.indeterminate import indeterminate
from wherestood.fix.kept_ground import KeptGround
from wherestood.fix.left_out import agreement_of_kinds, leave_out
from wherestood.fix.likely_cameras import likely_cameras
from wherestood.fix.missing_ground import MOST, missing_ground
from wherestood.fix.problem import Problem
from wherestood.progress import SILENT, Progress

__all__ = ["check"]


def check(
    problem: Problem,
    evidence: Sequence[Evidence],
    ground: KeptGround,
    chosen: Chosen,
    rng: np.random.Generator,
    progress: Progress,
    held_m2: float | None = None,
) -> Checks:
    """Return what the checks found, leaving out each in turn aside.

    Parameters
    ----------
    evidence : sequence of Evidence
        All that was given of each plate, used or not.
    ground : KeptGround
        What is weighed again.
    chosen : Chosen
        The likeliest place's answer.
    held_m2 : float, optional
        As `wherestood.fix.advice.advise` takes it.
    """
    said = said_by_people(problem)
    whole = ground.less((), SILENT)
    held: list[HeldBack] = []
    advice: list[Advice] = []
    missing: list[MissingGround] = []
    for k, (plate, told) in enumerate(zip(problem.plates, evidence, strict=True)):
        own, camera = whole.of_plate(k), chosen.of_plate(k)
        held += held_back(plate, likely_cameras(plate, own))
        advice += advise(plate, told, camera, own, rng, held_m2)
        missing += missing_ground(plate, camera)
    return Checks(
        agreement=agreement_of_kinds(problem, ground, progress),
        without_statements=(
            leave_out(problem, ground, "what people say", said, progress)
            if said
            else None
        ),
        held_back=tuple(held),
        indeterminate=indeterminate(problem, chosen, whole.spread()),
        advice=_best(advice),
        missing_ground=tuple(sorted(missing, key=lambda one: one.hill_m)[:MOST]),
    )


def _best(advice: Sequence[Advice]) -> tuple[Advice, ...]:
    """Return the best advice of all plates, the same thing once."""
    found: dict[tuple[str, tuple[str, ...]], Advice] = {}
    for one in sorted(advice, key=lambda one: one.area_after_m2):
        # Nameless ground is told apart by where it lies.
        where = () if one.subjects else (f"{one.lon_deg:.5f} {one.lat_deg:.5f}",)
        found.setdefault((one.what, one.subjects or where), one)
    return tuple(found.values())[:MOST_ADVICE]
