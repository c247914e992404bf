"""Run all checks of a fix, one after another."""

from __future__ import annotations

from wherestood.fix.checked import Checks
from wherestood.fix.groups import said_by_people
from wherestood.fix.kept_ground import KeptGround
from wherestood.fix.left_out import agreement_of_kinds, leave_out
from wherestood.fix.problem import Problem
from wherestood.progress import Progress

__all__ = ["check"]


def check(problem: Problem, ground: KeptGround, progress: Progress) -> Checks:
    """Return what the checks found, leaving out each in turn aside.

    Parameters
    ----------
    ground : KeptGround
        What is weighed again.
    """
    said = said_by_people(problem)
    return Checks(
        agreement=agreement_of_kinds(problem, ground, progress),
        without_statements=(
            leave_out(problem, ground, "what people say", said, progress)
            if said
            else None
        ),
    )
