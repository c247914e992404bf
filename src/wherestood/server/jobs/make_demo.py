"""Make the demo's daybook."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

from wherestood.daybook.book import ADDRESS_FILE, DATABASE
from wherestood.demo import write_demo
from wherestood.demo.book import HandedOver, lay_out_daybook
from wherestood.errors import InputError
from wherestood.progress import Progress
from wherestood.server.forms.jobs import JobResult

__all__ = ["make_demo"]


def make_demo(
    asked: dict[str, Any], daybook: str | None, progress: Progress
) -> JobResult:
    """Make the demo's daybook in a folder, unless there is one."""
    del daybook
    folder = Path(asked["folder"])
    if (folder / DATABASE).exists() or (folder / ADDRESS_FILE).exists():
        return JobResult(
            folder=str(folder), notes=["It was there, and is as it was left."]
        )
    if folder.exists() and any(folder.iterdir()):
        raise InputError(
            f"The folder {str(folder)!r} holds something else.",
            "Choose an empty folder, or another name.",
        )
    progress.stage("inventing a place and exposing a plate there")
    with tempfile.TemporaryDirectory() as passing:
        files = write_demo(Path(passing))
        lay_out_daybook(folder, HandedOver.of(files), progress)
    return JobResult(folder=str(folder))
