"""Know what each kind of task does."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from wherestood.errors import InputError
from wherestood.progress import Progress
from wherestood.server.forms.jobs import JobResult

__all__ = ["Work", "work_of"]

#: What was asked, the daybook's folder, and who is told of progress.
Work = Callable[[dict[str, Any], str | None, Progress], JobResult]


def work_of(kind: str) -> Work:
    """Return what a kind of task does; loaded only when it is wanted."""
    if kind == "fix":
        from wherestood.server.jobs.run_fix import run_fix

        return run_fix
    if kind == "match":
        from wherestood.server.jobs.run_panorama import match_plates

        return match_plates
    if kind == "trace":
        from wherestood.server.jobs.trace_plate import trace_plate

        return trace_plate
    if kind in ("scan", "terrain"):
        from wherestood.server.jobs.take_files import take_scans, take_terrain_files

        return take_scans if kind == "scan" else take_terrain_files
    if kind == "plan":
        from wherestood.server.jobs.take_files import take_plans

        return take_plans
    if kind == "photograph":
        from wherestood.server.jobs.compare_photograph import compare_and_keep

        return compare_and_keep
    if kind == "merge":
        from wherestood.server.jobs.merge_copy import merge_copy

        return merge_copy
    if kind == "hand_out":
        from wherestood.server.jobs.hand_out_plates import hand_out_plates

        return hand_out_plates
    if kind == "demo":
        from wherestood.server.jobs.make_demo import make_demo

        return make_demo
    raise InputError(f"There is no task {kind!r}.")
