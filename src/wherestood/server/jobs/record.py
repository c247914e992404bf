"""Keep what is known of long tasks on disk, so that it outlives a restart."""

from __future__ import annotations

import json
from pathlib import Path

from pydantic import ValidationError

from wherestood.record.atomic import write_text_atomically
from wherestood.server.forms.jobs import Job
from wherestood.server.forms.trouble import Trouble

__all__ = [
    "INTERRUPTED",
    "MOST_KEPT",
    "keep_job",
    "keep_times",
    "kept_jobs",
    "stage_times",
]

MOST_KEPT = 60
INTERRUPTED = Trouble(
    problem="The server stopped while this was being done; nothing was half-written.",
    remedy="Do it again.",
)
_TIMES = "times.json"


def kept_jobs(folder: Path) -> list[Job]:
    """Return the tasks that a folder tells of, the earliest first.

    What was going on when the server stopped is told as interrupted; files that
    cannot be read are left out.
    """
    jobs = []
    for path in sorted(folder.glob("job-*.json"), key=lambda one: one.stat().st_mtime):
        try:
            job = Job.model_validate_json(path.read_text("utf-8"))
        except (OSError, ValidationError):
            continue
        if job.state in ("waiting", "running"):
            job = job.model_copy(
                update={"state": "interrupted", "trouble": INTERRUPTED}
            )
            keep_job(folder, job)
        jobs.append(job)
    for job in jobs[:-MOST_KEPT]:
        _file(folder, job.id).unlink(missing_ok=True)
    return jobs[-MOST_KEPT:]


def keep_job(folder: Path, job: Job) -> None:
    """Write what is known of a task."""
    folder.mkdir(parents=True, exist_ok=True)
    write_text_atomically(_file(folder, job.id), job.model_dump_json(indent=1))


def stage_times(folder: Path) -> dict[str, list[tuple[str, float]]]:
    """Return how long each stage of the last task of each kind took [s]."""
    try:
        read = json.loads((folder / _TIMES).read_text("utf-8"))
        return {
            kind: [(str(name), float(seconds)) for name, seconds in stages]
            for kind, stages in read.items()
        }
    except (OSError, ValueError, TypeError, AttributeError):
        return {}


def keep_times(folder: Path, times: dict[str, list[tuple[str, float]]]) -> None:
    """Write how long stages took."""
    folder.mkdir(parents=True, exist_ok=True)
    write_text_atomically(folder / _TIMES, json.dumps(times, indent=1))


def _file(folder: Path, job_id: str) -> Path:
    return folder / f"job-{job_id}.json"
