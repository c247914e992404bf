"""Run all checks of a fix, one after another."""

from __future__ import annotations

import numpy as np

from wherestood.evidence.items import Evidence
from wherestood.fix.advice import advise
from wherestood.fix.answers import Chosen
from wherestood.fix.checked import Checks
from wherestood.fix.groups import said_by_people
from wherestood.fix.held_back import held_back
from wherestood.fix.indeterminate import indeterminate
from wherestood.fix.kept_ground import KeptGround
from wherestood.fix.left_out import agreement_of_kinds, leave_out
from wherestood.fix.likely_cameras import likely_cameras
from wherestood.fix.missing_ground import missing_ground
from wherestood.fix.problem import Problem
from wherestood.progress import SILENT, Progress

__all__ = ["check"]


def check(
    problem: Problem,
    evidence: Evidence,
    ground: KeptGround,
    chosen: Chosen,
    rng: np.random.Generator,
    progress: Progress,
) -> Checks:
    """Return what the checks found, leaving out each in turn aside.

    Parameters
    ----------
    evidence : Evidence
        All that was given, used or not.
    ground : KeptGround
        What is weighed again.
    chosen : Chosen
        The likeliest place's answer.
    """
    said = said_by_people(problem)
    whole = ground.less((), SILENT)
    cameras = likely_cameras(problem, whole)
    return Checks(
        agreement=agreement_of_kinds(problem, ground, progress),
        without_statements=(
            leave_out(problem, ground, "what people say", said, progress)
            if said
            else None
        ),
        held_back=held_back(problem, cameras),
        indeterminate=indeterminate(problem, chosen, whole.spread()),
        advice=advise(problem, evidence, chosen, whole, rng),
        missing_ground=missing_ground(problem, chosen),
    )
