"""Measure how long a catalogue takes to come in and go out, and how much memory.

Invented catalogues of 100 to 10 000 plates (a title of some words, a description of
some sentences, maker, date, place, subjects, rights, three columns of the museum's own)
come in as CSV and as XLSX, each into a new daybook, come again unchanged, and go out as
XLSX; the whole is handed over as a bag, and another copy is merged that changed one
plate in ten. Each step is a process of its own; memory is its greatest resident size.
Run::

    python benchmarks/catalogue_growth.py [PLATES ...]
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

COLUMNS = (
    "Accession number", "Title", "Description", "Photographer", "Date", "Location",
    "Subject", "Medium", "Rights", "Shelf", "Register page", "Condition",
)  # fmt: skip
WORDS = (
    "mill", "ford", "dam", "road", "church", "yard", "peak", "ridge", "gully", "bridge",
    "house", "shed", "fence", "plan", "camp", "claim", "tunnel", "race", "flume",
    "battery", "wharf", "store", "hotel", "school", "paddock", "bluff", "saddle",
)  # fmt: skip
STEPS = ("csv in", "csv again", "xlsx in", "xlsx out", "bag", "merge")


def invented_rows(count: int) -> list[list[str]]:
    """Invent entries; the same count gives the same ones."""
    rng = np.random.default_rng(count)
    rows = []
    for number in range(count):
        words = rng.choice(WORDS, 60)
        rows.append(
            [
                f"{1980 + number % 40}.{number}",
                " ".join(words[:4]).capitalize(),
                ". ".join(" ".join(words[at : at + 8]) for at in range(4, 52, 8)),
                f"{words[52].capitalize()} {words[53].capitalize()}",
                f"c. {1860 + number % 50}",
                f"{words[54]} {words[55]}".title(),
                "; ".join(words[56:59]),
                "Dry plate negative",
                "No known copyright",
                f"B {number % 90}",
                str(number // 20),
                "good" if number % 7 else "flaking at a corner",
            ]
        )
    return rows


def _take(daybook: Path, file: Path) -> None:
    from wherestood.daybook import Daybook
    from wherestood.daybook.catalogue import plan_for, take_catalogue
    from wherestood.daybook.catalogue.columns import tell_columns
    from wherestood.daybook.sheets import read_sheet

    sheet = read_sheet(file)
    with Daybook.open(daybook) as book:
        with book.reading() as session:
            plan = plan_for(session, sheet, tell_columns(sheet.columns), change=True)
        take_catalogue(book, plan, sheet.columns, "Ada")


def step(name: str, folder: Path) -> None:
    """Do one step in this process; print seconds by clock and by processor, and MB."""
    from wherestood.daybook import Daybook
    from wherestood.daybook.catalogue import catalogue_rows
    from wherestood.daybook.catalogue.give import GIVEN_COLUMNS
    from wherestood.daybook.handover import merge, write_bag
    from wherestood.daybook.sheets.write import write_sheet

    start, worked = time.perf_counter(), time.process_time()
    if name in ("csv in", "csv again"):
        _take(folder / "one", folder / "a.csv")
    elif name == "xlsx in":
        _take(folder / "two", folder / "a.xlsx")
    elif name == "xlsx out":
        with Daybook.open(folder / "one") as book, book.reading() as session:
            rows = [[row[c] for c in GIVEN_COLUMNS] for row in catalogue_rows(session)]
        write_sheet(folder / "out.xlsx", GIVEN_COLUMNS, rows)
    elif name == "bag":
        with Daybook.open(folder / "one") as book:
            write_bag(book, folder / "bag.zip")
    else:
        with (
            Daybook.open(folder / "one") as book,
            Daybook.open(folder / "copy") as other,
        ):
            merge(book, other, "Ada")
    spent, busy = time.perf_counter() - start, time.process_time() - worked
    used = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    print(f"{spent:.2f} {busy:.2f} {used:.0f}")


def _copy_and_change(folder: Path) -> None:
    from sqlalchemy import select

    from wherestood.daybook import Daybook
    from wherestood.daybook.replay import rebuild_into
    from wherestood.daybook.tables import Plate

    one, copy = Daybook.open(folder / "one"), Daybook.create(folder / "copy")
    with one, copy:
        rebuild_into(one, copy)
        with copy.writing("Ben") as session:
            wanted = select(Plate).order_by(Plate.key)
            for plate in session.scalars(wanted).all()[::10]:
                plate.note = "seen by Ben"


def study(count: int) -> None:
    """Print a row for every step."""
    from wherestood.daybook import Daybook
    from wherestood.daybook.sheets.write import write_sheet

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        rows = invented_rows(count)
        for suffix in ("csv", "xlsx"):
            write_sheet(folder / f"a.{suffix}", COLUMNS, rows)
        for daybook in ("one", "two"):
            Daybook.create(folder / daybook).close()
        for what in STEPS:
            if what == "merge":
                _copy_and_change(folder)
            told = subprocess.run(
                [sys.executable, __file__, "--step", what, str(folder)],
                check=True,
                capture_output=True,
                text=True,
            ).stdout.split()
            print(
                f"{count:6d}  {what:10s} {float(told[0]):8.2f} s, processor "
                f"{float(told[1]):8.2f} s  {told[2]:>5s} MB"
            )


if __name__ == "__main__":
    if sys.argv[1:2] == ["--step"]:
        step(sys.argv[2], Path(sys.argv[3]))
    else:
        for plates in [int(word) for word in sys.argv[1:]] or [100, 1000, 10_000]:
            study(plates)
