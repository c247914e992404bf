"""Let what takes things in be killed at random moments, and look at what it leaves.

Run as a program of its own, so that each taker is a quick fork of one process that has
loaded everything and runs no threads::

    python killed_takers.py FOLDER KIND=KILLS ...

prints what was found as JSON, by kind.
"""

from __future__ import annotations

import json
import os
import random
import select
import shutil
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import rasterio
from PIL import Image
from rasterio import Affine
from sqlalchemy import func
from sqlalchemy import select as choose

from wherestood.daybook import Daybook, find
from wherestood.daybook.catalogue import plan_for, take_catalogue
from wherestood.daybook.catalogue.columns import tell_columns
from wherestood.daybook.gazetteer import read_gazetteer, take_gazetteer
from wherestood.daybook.handover import merge, read_bag, write_bag
from wherestood.daybook.handover.copying import new_beside
from wherestood.daybook.originals import take_in, verify
from wherestood.daybook.originals.passing import TAKING_IN, sweep
from wherestood.daybook.originals.take import named_files
from wherestood.daybook.replay import rebuild_into
from wherestood.daybook.sheets import read_sheet
from wherestood.daybook.tables import Feature, Informant, Plate, Scan, TerrainLayer
from wherestood.daybook.terrain_layers import take_terrain
from wherestood.daybook.withdraw import withdraw

ROWS = 60  # of a catalogue: it comes in whole or not at all
SCANS = 4  # of the other copy
TILES = 3  # of an elevation model
SECRET = "Qualmstein"  # withdrawn in the other copy, and then here
#: Latest kill, in the time that one piece of the work takes here and now.
LATEST_KILL = {
    "takes": 3.0, "imports": 2.0, "merges": 1.3, "unbags": 1.3, "layers": 0.8,
    "gazetteers": 1.3, "bags": 1.3,
}  # fmt: skip
Ready = Callable[[], None]


def pictures(folder: Path, count: int) -> list[Path]:
    """Invent small scans, no two alike."""
    folder.mkdir(exist_ok=True)
    paths = []
    for seed in range(count):
        tones = np.random.default_rng(seed).integers(0, 255, (8, 8), dtype=np.uint8)
        paths.append(folder / f"{seed}.png")
        Image.fromarray(tones).resize((48, 48)).save(paths[-1])
    return paths


def takes(folder: Path, ready: Ready, seed: int, times: int = 1000) -> None:
    """Take scans in until killed."""
    scans = sorted((folder / "scans").iterdir())
    with Daybook.open(folder / "ours") as daybook:
        ready()
        for number in range(times):
            scan = scans[(seed + number) % len(scans)]
            take_in(daybook, f"{seed}.{number}", scan, "Ada", new_plate={}, again=True)


def imports(folder: Path, ready: Ready, seed: int, times: int = 1000) -> None:
    """Take catalogues in until killed."""
    with Daybook.open(folder / "ours") as daybook:
        for number in range(times):
            path = folder / "register.csv"
            rows = [f"{seed}.{number}.{row},mill,Ada Moss" for row in range(ROWS)]
            path.write_text("key,title,maker\n" + "\n".join(rows), encoding="utf-8")
            sheet = read_sheet(path)
            if number == 0:
                ready()
            with daybook.reading() as session:
                plan = plan_for(session, sheet, tell_columns(sheet.columns))
            take_catalogue(daybook, plan, sheet.columns, "Ada")


def merges(folder: Path, ready: Ready, _seed: int, _times: int = 1) -> None:
    """Merge the other copy."""
    ours, theirs = Daybook.open(folder / "ours"), Daybook.open(folder / "theirs")
    with ours, theirs:
        ready()
        merge(ours, theirs, "Ada")


def unbags(folder: Path, ready: Ready, _seed: int, _times: int = 1) -> None:
    """Take the daybook out of a bag."""
    ready()
    read_bag(folder / "bag.zip", folder / "ours", "Ada")


def layers(folder: Path, ready: Ready, _seed: int, _times: int = 1) -> None:
    """Take an elevation model of several tiles in."""
    with Daybook.open(folder / "ours") as daybook:
        ready()
        take_terrain(daybook, folder / "model", "Ada")


def gazetteers(folder: Path, ready: Ready, seed: int, times: int = 1000) -> None:
    """Take gazetteers in until killed."""
    with Daybook.open(folder / "ours") as daybook:
        for number in range(times):
            path = folder / "places.csv"
            rows = [
                f"mill {seed} {number} {row},7.{row:02},46.5" for row in range(ROWS)
            ]
            path.write_text("name,lon,lat\n" + "\n".join(rows), encoding="utf-8")
            gazetteer = read_gazetteer(path)
            if number == 0:
                ready()
            take_gazetteer(daybook, gazetteer, "Ada", citation="an invented list")


def bags(folder: Path, ready: Ready, _seed: int, _times: int = 1) -> None:
    """Write the daybook into a bag."""
    with Daybook.open(folder / "ours") as daybook:
        ready()
        write_bag(daybook, folder / "out" / "bag.zip")


WORKS = {
    "takes": takes, "imports": imports, "merges": merges, "unbags": unbags,
    "layers": layers, "gazetteers": gazetteers, "bags": bags,
}  # fmt: skip


def tiles(folder: Path) -> None:
    """Invent an elevation model."""
    folder.mkdir()
    for number in range(TILES):
        heights = np.full((20, 20), 500.0 + number, dtype=np.float32)
        east = 400_000.0 + 600.0 * number
        with rasterio.open(
            folder / f"{number}.tif", "w", driver="GTiff", width=20, height=20,
            count=1, dtype="float32", crs="EPSG:32632",
            transform=Affine(30.0, 0.0, east, 0.0, -30.0, 5_200_000.0),
        ) as dataset:  # fmt: skip
            dataset.write(heights, 1)


def set_up(kind: str, folder: Path) -> None:
    """Make what the takers need; no picture is decoded in this process."""
    folder.mkdir(parents=True)
    (folder / "out").mkdir()
    scans = pictures(folder / "scans", 12)
    if kind in ("merges", "unbags", "bags"):
        base = Daybook.create(folder / "base")
        with base, base.writing("Ada") as session:
            session.add(Plate(key="1987.12"))
            session.add(Informant(name=SECRET, said=f"by the {SECRET}"))
        base, theirs = Daybook.open(folder / "base"), Daybook.create(folder / "theirs")
        with base, theirs:
            rebuild_into(base, theirs)
            in_child(lambda: [
                take_in(theirs, f"their {path.stem}", path, "Ben", new_plate={})
                for path in scans[:SCANS]
            ])  # fmt: skip
        with Daybook.open(folder / "theirs") as theirs:
            with theirs.reading() as session:
                told = find(session, Informant, "informant-1").id
            withdraw(theirs, Informant, told, person="Ben", everywhere=True)
            write_bag(theirs, folder / "bag.zip")
    else:
        Daybook.create(folder / "ours").close()
    if kind == "bags":
        (folder / "theirs").rename(folder / "ours")
    if kind == "layers":
        in_child(lambda: tiles(folder / "model"))
    with Daybook.create(folder / "warm") as warm:
        verify(warm)


def in_child(work: Callable[[], object]) -> None:
    """Do something in a fork, and wait for it."""
    pid = os.fork()
    if pid == 0:
        code = 1
        try:
            work()
            code = 0
        finally:
            os._exit(code)
    _, status = os.waitpid(pid, 0)
    assert os.waitstatus_to_exitcode(status) == 0


def prepare(kind: str, folder: Path) -> None:
    """Put a fresh copy where the work shall go, which is done but once."""
    if kind == "merges":
        shutil.rmtree(folder / "ours", ignore_errors=True)
        shutil.copytree(folder / "base", folder / "ours")
    if kind == "layers":
        shutil.rmtree(folder / "ours")
        shutil.copytree(folder / "warm", folder / "ours")


def seconds_of_one(kind: str, folder: Path) -> float:
    """Return how long one piece of the work takes when nobody kills it."""
    prepare(kind, folder)
    start = time.monotonic()
    in_child(lambda: WORKS[kind](folder, lambda: None, 0, 1))
    spent = time.monotonic() - start
    wrong, _ = faults(kind, folder)
    assert wrong == []
    return spent


def killed_at_random(kind: str, folder: Path, seed: int, wait_s: float) -> bool:
    """Start a taker, kill it after a while; tell whether it was still at it."""
    prepare(kind, folder)
    reading, writing = os.pipe()
    pid = os.fork()
    if pid == 0:
        os.close(reading)
        try:
            WORKS[kind](folder, lambda: os.write(writing, b".") and None, seed)
        finally:
            os._exit(0)
    os.close(writing)
    os.read(reading, 1)
    os.close(reading)
    select.select([], [], [], wait_s)
    os.kill(pid, signal.SIGKILL)
    _, status = os.waitpid(pid, 0)
    return os.WIFSIGNALED(status)


def faults(kind: str, folder: Path) -> tuple[list[str], bool]:
    """Return what is wrong after a crash, and whether the work had been done."""
    found: list[str] = []
    ours = folder / "ours"
    if kind == "unbags":
        if not ours.exists():
            return found, False
        with Daybook.open(ours) as daybook:
            found += [one.sentence for one in verify(daybook)]
        shutil.rmtree(ours)
        return found, True
    with Daybook.open(ours) as daybook:
        found += [one.sentence for one in verify(daybook) if one.is_serious]
        sweep(ours, lambda file: file in named_files(daybook))
        found += [one.sentence for one in verify(daybook)]
        if any((ours / "originals" / TAKING_IN).glob("*")):
            found.append("something passing was left")
        with daybook.reading() as session:
            plates, scans, features = (
                session.scalar(choose(func.count()).select_from(table)) or 0
                for table in (Plate, Scan, Feature)
            )
            models = [one.files or [] for one in session.scalars(choose(TerrainLayer))]
            told = session.scalars(choose(Informant)).first()
            gone = told is not None and told.withdrawn is not None
    if kind == "takes" and plates != scans:
        found.append(f"{plates} plates and {scans} scans: one was half-taken")
    if kind == "imports" and plates % ROWS:
        found.append(f"{plates} plates: a catalogue was half-taken")
    if kind == "merges":
        found += _of_merge(ours, plates, scans, gone)
    if kind == "layers":
        found += [f"{len(m)} tiles: half-taken" for m in models if len(m) != TILES]
        return found, bool(models)
    if kind == "gazetteers":
        if features % ROWS:
            found.append(f"{features} features: a gazetteer was half-taken")
        return found, features > 0
    if kind == "bags":
        stands = (folder / "out" / "bag.zip").exists()
        return found + _of_bag(folder), stands
    return found, plates > 1


def _of_merge(ours: Path, plates: int, scans: int, gone: bool) -> list[str]:
    """Return what is wrong where a merge was killed that brings a withdrawal."""
    found = []
    if (plates, scans) not in ((1, 0), (1 + SCANS, SCANS)):
        found.append(f"{plates} plates and {scans} scans: a merge was half-done")
    if plates > 1 and not gone:
        found.append("merged, and what they withdrew stands")
    files = [path for path in ours.rglob("*") if path.is_file()]
    if gone and any(SECRET.encode() in path.read_bytes() for path in files):
        found.append("what was withdrawn is in the bytes")
    return found


def _of_bag(folder: Path) -> list[str]:
    """Return what is wrong with a bag that stands, and take it away."""
    bag, back = folder / "out" / "bag.zip", folder / "back"
    passing = new_beside(bag, "bagging")
    left = {path.name for path in bag.parent.iterdir()} - {bag.name, passing.name}
    passing.rmdir()
    if left or not bag.exists():
        return [f"{name} was left" for name in left]
    in_child(lambda: read_bag(bag, back, "Ada"))
    with Daybook.open(back) as daybook:
        found = [one.sentence for one in verify(daybook)]
    shutil.rmtree(back)
    bag.unlink()
    return found


def tried(kind: str, folder: Path, kills: int, seed: int) -> dict[str, object]:
    """Kill takers of one kind, and return what was found."""
    draw = random.Random(seed)
    set_up(kind, folder)
    latest_s = LATEST_KILL[kind] * seconds_of_one(kind, folder)
    killed, done, wrong = 0, 0, []
    for number in range(kills):
        # One kill in each part of the work's time.
        wait_s = (number + draw.random()) / kills * latest_s
        killed += killed_at_random(kind, folder, 1000 * seed + 20 * number + 1, wait_s)
        found, whole = faults(kind, folder)
        done += whole
        wrong += [f"after kill {number + 1}: {fault}" for fault in found]
    return {"killed": killed, "done": done, "wrong": wrong}


def main(folder: Path, kinds: list[str]) -> None:
    """Kill takers of each kind, and print what was found."""
    told = {}
    for seed, words in enumerate(kinds, 1):
        kind, _, kills = words.partition("=")
        told[kind] = tried(kind, folder / kind, int(kills), seed)
    print(json.dumps(told))  # noqa: T201


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2:])
