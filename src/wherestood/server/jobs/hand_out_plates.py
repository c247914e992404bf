"""Write what is handed out, as a task."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from wherestood.daybook import Daybook
from wherestood.daybook.handing_out import Wanted
from wherestood.daybook.handing_out_files import hand_out
from wherestood.errors import InputError
from wherestood.progress import Progress
from wherestood.server.forms.jobs import JobResult

__all__ = ["hand_out_plates"]


def hand_out_plates(
    asked: dict[str, Any], daybook: str | None, progress: Progress
) -> JobResult:
    """Write the zip; a cancelled task leaves none."""
    if daybook is None:
        raise InputError("No daybook is open.", "Open one first.")
    target = Path(asked["target"])
    target.unlink(missing_ok=True)  # done again, it takes the place of the first
    wanted = Wanted(
        asked["audience"], tuple(asked["plates"]), asked["title"], asked["pictures"],
        asked["address"], photographs=asked.get("photographs", False),
    )  # fmt: skip
    with Daybook.open(daybook) as book:
        made = hand_out(
            book, target, wanted, asked["forms"],
            leave_out=asked["leave_out"], author=asked.get("author", ""),
            progress=progress,
        )  # fmt: skip
    return JobResult(notes=[*made.cautions, *made.left_out])
