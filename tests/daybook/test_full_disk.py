"""Check that a disk which fills up is told, and that nothing is lost or half-done.

The disk is a real one, of six megabytes; where none can be mounted (that takes the
rights of root) the tests are skipped by name, and those with a limit on the size of
files stand in for them (`test_book`, `test_intake_crashes`).
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from sqlalchemy import func, select

from wherestood.daybook import Daybook
from wherestood.daybook.catalogue import plan_for, take_catalogue
from wherestood.daybook.catalogue.columns import tell_columns
from wherestood.daybook.handover import merge, write_bag
from wherestood.daybook.originals import take_in, verify
from wherestood.daybook.originals.passing import TAKING_IN
from wherestood.daybook.sheets import read_sheet
from wherestood.daybook.tables import Informant, Plate
from wherestood.daybook.withdraw import withdraw
from wherestood.errors import DaybookError

DISK_BYTES = 6_000_000
LEFT_BYTES = 120_000  # room for a few rows, and for no scan
ROWS = 400
SECRET = "Qualmstein"


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """Mount a small disk."""
    place = tmp_path / "Stick 谷"
    place.mkdir()
    mount = shutil.which("mount")
    options = ["-t", "tmpfs", "-o", f"size={DISK_BYTES}", "tmpfs", str(place)]
    made = mount and subprocess.run([mount, *options], capture_output=True, check=False)
    if not made or made.returncode:
        pytest.skip("a small disk cannot be mounted here, which takes root's rights")
    yield place
    subprocess.run(["umount", "-l", str(place)], check=True)


def fill(disk: Path) -> Path:
    """Fill a disk up but for a little; return what fills it."""
    filler = disk / "filler"
    filler.write_bytes(bytes(shutil.disk_usage(disk).free - LEFT_BYTES))
    return filler


def picture(path: Path) -> Path:
    """Invent a scan larger than the room that is left."""
    noise = np.random.default_rng(1).integers(0, 255, (500, 500), dtype=np.uint8)
    Image.fromarray(noise).save(path)
    assert path.stat().st_size > LEFT_BYTES
    return path


def take_register(daybook: Daybook, path: Path) -> None:
    rows = "".join(f"{n},a mill beside the weir of {n}\n" for n in range(ROWS))
    path.write_text(f"key,title\n{rows}", encoding="utf-8")
    sheet = read_sheet(path)
    with daybook.reading() as session:
        plan = plan_for(session, sheet, tell_columns(sheet.columns))
    take_catalogue(daybook, plan, sheet.columns, "Ada")


def plates(daybook: Daybook) -> int:
    with daybook.reading() as session:
        return session.scalar(select(func.count()).select_from(Plate)) or 0


def test_what_finds_no_room_is_told_and_done_once_there_is_room(
    small_disk: Path, tmp_path: Path
) -> None:
    scan = picture(tmp_path / "large.png")
    with Daybook.create(small_disk / "ours") as ours:
        with ours.writing("Ada") as session:
            told = Informant(name=SECRET, said=f"by the {SECRET}, below the ford")
            session.add_all([Plate(key="before"), told])
        shutil.copytree(ours.folder, tmp_path / "theirs")
        with Daybook.open(tmp_path / "theirs") as theirs:
            take_in(theirs, "theirs", scan, "Ben", new_plate={})
            filler = fill(small_disk)
            works: list[Callable[[], object]] = [
                lambda: take_in(ours, "large", scan, "Ada", new_plate={}, again=True),
                lambda: take_register(ours, tmp_path / "register.csv"),
                lambda: merge(ours, theirs, "Ada"),
                lambda: write_bag(theirs, small_disk / "bag.zip"),
            ]
            for work in works:
                with pytest.raises(DaybookError, match="no room left"):
                    work()
                assert verify(ours) == []
                assert plates(ours) == 1
                assert list((ours.folder / "originals" / TAKING_IN).glob("*")) == []
                names = {path.name for path in small_disk.iterdir()}
                assert names == {"ours", "filler"}
            filler.unlink()
            for work in works:
                work()
        assert plates(ours) == 1 + 1 + ROWS + 1
        assert verify(ours) == []


def test_a_withdrawal_without_room_to_overwrite_is_finished_later(
    small_disk: Path, tmp_path: Path
) -> None:
    with Daybook.create(small_disk / "ours") as ours:
        take_register(ours, tmp_path / "register.csv")
        # Rows that follow it would be sealed anew, for which there is no room either.
        with ours.writing("Ada") as session:
            told = Informant(name=SECRET, said=f"by the {SECRET}, below the ford")
            session.add(told)
        filler = fill(small_disk)
        done = withdraw(ours, Informant, told.id, person="Ada", everywhere=True)
        assert not done.finished
        assert verify(ours) == []
    # Whoever opens it meanwhile can read it, and is told.
    with Daybook.open(ours.folder) as ours:
        assert not ours.finished
        assert plates(ours) == ROWS
    filler.unlink()
    with Daybook.open(ours.folder) as ours:
        assert ours.finished
        assert verify(ours) == []
    held = b"".join(p.read_bytes() for p in ours.folder.rglob("*") if p.is_file())
    assert SECRET.encode() not in held
