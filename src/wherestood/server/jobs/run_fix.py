"""Find where a plate was taken, and keep the answer in the daybook."""

from __future__ import annotations

from typing import Any

from wherestood import notebook
from wherestood.daybook import Daybook
from wherestood.daybook.ask_fix import Wish, keep_answer, prepare_fix
from wherestood.errors import InputError
from wherestood.progress import Progress
from wherestood.server.forms.jobs import JobResult

__all__ = ["run_fix"]

#: What is asked by the same name as `Wish` has it.
_SAME = ("near_enough_m", "horizon_radius_m", "refraction", "ridge_lines", "seed")


def run_fix(
    asked: dict[str, Any], daybook: str | None, progress: Progress
) -> JobResult:
    """Run a fix of a plate as its items stand now."""
    if daybook is None:
        raise InputError("No daybook is open.", "Open one first.")
    wish = Wish(
        skyline=not asked.get("no_skyline"),
        statements=not asked.get("without_statements"),
        without=tuple(asked.get("without") or ()),
        **{name: asked[name] for name in _SAME if asked.get(name) is not None},
    )
    with Daybook.open(daybook) as book:
        if asked.get("together"):
            from wherestood.server.jobs.run_panorama import run_panorama

            return run_panorama(book, asked, wish, progress)
        prepared = prepare_fix(book, asked["plate_id"], wish, progress)
        answer = notebook.locate(**prepared.given(), progress=progress)
        kept = keep_answer(
            book,
            prepared.read,
            answer,
            asked["person"],
            asked.get("why", ""),
            more=prepared.more(),
            progress=progress,
        )
    return JobResult(
        fix_id=kept.id,
        evidence_id=kept.skyline_id,
        plate_ids=[prepared.read.plate.id],
        notes=[*prepared.notes, *(str(one) for one in answer.complaints)],
    )
