"""Run every benchmark in this folder, print one table and keep it in docs.

A benchmark is a module here with ``main()``, which returns one row or a list of rows:
dicts with ``what``, and where they compare, ``ratio`` (theirs over ours) and
``least_ratio`` (what is asked). All else in a row is shown as it is named. A row that
could not be measured has ``left_out`` with the reason. Names given as arguments run
those alone, and keep nothing. A missed ratio is said plainly below the table, and is
a failure only with ``--strict``.
"""

from __future__ import annotations

import importlib
import os
import platform
import sys
from collections.abc import Sequence
from pathlib import Path

# Ratios are of one thread against one thread; a benchmark that uses more says so.
os.environ.setdefault("NUMBA_NUM_THREADS", "2")

HERE = Path(__file__).resolve().parent
KEPT = HERE.parent / "docs" / "benchmarks.md"
OPENING = """# Benchmarks

Ratios, theirs over ours, each measured side by side in one run on the same machine:
`make bench` writes this page. Absolute times are of that machine and worth little
elsewhere. What each row compares, and how, is said at the top of its module in
`benchmarks/`.
"""
LEADING = ("what", "ratio", "least_ratio", "left_out")


def modules() -> list[str]:
    """Return the names of the benchmarks."""
    return sorted(path.stem for path in HERE.glob("*.py") if path.stem != "run")


def rows_of(name: str) -> list[dict[str, object]]:
    """Run one benchmark; a module without ``main`` measures something else."""
    main = getattr(importlib.import_module(name), "main", None)
    if main is None:
        return []
    found = main()
    return [found] if isinstance(found, dict) else list(found)


def cells(row: dict[str, object]) -> tuple[str, str, str, str]:
    """Return what a row shows: what, ratio, asked, and the rest in words."""
    rest = [f"{key} {value}" for key, value in row.items() if key not in LEADING]
    if "left_out" in row:
        rest.append(f"left out: {row['left_out']}")
    return (
        str(row["what"]),
        str(row.get("ratio", "")),
        str(row.get("least_ratio", "")),
        "; ".join(rest),
    )


def table(rows: Sequence[dict[str, object]]) -> str:
    """Return rows as a Markdown table."""
    lines = ["| what | ratio | at least | measured |", "| --- | ---: | ---: | --- |"]
    lines += ["| " + " | ".join(cells(row)) + " |" for row in rows]
    return "\n".join(lines) + "\n"


def too_slow(row: dict[str, object]) -> bool:
    """Say whether a row misses what is asked of it."""
    ratio, least = row.get("ratio"), row.get("least_ratio")
    if not isinstance(ratio, int | float) or not isinstance(least, int | float):
        return False
    return ratio < least


def main(arguments: Sequence[str]) -> int:
    """Run benchmarks; return 1 where one misses its ratio and that is asked."""
    sys.path.insert(0, str(HERE))
    strict = "--strict" in arguments
    load = os.getloadavg()[0]
    names = [argument for argument in arguments if argument != "--strict"]
    rows = []
    for name in names or modules():
        print(f"{name} ...", file=sys.stderr)
        rows += rows_of(name)
    found = table(rows)
    missed = [row for row in rows if too_slow(row)]
    for row in missed:
        found += (
            f"\nMissed: {row['what']}: {row['ratio']} where at least "
            f"{row['least_ratio']} is asked.\n"
        )
    print(found)
    if not names:
        machine = f"{platform.machine()}, {os.cpu_count()} cores"
        versions = f"Python {platform.python_version()}, load {load:.1f} at the start"
        KEPT.write_text(f"{OPENING}\nMeasured on {machine}, {versions}.\n\n{found}")
    return 1 if strict and missed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
