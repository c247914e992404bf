"""Long tasks show progress, can be stopped, and what became of them is told."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from wherestood.errors import InputError
from wherestood.server.forms.jobs import Job
from wherestood.server.jobs.record import keep_job, kept_jobs
from wherestood.server.jobs.room import JobRoom, _Lane
from wherestood.server.jobs.time_left import TimeLeft

LONGEST_S = 60.0
#: A worker that does what it is asked, and loads nothing else.
WORKER = """
import os, signal, sys, time
import wherestood.server.jobs.work as work
from wherestood.errors import InputError
from wherestood.server.forms.jobs import JobResult

def do(asked, daybook, progress):
    how = asked["how"]
    progress.stage("beginning", 2)
    progress.advance()
    if how == "die":
        os.kill(os.getpid(), signal.SIGKILL)
    if how == "fail":
        raise InputError("The scan is upside down.", "Turn it.")
    if how == "surprise":
        raise RuntimeError("never foreseen")
    if how == "print":
        print("a library that talks", flush=True)
    while how == "wait":
        progress.advance(0)
        time.sleep(0.01)
    while how == "deaf":
        time.sleep(0.01)
    return JobResult(notes=[str(asked.get("word", "")), str(os.getpid())])

work.work_of = lambda kind: do
from wherestood.server.jobs.worker import main
main()
"""


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory) -> Iterator[JobRoom]:
    """Return a room whose workers do what they are asked."""
    made = JobRoom((sys.executable, "-c", WORKER))
    made.settle_in(tmp_path_factory.mktemp("jobs"), None)
    yield made
    made.close()


def until(room: JobRoom, job: Job, wanted: Callable[[Job], bool]) -> Job:
    """Return a task once something holds of it."""
    end = time.monotonic() + LONGEST_S
    while True:
        now = room.get(job.id)
        assert now is not None
        if wanted(now):
            return now
        assert time.monotonic() < end, now
        time.sleep(0.01)


def over(room: JobRoom, job: Job) -> Job:
    return until(room, job, lambda one: one.state not in ("waiting", "running"))


def start(room: JobRoom, how: str, word: str = "") -> Job:
    asked = {"how": how, "word": word}
    return room.start("trace", "Tracing", asked, person="Ada Moss")


def test_task_is_done_and_its_progress_told(room: JobRoom) -> None:
    heard: list[Job] = []
    stop = room.listen(heard.append)
    done = over(room, start(room, "print", "word"))
    stop()
    assert (done.state, done.share) == ("done", 1.0)
    assert done.result is not None
    assert done.result.notes[0] == "word"
    assert "beginning" in {job.stage for job in heard}
    assert {job.state for job in heard} == {"waiting", "running", "done"}


def test_one_worker_does_task_after_task(room: JobRoom) -> None:
    first, second = over(room, start(room, "do")), over(room, start(room, "do"))
    assert first.result is not None
    assert second.result is not None
    assert first.result.notes[1] == second.result.notes[1]
    assert int(first.result.notes[1]) != os.getpid()


def test_crash_is_told_and_the_next_task_is_done(room: JobRoom) -> None:
    crashed = over(room, start(room, "die"))
    assert crashed.state == "crashed"
    assert crashed.trouble is not None
    assert "memory runs out" in crashed.trouble.problem
    assert "signal" not in crashed.trouble.problem
    assert crashed.trouble.remedy
    assert over(room, start(room, "do")).state == "done"


def test_crashed_task_can_be_done_again(room: JobRoom) -> None:
    crashed = over(room, start(room, "die", "again"))
    again = room.again(crashed.id, "Bo")
    assert again.id != crashed.id
    assert again.asked == {"how": "die", "word": "again", "person": "Bo"}
    assert over(room, again).state == "crashed"


def test_foreseen_and_unforeseen_trouble_are_told_in_words(room: JobRoom) -> None:
    failed = over(room, start(room, "fail"))
    assert failed.state == "failed"
    assert failed.trouble is not None
    assert failed.trouble.problem == "The scan is upside down."
    surprised = over(room, start(room, "surprise"))
    assert surprised.state == "crashed"
    assert surprised.trouble is not None
    assert "RuntimeError" in surprised.trouble.problem
    assert "Traceback" not in surprised.trouble.problem


def test_running_task_is_stopped(room: JobRoom) -> None:
    job = start(room, "wait")
    until(room, job, lambda one: one.stage == "beginning")
    room.cancel(job.id)
    assert over(room, job).state == "cancelled"
    assert over(room, start(room, "do")).state == "done"


def test_worker_that_does_not_listen_is_ended(
    room: JobRoom, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("wherestood.server.jobs.room.PATIENCE_S", 0.1)
    job = start(room, "deaf")
    until(room, job, lambda one: one.stage == "beginning")
    room.cancel(job.id)
    assert over(room, job).state == "cancelled"
    assert over(room, start(room, "do")).state == "done"


def test_waiting_task_is_stopped_before_it_begins(room: JobRoom) -> None:
    running, waiting = start(room, "wait"), start(room, "do")
    room.cancel(waiting.id)
    room.cancel(running.id)
    assert over(room, waiting).state == "cancelled"
    assert room.get(waiting.id).begun is None  # type: ignore[union-attr]


def test_task_that_is_over_stays_as_it_is(room: JobRoom) -> None:
    done = over(room, start(room, "do"))
    assert room.cancel(done.id) == done
    with pytest.raises(InputError, match="no such task"):
        room.cancel("nothing")


def test_state_outlives_a_restart(tmp_path: Path) -> None:
    room = JobRoom((sys.executable, "-c", WORKER))
    room.settle_in(tmp_path / "jobs", None)
    done = over(room, start(room, "do"))
    job = start(room, "wait")
    until(room, job, lambda one: one.stage == "beginning")
    room.close()
    later = JobRoom()
    later.settle_in(tmp_path / "jobs", None)
    assert later.get(done.id) == done
    interrupted = later.get(job.id)
    assert interrupted is not None
    assert interrupted.state == "interrupted"
    assert interrupted.trouble is not None
    later.close()


def test_worker_ends_with_its_server(room: JobRoom) -> None:
    job = start(room, "wait")
    until(room, job, lambda one: one.stage == "beginning")
    process = room._lanes["short"].process
    assert process is not None
    assert process.stdin is not None
    process.stdin.close()  # as if the server were gone
    assert process.wait(LONGEST_S) == 0


def test_damaged_record_is_left_out(tmp_path: Path) -> None:
    keep_job(tmp_path, Job(id="a", kind="fix", title="x", state="done"))
    (tmp_path / "job-b.json").write_text("{", encoding="utf-8")
    assert [job.id for job in kept_jobs(tmp_path)] == ["a"]


def test_time_left_follows_the_last_task_of_its_kind() -> None:
    now = [0.0]
    left = TimeLeft([("look", 10.0), ("search", 30.0)], clock=lambda: now[0])
    left.stage("look")
    assert left.told(0, None) == (0.0, 40.0)
    now[0] = 5.0
    share, seconds = left.told(0, None)
    assert (share, seconds) == (pytest.approx(5 / 40), 35.0)
    now[0] = 10.0
    left.stage("search")
    now[0] = 20.0
    # Half done after 10 s: half by what it shows itself, half by the last one.
    share, seconds = left.told(1, 2)
    assert seconds == pytest.approx(0.5 * 20.0 + 0.5 * 30.0 - 10.0)
    assert left.end() == [("look", 10.0), ("search", 10.0)]


def test_without_an_earlier_task_no_time_is_told() -> None:
    left = TimeLeft(clock=lambda: 1.0)
    left.stage("search")
    assert left.told(1, 2) == (None, None)


def test_worker_that_cannot_start_crashes_its_task_and_no_other_waits_for_ever(
    tmp_path: Path,
) -> None:
    room = JobRoom((str(tmp_path / "no such program"),))
    room.settle_in(tmp_path / "jobs", None)
    for job in (start(room, "do"), start(room, "do")):
        told = over(room, job)
        assert told.state == "crashed"
        assert told.trouble is not None
        assert "no such program" in told.trouble.problem
        assert told.trouble.remedy
    assert {job.state for job in kept_jobs(tmp_path / "jobs")} == {"crashed"}
    room.close()


def test_page_that_fails_to_listen_holds_up_no_task(tmp_path: Path) -> None:
    room = JobRoom((str(tmp_path / "no such program"),))
    room.settle_in(tmp_path / "jobs", None)

    def gone(_job: Job) -> None:
        raise RuntimeError("Event loop is closed")

    room.listen(gone)
    assert over(room, start(room, "do")).state == "crashed"
    room.close()


def test_task_stays_with_the_daybook_it_was_begun_in(tmp_path: Path) -> None:
    room = JobRoom((str(tmp_path / "no such program"),))
    first, second = tmp_path / "first", tmp_path / "second"
    room.settle_in(first / "jobs", first)
    # Nothing takes it up yet, as while another task is done.
    room._lanes["short"] = _Lane(room)
    job = start(room, "do")
    room.settle_in(second / "jobs", second)
    room._lanes["short"].thread.start()
    over(room, job)
    assert [one.state for one in kept_jobs(first / "jobs")] == ["crashed"]
    assert not kept_jobs(second / "jobs")
    again = room.again(job.id, "Ada Moss")
    over(room, again)
    assert {one.id for one in kept_jobs(first / "jobs")} == {job.id, again.id}
    assert not kept_jobs(second / "jobs")
    room.close()
