"""Let writers be killed at random moments, and look at what they leave.

Run as a program of its own, so that each writer is a quick fork of one process that
has loaded everything and runs no threads::

    python killed_writers.py KIND FOLDER KILLS SEED

prints what was found as JSON.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sqlite3
import sys
import time
from collections.abc import Callable
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook import Daybook
from wherestood.daybook.connection import make_engine, sqlite_url
from wherestood.daybook.rename import rename
from wherestood.daybook.replay import disagreements
from wherestood.daybook.schema import upgrade
from wherestood.daybook.scrub import PENDING, finish
from wherestood.daybook.tables import (
    Detail,
    Informant,
    Lead,
    Plate,
    Scan,
    Statement,
)
from wherestood.daybook.undo import redo, undo
from wherestood.daybook.withdraw import withdraw

LATEST_KILL_S = 0.04  # later than most writes last
SECRET = "Qualmstein"
FIRST_SCHEMA = Path(__file__).parent / "schemas" / "1.sql"


def works(daybook: Daybook, ready: Callable[[], None], seed: int) -> None:
    """Add, change, rename, take back and do again, over and over."""
    draw = random.Random(seed)
    while True:
        with daybook.writing("Ada", "a long day") as session:
            plate = Plate(title="mill " * draw.randrange(400))
            session.add(plate)
            session.flush()
            details = [Detail(plate_id=plate.id) for _ in range(draw.randrange(9))]
            leads = Lead(plate_id=plate.id, what="rate book", state="to do")
            session.add_all([*details, leads])
        ready()
        with daybook.writing("Ben") as session:
            found = session.get_one(Plate, plate.id)
            found.title, found.removed = "weir", draw.random() < 0.5
            rename(session, found, f"1987.{found.id}")
        undo(daybook, "Ada")
        redo(daybook, "Ada")


def withdraws(daybook: Daybook, ready: Callable[[], None], seed: int) -> None:
    """Take content out for good, over and over."""
    number = 0
    while True:
        number += 1
        name = f"originals/{seed}-{number}.tif"
        daybook.path(name).write_text(SECRET)
        with daybook.writing("Ada") as session:
            plate = Plate()
            session.add(plate)
            session.flush()
            session.add(Scan(plate_id=plate.id, file=name, sha256="0" * 64))
            told = Informant(name=f"{SECRET} {seed}", said=f"at the {SECRET}")
            session.add(told)
            session.flush()
            session.add(Statement(informant_id=told.id, words=f"by {SECRET}"))
        ready()
        withdraw(daybook, Informant, told.id, person="Ada", everywhere=True)
        withdraw(daybook, Plate, plate.id, person="Ada")


def upgrades(daybook: Daybook, ready: Callable[[], None], _seed: int) -> None:
    """Bring an older daybook up to date."""
    ready()
    upgrade(daybook.engine)


WORKS = {"works": works, "withdraws": withdraws, "upgrades": upgrades}


def killed_at_random(
    kind: str, daybook: Daybook, seed: int, draw: random.Random
) -> bool:
    """Start a writer, kill it at a random moment; tell whether it was still at it."""
    reading, writing = os.pipe()
    parent = os.getpid()
    pid = os.fork()
    if pid == 0:
        os.close(reading)
        told: list[int] = []

        def ready() -> None:
            if os.getppid() != parent:  # nobody is left to kill it
                os._exit(1)
            if not told:
                told.append(os.write(writing, b"."))

        try:
            WORKS[kind](daybook, ready, seed)
        finally:
            os._exit(0)
    os.close(writing)
    os.read(reading, 1)
    os.close(reading)
    time.sleep(draw.uniform(0.0, LATEST_KILL_S))  # the moment is what is tried
    os.kill(pid, signal.SIGKILL)
    _, status = os.waitpid(pid, 0)
    return os.WIFSIGNALED(status)


def faults(daybook: Daybook) -> list[str]:
    """Return what is wrong with a daybook after a crash."""
    found: list[str] = []
    raw = sqlite3.connect(daybook.folder / "daybook.sqlite")
    for pragma in ("integrity_check", "foreign_key_check"):
        rows = raw.execute(f"PRAGMA {pragma}").fetchall()
        found += [f"{pragma}: {row}" for row in rows if row != ("ok",)]
    raw.close()
    upgrade(daybook.engine)
    finish(daybook.folder, daybook.engine)
    with daybook.reading() as session:
        found += disagreements(session)
        chosen = select(Informant).where(Informant.withdrawn.is_(None))
        if session.scalars(chosen).first() is None:
            found += _left_of_what_was_withdrawn(daybook.folder, session)
    if (daybook.folder / PENDING).exists():
        found.append("a withdrawal was not finished")
    return found


def _left_of_what_was_withdrawn(folder: Path, session: Session) -> list[str]:
    """Return the files that hold what was withdrawn, all rows being stubs."""
    standing = set(session.scalars(select(Scan.file).where(Scan.withdrawn.is_(None))))
    named = set(session.scalars(select(Scan.file)))
    return [
        f"{path.relative_to(folder)} holds what was withdrawn"
        for path in folder.rglob("*")
        if path.is_file()
        and SECRET.encode() in path.read_bytes()
        # A scan that still stands, or that no row had named when the writer died.
        and path.relative_to(folder).as_posix() not in standing
        and not (path.parent.name == "originals" and path.name not in named)
    ]


def warm_up(daybook: Daybook) -> None:
    """Do each thing once, so that a forked writer is quick at it."""
    with daybook.writing("Ada") as session:
        session.add(Plate())
    undo(daybook, "Ada")
    faults(daybook)


def older(folder: Path) -> Daybook:
    """Return a daybook of the first schema, which opening would bring up to date."""
    folder.mkdir()
    raw = sqlite3.connect(folder / "daybook.sqlite")
    raw.executescript(FIRST_SCHEMA.read_text(encoding="utf-8"))
    raw.close()
    return Daybook(folder, make_engine(sqlite_url(str(folder / "daybook.sqlite"))))


def main(kind: str, folder: Path, kills: int, seed: int) -> None:
    """Kill writers, and print what was found."""
    draw = random.Random(seed)
    killed, wrong = 0, []
    if kind != "upgrades":
        daybook = Daybook.open(folder)
        warm_up(daybook)
    for number in range(kills):
        if kind == "upgrades":
            daybook = older(folder / str(number))
        daybook.close()  # no connection may be shared with the writer
        killed += killed_at_random(kind, daybook, seed + number, draw)
        wrong += [f"after kill {number + 1}: {fault}" for fault in faults(daybook)]
    print(json.dumps({"killed": killed, "wrong": wrong}))  # noqa: T201


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4]))
