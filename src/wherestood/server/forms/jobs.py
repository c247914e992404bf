"""Define how long tasks are told."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel, Field

from wherestood.server.forms.trouble import Trouble

__all__ = ["Changed", "Job", "JobKind", "JobResult", "JobState"]

JobKind = Literal[
    "trace",
    "fix",
    "match",
    "scan",
    "terrain",
    "plan",
    "photograph",
    "merge",
    "hand_out",
    "demo",
]
JobState = Literal[
    "waiting", "running", "done", "failed", "crashed", "cancelled", "interrupted"
]


class JobResult(BaseModel):
    """Say what a task made."""

    fix_id: str | None = Field(default=None, description="The fix that was kept.")
    scan_ids: list[str] = Field(default=[], description="Scans that were taken in.")
    plate_ids: list[str] = Field(default=[], description="Plates they belong to.")
    evidence_id: str | None = Field(
        default=None, description="The skyline that was traced."
    )
    terrain_layer_id: str | None = Field(
        default=None, description="The layer taken in."
    )
    plan_ids: list[str] = Field(default=[], description="Plans that were taken in.")
    folder: str | None = Field(default=None, description="The daybook that was made.")
    notes: list[str] = Field(default=[], description="What a person should know.")


class Job(BaseModel):
    """Tell how far a long task has come; it survives a reload and a restart."""

    id: str
    kind: JobKind
    title: str = Field(description="What is being done, in words.")
    plate_id: str | None = None
    state: JobState = "waiting"
    stage: str = Field(default="", description="What is being done just now.")
    step: int = Field(default=0, description="Steps of the stage that are done.")
    steps: int | None = Field(default=None, description="How many it has, where known.")
    share: float | None = Field(
        default=None, description="Share of all that is done, 0 to 1."
    )
    time_left_s: float | None = Field(
        default=None, description="Time left, by the last task of its kind [s]."
    )
    asked: dict[str, Any] = Field(default={}, description="What was asked.")
    result: JobResult | None = None
    trouble: Trouble | None = None
    begun: str | None = Field(default=None, description="When it began, UTC.")
    ended: str | None = Field(default=None, description="When it ended, UTC.")


class Changed(BaseModel):
    """Tell of one act that changed the daybook, whoever did it."""

    revision: int = Field(description="Number of the journal's last row.")
    act: str
    person: str
    tables: list[str]
    plate_ids: list[str]
