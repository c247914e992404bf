"""Merge another copy of the daybook into it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from wherestood.daybook import Daybook
from wherestood.daybook.handover import merge, merge_in_words, other_copy
from wherestood.errors import InputError
from wherestood.progress import Progress
from wherestood.server.forms.jobs import JobResult

__all__ = ["merge_copy"]


def merge_copy(
    asked: dict[str, Any], daybook: str | None, progress: Progress
) -> JobResult:
    """Merge the copy in a folder or a bag, or say what would come of it."""
    if daybook is None:
        raise InputError("No daybook is open.", "Open one first.")
    other = Path(asked["folder"])
    if not other.exists():
        raise InputError(
            f"There is nothing at {str(other)[:200]!r}.", "Choose another folder."
        )
    dry_run = bool(asked.get("dry_run"))
    with (
        Daybook.open(daybook) as book,
        other_copy(other, asked["person"], book) as theirs,
    ):
        merged = merge(
            book,
            theirs,
            asked["person"],
            asked.get("why", ""),
            dry_run=dry_run,
            progress=progress,
        )
    told = merge_in_words(merged, dry_run=dry_run)
    return JobResult(notes=[one.strip() for one in (*told.said, *told.warned)])
