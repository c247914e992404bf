"""Check that nothing is half-taken, whenever the taking in is killed or fails."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from wherestood.daybook import Daybook
from wherestood.daybook.originals import take_in, verify

HERE = Path(__file__).parent
pytestmark = pytest.mark.skipif(
    not hasattr(os, "fork"), reason="takers are forked, which this system cannot do"
)


def killed(kind: str, folder: Path, kills: int, seed: int) -> dict[str, Any]:
    """Kill so many takers, and return what was found."""
    words = [kind, str(folder), str(kills), str(seed)]
    ran = subprocess.run(
        [sys.executable, HERE / "killed_takers.py", *words],
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr
    found: dict[str, Any] = json.loads(ran.stdout)
    return found


def test_originals_are_whole_or_not_there(tmp_path: Path) -> None:
    found = killed("takes", tmp_path / "Tal der Mühle 谷", kills=24, seed=1)
    assert found["wrong"] == []
    assert found["killed"] == 24
    assert found["done"] > 0, "none had been taken in before it died"


def test_catalogues_come_in_whole_or_not_at_all(tmp_path: Path) -> None:
    found = killed("imports", tmp_path / "daybook", kills=10, seed=2)
    assert found["wrong"] == []
    assert found["killed"] == 10


def test_merges_happen_or_do_not(tmp_path: Path) -> None:
    found = killed("merges", tmp_path / "daybook", kills=10, seed=3)
    assert found["wrong"] == []
    assert found["killed"] > 0


def test_a_daybook_comes_out_of_a_bag_whole_or_not_at_all(tmp_path: Path) -> None:
    found = killed("unbags", tmp_path / "daybook", kills=6, seed=4)
    assert found["wrong"] == []
    assert found["killed"] > 0


FULL = """
import resource, sys
from pathlib import Path
from wherestood.daybook import Daybook
from wherestood.daybook.handover import read_bag, write_bag
from wherestood.daybook.originals import take_in
from wherestood.errors import DaybookError

folder = Path(sys.argv[1])
daybook = Daybook.open(folder / "daybook")
resource.setrlimit(resource.RLIMIT_FSIZE, (600_000, 600_000))
import signal
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
works = {
    "take": lambda: take_in(daybook, "1", folder / "large.png", "A", new_plate={}),
    "bag": lambda: write_bag(daybook, folder / "bag.zip"),
}
try:
    works[sys.argv[2]]()
except DaybookError as error:
    print(error.problem)
"""


@pytest.mark.parametrize("work", ["take", "bag"])
def test_a_disk_that_is_full_is_told_and_nothing_left(
    tmp_path: Path, work: str
) -> None:
    """A limit on the size of files stands in for the full disk."""
    noise = np.random.default_rng(1).integers(0, 255, (1000, 1000), dtype=np.uint8)
    large = tmp_path / "large.png"
    Image.fromarray(noise).save(large)
    assert large.stat().st_size > 600_000
    with Daybook.create(tmp_path / "daybook") as daybook:
        if work == "bag":
            take_in(daybook, "1", large, "Ada", new_plate={})
    ran = subprocess.run(
        [sys.executable, "-c", FULL, str(tmp_path), work],
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr
    assert "no room left" in ran.stdout
    with Daybook.open(tmp_path / "daybook") as daybook:
        assert verify(daybook) == []
    names = {path.name for path in tmp_path.iterdir()}
    assert names == {"daybook", "large.png"}
