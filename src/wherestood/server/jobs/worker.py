"""Do tasks one after another in a process of its own.

Orders come as lines of JSON on standard input, and what becomes of them goes out as
lines of JSON. When the server goes, so does its end of the pipe, and the worker ends.
"""

from __future__ import annotations

import json
import os
import queue
import re
import sys
import threading
import time
import traceback
from typing import Any, TextIO

from wherestood.errors import CancelledError, WherestoodError

__all__ = ["main"]

STEP_S = 0.1  # steps are told no oftener


class _Told:
    """Tell of stages and steps over the pipe; stop where that was asked for."""

    def __init__(self, job_id: str, out: TextIO, stop: set[str]) -> None:
        self.job_id, self.out, self.stop = job_id, out, stop
        self.name, self.step, self.steps = "", 0, None  # type: str, int, int | None
        self.last = 0.0

    def stage(self, name: str, total: int | None = None) -> None:
        """Begin a stage."""
        self.name, self.step, self.steps = name, 0, total
        self._tell(new=True)

    def advance(self, steps: int = 1) -> None:
        """Report that some steps are done."""
        self.step += steps
        now = time.monotonic()
        if now - self.last >= STEP_S or self.step == self.steps:
            self._tell(new=False)
        self._heed()

    def _tell(self, *, new: bool) -> None:
        self.last = time.monotonic()
        say(
            self.out,
            {
                "id": self.job_id,
                "is": "step",
                "new": new,
                "stage": self.name,
                "step": self.step,
                "steps": self.steps,
            },
        )
        self._heed()

    def _heed(self) -> None:
        if self.job_id in self.stop:
            raise CancelledError("The task was stopped.")


def say(out: TextIO, message: dict[str, Any]) -> None:
    """Send one message."""
    out.write(json.dumps(message) + "\n")
    out.flush()


def main() -> None:
    """Do tasks until there are no more orders."""
    # What libraries print must not mix with messages.
    out = os.fdopen(os.dup(sys.stdout.fileno()), "w", encoding="utf-8")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    orders: queue.Queue[dict[str, Any] | None] = queue.Queue()
    stop: set[str] = set()

    def listen() -> None:
        for line in sys.stdin:
            order = json.loads(line)
            if "stop" in order:
                stop.add(order["stop"])
            else:
                orders.put(order)
        # Nobody is left to hear of it: what is being done is not kept.
        os._exit(0)

    threading.Thread(target=listen, daemon=True).start()
    while (order := orders.get()) is not None:
        _do(order, out, stop)


def _do(order: dict[str, Any], out: TextIO, stop: set[str]) -> None:
    from wherestood.server.jobs.work import work_of

    job_id = order["id"]
    told = _Told(job_id, out, stop)
    try:
        result = work_of(order["kind"])(order["asked"], order["daybook"], told)
    except CancelledError:
        say(out, {"id": job_id, "is": "cancelled"})
    except WherestoodError as error:
        trouble = {
            "problem": _as_sent(error.problem, order["asked"]),
            "remedy": _as_sent(error.remedy, order["asked"]),
            "field": str(getattr(error, "field", "")),
        }
        say(out, {"id": job_id, "is": "failed", "trouble": trouble})
    except Exception as error:
        traceback.print_exc()
        trouble = {
            "problem": "Something went wrong that was not foreseen "
            f"({type(error).__name__}); nothing was half-written.",
            "remedy": "Do it again; out/jobs/worker.log in the daybook says more.",
        }
        say(out, {"id": job_id, "is": "crashed", "trouble": trouble})
    else:
        say(out, {"id": job_id, "is": "done", "result": result.model_dump()})


def _as_sent(said: str, asked: dict[str, Any]) -> str:
    """Return words with files called as they were sent, not by where they lie."""
    upload = asked.get("upload")
    return re.sub(rf"{re.escape(upload)}/(terrain/)?", "", said) if upload else said


if __name__ == "__main__":
    main()
