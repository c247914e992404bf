"""Measure whether regions hold what they promise, and write the page that says so.

Plates are invented by the independent renderer, each from a seed fixed in
``calibration/plan.toml``, and searched; each result is kept in a file of its own as it
comes, so that a run cut short (Ctrl-C) goes on where it was. Tables, pictures and page
are made from the tables kept in ``docs/calibration``. Run::

    python benchmarks/calibrate.py [--workers N] [--keep FOLDER] [--only PART]
        [--share SHARE] [--page-only]
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

for _name in ("NUMBA_NUM_THREADS", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_name, "1")
# The benchmarks beside this one, wherever it is run from.
sys.path.insert(0, str(Path(__file__).parent))

from calibration.inventing import invent, world_of  # noqa: E402
from calibration.keeping import as_table, keep, kept_at, kept_rows, missing  # noqa: E402
from calibration.page import write_page  # noqa: E402
from calibration.plan import Part, Plan, read_plan  # noqa: E402
from calibration.trying import tried  # noqa: E402
from wherestood.errors import WherestoodError  # noqa: E402
from wherestood.record.atomic import write_text_atomically  # noqa: E402

ROOT = Path(__file__).resolve().parent.parent
DOCS = ROOT / "docs"
KEEP = ROOT / "calibration-results"
CANCELLED = 130

#: A world of a part, and which of its plates are to be tried.
Task = tuple[Plan, Part, int, list[int], Path, str]


def tasks(plan: Plan, folder: Path, share: float, commit: str) -> list[Task]:
    """Return what is left to do, all parts coming on together."""
    ordered: list[tuple[float, Task]] = []
    for part in plan.parts.values():
        asked = replace(part, plates=max(1, round(share * part.plates)))
        worlds = asked.worlds()
        for number, plates in enumerate(worlds):
            left = missing(folder, part, plates)
            if left:
                task = (plan, part, number, left, folder, commit)
                ordered.append(((number + 0.5) / len(part.worlds()), task))
    return [task for _, task in sorted(ordered, key=lambda pair: pair[0])]


def try_world(task: Task) -> tuple[str, int]:
    """Try the plates of a world, keeping each result; return part and number."""
    plan, part, number, plates, folder, commit = task
    world = None
    for index in plates:
        row: dict[str, object] = {"world": number, "commit": commit}
        try:
            world = world or world_of(part, number)
            row |= tried(plan, part, number, index, invent(part, world, number, index))
        except (LookupError, WherestoodError) as error:
            row["left_out"] = f"{type(error).__name__}: {error}"
        keep(kept_at(folder, part, index), row)
    return part.name, len(plates)


def run(todo: list[Task], workers: int) -> bool:
    """Do all tasks, saying how far it is; return whether it came to its end."""
    whole = sum(len(task[3]) for task in todo)
    began, done = time.monotonic(), 0
    pool = multiprocessing.get_context("spawn").Pool(workers, _leave_ctrl_c_alone)
    with pool:
        try:
            for part, count in pool.imap_unordered(try_world, todo):
                done += count
                left_min = (time.monotonic() - began) / done * (whole - done) / 60.0
                print(
                    f"{done} of {whole} plates, {left_min:.0f} min left "
                    f"({part.replace('_', ' ')})",
                    file=sys.stderr,
                    flush=True,
                )
        except KeyboardInterrupt:
            pool.terminate()
            return False
    return True


def write_tables(plan: Plan, folder: Path) -> None:
    """Write the results of each part as one table."""
    (DOCS / "calibration").mkdir(exist_ok=True)
    for part in plan.parts.values():
        rows = kept_rows(folder, part)
        if rows:
            path = DOCS / "calibration" / f"{part.name}.csv"
            write_text_atomically(path, as_table(rows))


def commit_now() -> str:
    """Return the commit at hand, with a plus if the sources differ from it."""
    try:
        head = _git("rev-parse", "--short", "HEAD")
        changed = _git("status", "--porcelain", "--", "src", "benchmarks")
    except (OSError, subprocess.CalledProcessError):
        return "unknown"
    return f"{head}+" if changed else head


def _git(*words: str) -> str:
    done = subprocess.run(
        ["git", *words], cwd=ROOT, check=True, capture_output=True, text=True
    )
    return done.stdout.strip()


def _leave_ctrl_c_alone() -> None:
    """Let the one who started the workers end them."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def study(words: list[str] | None = None) -> int:
    """Run the study as asked; return an exit code."""
    plan = read_plan()
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--keep", type=Path, default=KEEP, metavar="FOLDER")
    parser.add_argument("--only", choices=plan.parts, action="append")
    parser.add_argument(
        "--share", type=float, default=1.0, help="of each part's plates, 0 to 1"
    )
    parser.add_argument("--page-only", action="store_true")
    asked = parser.parse_args(words)
    ended = True
    if not asked.page_only:
        asked.keep.mkdir(parents=True, exist_ok=True)
        chosen = {name: plan.parts[name] for name in asked.only or plan.parts}
        wanted = replace(plan, parts=chosen)
        todo = tasks(wanted, asked.keep, asked.share, commit_now())
        ended = run(todo, asked.workers)
        write_tables(plan, asked.keep)
    write_page(plan, DOCS)
    if not ended:
        print(f"Stopped. What was done is kept in {asked.keep}; run again to go on.")
        return CANCELLED
    print(f"Written: {DOCS / 'calibration.md'}")
    return 0


if __name__ == "__main__":
    sys.exit(study())
