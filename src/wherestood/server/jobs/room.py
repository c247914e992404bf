"""Give long tasks to worker processes, and follow them.

A worker is a process of its own that takes one task at a time; there is one for what
a person waits for and one for long searches. A worker that ends unasked has crashed:
its task is told so and can be done again, and the next task gets a new worker.
"""

from __future__ import annotations

import json
import queue
import signal
import subprocess
import sys
import threading
import time
import uuid
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from wherestood.errors import InputError
from wherestood.server.forms.jobs import Job, JobKind, JobResult
from wherestood.server.forms.trouble import Trouble
from wherestood.server.jobs.record import (
    keep_job,
    keep_times,
    kept_jobs,
    stage_times,
)
from wherestood.server.jobs.time_left import TimeLeft

__all__ = ["JobRoom"]

#: Which worker does what.
LANES: dict[str, str] = {
    "trace": "short", "match": "short", "scan": "short", "terrain": "short",
    "plan": "short", "merge": "short", "hand_out": "short", "demo": "short",
    "photograph": "short",
    "fix": "long",
}  # fmt: skip
PATIENCE_S = 8.0  # from a request to stop until the worker is ended
_WORKER = ("-m", "wherestood.server.jobs.worker")
Listener = Callable[[Job], None]
#: Where what is known of a task is kept, and the daybook it works on.
_Home = tuple[Path, Path | None]
_OVER = ("done", "failed", "crashed", "cancelled", "interrupted")


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")


@dataclass
class JobRoom:
    """Be where long tasks are done.

    Attributes
    ----------
    command : tuple of str
        What starts a worker.
    """

    command: tuple[str, ...] = (sys.executable, *_WORKER)
    _folder: Path = field(default=Path(), init=False)
    _daybook: Path | None = field(default=None, init=False)
    _jobs: dict[str, Job] = field(default_factory=dict, init=False)
    _homes: dict[str, _Home] = field(default_factory=dict, init=False)
    _stop: set[str] = field(default_factory=set, init=False)
    _lanes: dict[str, _Lane] = field(default_factory=dict, init=False)
    _listeners: list[Listener] = field(default_factory=list, init=False)
    _lock: threading.RLock = field(default_factory=threading.RLock, init=False)

    def settle_in(self, folder: Path, daybook: Path | None) -> None:
        """Take up the tasks of a folder; those going on elsewhere go on."""
        with self._lock:
            going = {i: j for i, j in self._jobs.items() if j.state not in _OVER}
            self._folder, self._daybook = folder, daybook
            kept = {job.id: job for job in kept_jobs(folder)}
            homes = {job_id: self._homes[job_id] for job_id in going}
            self._homes = dict.fromkeys(kept, (folder, daybook)) | homes
            self._jobs = kept | going

    def listen(self, listener: Listener) -> Callable[[], None]:
        """Have a listener told of every change; return what ends that."""
        self._listeners.append(listener)
        return lambda: self._listeners.remove(listener)

    def all(self) -> list[Job]:
        """Return all tasks, the earliest first."""
        with self._lock:
            return list(self._jobs.values())

    def get(self, job_id: str) -> Job | None:
        """Return a task."""
        with self._lock:
            return self._jobs.get(job_id)

    def start(
        self,
        kind: JobKind,
        title: str,
        asked: dict[str, Any],
        *,
        person: str,
        plate_id: str | None = None,
        home: _Home | None = None,
    ) -> Job:
        """Begin a task as soon as its worker is free, in the daybook that is open."""
        job = Job(
            id=uuid.uuid4().hex[:12],
            kind=kind,
            title=title,
            plate_id=plate_id,
            asked={**asked, "person": person},
            stage="waiting for its turn",
        )
        with self._lock:
            home = home or (self._folder, self._daybook)
            keep_job(home[0], job)
            self._jobs[job.id], self._homes[job.id] = job, home
            lane = self._lanes.get(LANES[kind])
            if lane is None:
                lane = self._lanes[LANES[kind]] = _Lane(self)
                lane.thread.start()
        self._say(job)
        lane.waiting.put((job.id, *home))
        return job

    def again(self, job_id: str, person: str) -> Job:
        """Do a task that is over again."""
        job = self.get(job_id)
        if job is None or job.state not in _OVER:
            raise InputError(
                "This task is not over, or not known.", "Wait for it, or cancel it."
            )
        asked = {key: value for key, value in job.asked.items() if key != "person"}
        return self.start(
            job.kind,
            job.title,
            asked,
            person=person,
            plate_id=job.plate_id,
            home=self._homes.get(job_id),
        )

    def cancel(self, job_id: str) -> Job:
        """Stop a task; what is over stays as it is."""
        job = self.get(job_id)
        if job is None:
            raise InputError("There is no such task.", "Look at the list of tasks.")
        if job.state == "waiting":
            return self._change(job_id, state="cancelled", stage="", ended=_now())
        if job.state == "running":
            self._stop.add(job_id)
            return self._change(job_id, stage="stopping")
        return job

    def close(self) -> None:
        """End all workers."""
        for lane in self._lanes.values():
            lane.close()

    def _say(self, job: Job) -> None:
        for listener in list(self._listeners):
            with suppress(Exception):  # a page that has gone holds up no task
                listener(job)

    def _change(self, job_id: str, *, keep: bool = True, **changed: Any) -> Job:
        with self._lock:
            job = self._jobs[job_id].model_copy(update=changed)
            self._jobs[job_id] = job
            if keep:
                keep_job(self._homes[job_id][0], job)
        self._say(job)
        return job


class _Lane:
    """Be one worker process and the thread that follows it."""

    def __init__(self, room: JobRoom) -> None:
        self.room = room
        self.waiting: queue.Queue[tuple[str, Path, Path | None]] = queue.Queue()
        self.thread = threading.Thread(target=self._follow, daemon=True)
        self.process: subprocess.Popen[str] | None = None
        self.said: queue.Queue[str | None] = queue.Queue()
        self.closing = False

    def close(self) -> None:
        self.closing = True
        process = self.process
        if process is not None:
            process.terminate()
            _let_go(process)

    def _follow(self) -> None:
        while not self.closing:
            job_id, folder, daybook = self.waiting.get()
            job = self.room.get(job_id)
            if job is not None and job.state == "waiting":
                try:
                    self._do(job, folder, daybook)
                except Exception as error:  # the next task is to be done all the same
                    self._could_not(job.id, error)

    def _could_not(self, job_id: str, error: Exception) -> None:
        """Tell of a task that could not be begun or followed."""
        process, self.process = self.process, None
        if process is not None:
            process.kill()
            _let_go(process)
        trouble = Trouble(
            problem=f"This could not be begun or followed ({error}).",
            remedy="See whether the disk is full or the daybook was moved; then do "
            "it again.",
        )
        self.room._stop.discard(job_id)
        over: dict[str, Any] = {
            "state": "crashed", "stage": "", "ended": _now(), "trouble": trouble,
        }  # fmt: skip
        try:
            self.room._change(job_id, **over)
        except OSError:  # where nothing can be kept it is told at least
            self.room._change(job_id, keep=False, **over)

    def _do(self, job: Job, folder: Path, daybook: Path | None) -> None:
        room = self.room
        began = _now()
        room._change(job.id, state="running", stage="starting", begun=began)
        process = self._worker(folder)
        order = {
            "id": job.id, "kind": job.kind, "asked": job.asked,
            "daybook": str(daybook) if daybook else None,
        }  # fmt: skip
        times = stage_times(folder)
        left = TimeLeft(times.get(job.kind, ()))
        self._order(process, order)
        asked_to_stop = 0.0
        while True:
            try:
                line = self.said.get(timeout=0.2)
            except queue.Empty:
                line = ""
            if line is None:
                self._ended_unasked(job.id, process, bool(asked_to_stop))
                return
            if line and self._heard(job.id, line, left):
                if room._jobs[job.id].state == "done":
                    keep_times(folder, {**times, job.kind: left.end()})
                return
            if job.id in room._stop:
                if not asked_to_stop:
                    asked_to_stop = time.monotonic()
                    self._order(process, {"stop": job.id})
                elif time.monotonic() - asked_to_stop > PATIENCE_S:
                    process.kill()

    def _worker(self, folder: Path) -> subprocess.Popen[str]:
        if self.process is not None:
            if self.process.poll() is None:
                return self.process
            _let_go(self.process)
        folder.mkdir(parents=True, exist_ok=True)
        self.said = queue.Queue()
        with (folder / "worker.log").open("ab") as log:
            self.process = subprocess.Popen(
                self.room.command,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=log,
                text=True,
                encoding="utf-8",
            )
        said, process = self.said, self.process

        def listen() -> None:
            assert process.stdout is not None
            with process.stdout:
                for line in process.stdout:
                    said.put(line)
            said.put(None)

        threading.Thread(target=listen, daemon=True).start()
        return process

    def _order(self, process: subprocess.Popen[str], order: dict[str, Any]) -> None:
        assert process.stdin is not None
        try:
            process.stdin.write(json.dumps(order) + "\n")
            process.stdin.flush()
        except OSError:
            return  # it has ended, which its silence tells

    def _heard(self, job_id: str, line: str, left: TimeLeft) -> bool:
        """Take a message in; return whether the task is over."""
        try:
            heard = json.loads(line)
        except ValueError:
            return False  # a library that writes to standard output
        if not isinstance(heard, dict) or heard.get("id") != job_id:
            return False
        room = self.room
        if heard["is"] == "step":
            if heard.get("new"):
                left.stage(heard["stage"])
            share, time_left_s = left.told(heard["step"], heard["steps"])
            stopping = job_id in room._stop
            room._change(
                job_id,
                keep=False,
                stage="stopping" if stopping else heard["stage"],
                step=heard["step"],
                steps=heard["steps"],
                share=share,
                time_left_s=time_left_s,
            )
            return False
        room._stop.discard(job_id)
        over: dict[str, Any] = {
            "state": heard["is"], "stage": "", "time_left_s": None, "ended": _now(),
        }  # fmt: skip
        if heard["is"] == "done":
            over |= {"result": JobResult(**heard["result"]), "share": 1.0}
        elif heard["is"] in ("failed", "crashed"):
            over["trouble"] = Trouble(**heard["trouble"])
        room._change(job_id, **over)
        return True

    def _ended_unasked(
        self, job_id: str, process: subprocess.Popen[str], stopped: bool
    ) -> None:
        code = _let_go(process)
        self.process = None
        self.room._stop.discard(job_id)
        if stopped:
            self.room._change(job_id, state="cancelled", stage="", ended=_now())
            return
        if self.closing:
            return  # told as interrupted when the server starts again
        self.room._change(
            job_id, state="crashed", stage="", ended=_now(), trouble=_broke_off(code)
        )


def _broke_off(code: int) -> Trouble:
    """Return what is said of a worker that ended unasked, by its exit code."""
    # A process that is killed is mostly one that took the memory of all others.
    if code == -signal.SIGKILL:
        return Trouble(
            problem="The computer ended this half-way, as it does when memory runs "
            "out; nothing was half-written.",
            remedy="Close other programs and do it again. A scan or a terrain that is "
            "too large for the memory there is can be made smaller.",
        )
    return Trouble(
        problem="This broke off half-way, which should not happen; nothing was "
        "half-written.",
        remedy="Do it again. If it happens again, out/jobs/worker.log in the daybook "
        "says more.",
    )


def _let_go(process: subprocess.Popen[str]) -> int:
    """Wait until a worker has ended, and close the pipe to it; return its code."""
    code = process.wait()
    if process.stdin is not None:
        with suppress(OSError):  # what was on its way is lost with it
            process.stdin.close()
    return code
