"""Answer for long tasks: list, follow, cancel, do again."""

from __future__ import annotations

from fastapi import APIRouter

from wherestood.server.desk import DeskNeeded
from wherestood.server.forms.jobs import Job
from wherestood.server.troubles import NotThereError

__all__ = ["router"]

router = APIRouter(prefix="/api/jobs", tags=["jobs"])


@router.get("", operation_id="listJobs")
def listed(desk: DeskNeeded, plate_id: str | None = None) -> list[Job]:
    """List tasks, the earliest first."""
    jobs = desk.jobs.all()
    return [job for job in jobs if plate_id is None or job.plate_id == plate_id]


@router.get("/{job_id}", operation_id="getJob")
def one(desk: DeskNeeded, job_id: str) -> Job:
    """Tell one task."""
    return _known(desk, job_id)


@router.post("/{job_id}/cancel", operation_id="cancelJob")
def cancel(desk: DeskNeeded, job_id: str) -> Job:
    """Stop a task; what it made so far is not kept."""
    _known(desk, job_id)
    return desk.jobs.cancel(job_id)


@router.post("/{job_id}/again", operation_id="repeatJob")
def again(desk: DeskNeeded, job_id: str) -> Job:
    """Do a task that is over again."""
    _known(desk, job_id)
    return desk.jobs.again(job_id, desk.person)


def _known(desk: DeskNeeded, job_id: str) -> Job:
    job = desk.jobs.get(job_id)
    if job is None:
        raise NotThereError("There is no such task.", "Look at the list of tasks.")
    return job
