"""Measure lists and searches in a daybook of 10,000 plates.

Places, people and plates are *invented*. Each plate has a title, details, marks, a
statement, a lead and a fix. What is measured: making them, the size of the database,
the memory of the process, and the median time of

- listing plates by key, a page of fifty, with how many there are,
- filtering them by a field,
- finding those with two words,
- finding those whose newest fix lies in a map box.

Ratios are of the processor's time, for beside other work the clock tells of that: the
time allowed, 100 ms, over what was spent.

    python benchmarks/daybook_size.py [plates]
"""

from __future__ import annotations

import resource
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from wherestood.daybook import Daybook
from wherestood.daybook.choose import Wanted, page
from wherestood.daybook.journal import DaybookSession
from wherestood.daybook.tables import Detail, Fix, Item, Lead, Mark, Plate, Statement

PLATES = 10_000
AT_ONCE = 500  # plates of one act
TIMES = 15
ALLOWED_MS = 100.0
BOX = (7.0, 45.5, 7.6, 45.9)
WORDS = [
    "mill", "weir", "harbour", "chapel", "ridge", "valley", "wharf", "street",
    "bridge", "quarry", "tannery", "ferry", "school", "garden", "lighthouse",
    "orchard", "sawmill", "tramway", "beacon", "creek",
]  # fmt: skip
GRADES = ("answerable now", "needs a plan", "needs another view", "hopeless so far")
REGION = [[[8.0 + 0.001 * i, 46.0 + 0.001 * (i % 7)] for i in range(120)]]


def invented(number: int, draw: np.random.Generator) -> list[Item]:
    """Return a plate and what is on it."""
    title = " ".join(draw.choice(WORDS, 4))
    plate = Plate(
        key=f"{1900 + number % 100}.{number}",
        title=f"The {title}",
        description=f"Seen from the {draw.choice(WORDS)}, with the {title} behind.",
        grade=str(draw.choice(GRADES)),
        subjects=[str(word) for word in draw.choice(WORDS, 2)],
    )
    lon, lat = draw.uniform((5.0, 44.0), (11.0, 48.0))
    on_it: list[Item] = [plate]
    on_it += [
        Detail(plate_id=plate.id, key=key, what=f"{draw.choice(WORDS)} gable")
        for key in "ABC"
    ]
    on_it += [
        Mark(
            plate_id=plate.id,
            key=key,
            shape="point",
            points_px=[[float(x) for x in draw.uniform(0, 9000, 2)]],
        )
        for key in "ABC"
    ]
    said = f"taken from the {title}"
    on_it += [
        Statement(plate_id=plate.id, key=f"s{number}", about="place", words=said),
        Lead(plate_id=plate.id, key=f"l{number}", what="rate book", state="to do"),
        Fix(
            plate_id=plate.id,
            key=f"f{number}",
            made="2026-01-02T03:04:05+00:00",
            verdict="located",
            lon_deg=float(lon),
            lat_deg=float(lat),
            answer={"regions": REGION, "title": title},
            evidence_toml="wherestood = 1\n" * 40,
        ),
    ]
    return on_it


def fill(daybook: Daybook, plates: int) -> tuple[float, float]:
    """Add so many plates; return the time it took, by clock and processor [s]."""
    draw = np.random.default_rng(1)
    began, worked = time.perf_counter(), time.process_time()
    for start in range(0, plates, AT_ONCE):
        with daybook.writing("Ada Moss", "invented") as session:
            numbers = range(start, min(start + AT_ONCE, plates))
            made = [invented(number, draw) for number in numbers]
            session.add_all(plate for plate, *_ in made)
            session.flush()
            session.add_all(item for _, *on_it in made for item in on_it)
    return time.perf_counter() - began, time.process_time() - worked


def medians_ms(
    daybook: Daybook, task: Callable[[DaybookSession], int]
) -> tuple[float, float, int]:
    """Return the median times of a task in new sessions, and what it found.

    The first is by the clock, the second what the processor spent on it [ms]: beside
    other work the two differ.
    """
    took, spent, found = [], [], 0
    for _ in range(TIMES):
        began, worked = time.perf_counter(), time.process_time()
        with daybook.reading() as session:
            found = task(session)
        took.append(1000.0 * (time.perf_counter() - began))
        spent.append(1000.0 * (time.process_time() - worked))
    return statistics.median(took), statistics.median(spent), found


def shown(wanted: Wanted) -> Callable[[DaybookSession], int]:
    """Return the task of showing a page, and how many there are in all."""

    def task(session: DaybookSession) -> int:
        _, total = page(session, Plate, wanted)
        return total

    return task


TASKS = {
    "list, a page of 50": shown(Wanted(limit=50)),
    "filter by a field": shown(Wanted(values={"grade": "needs a plan"}, limit=50)),
    "two words": shown(Wanted(words="harbour gab", limit=50)),
    "a word nobody wrote": shown(Wanted(words="zeppelin", limit=50)),
    "map box": shown(Wanted(box=BOX, limit=50)),
    "words in a map box": shown(Wanted(words="weir", box=BOX, limit=50)),
}


def main(plates: int = PLATES) -> list[dict[str, object]]:
    """Fill a daybook and measure; a ratio is the time allowed over that spent."""
    rows: list[dict[str, object]] = []
    with (
        tempfile.TemporaryDirectory() as folder,
        Daybook.create(Path(folder) / "daybook") as daybook,
    ):
        took_s, processor_s = fill(daybook, plates)
        size_mb = (daybook.folder / "daybook.sqlite").stat().st_size / 1e6
        for name, task in TASKS.items():
            ms, spent_ms, found = medians_ms(daybook, task)
            rows.append(
                {
                    "what": f"daybook of {plates} plates: {name}",
                    "ratio": round(ALLOWED_MS / spent_ms, 1),
                    "least_ratio": 1.0,
                    "median_ms": round(ms, 1),
                    "processor_ms": round(spent_ms, 1),
                    "found": found,
                }
            )
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    rows.append(
        {
            "what": f"daybook of {plates} plates: made with {10 * plates} items",
            "took_s": round(took_s),
            "processor_s": round(processor_s),
            "database_mb": round(size_mb),
            "most_memory_mib": round(peak),
        }
    )
    return rows


if __name__ == "__main__":
    for row in main(int(sys.argv[1]) if len(sys.argv) > 1 else PLATES):
        print(row)
