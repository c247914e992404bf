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


#: How often each kind of work is killed.
KILLS = {
    "takes": 16, "imports": 8, "merges": 10, "unbags": 4, "layers": 5,
    "gazetteers": 4, "bags": 3,
}  # fmt: skip


@pytest.fixture(scope="module")
def killed(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Kill all of them, in forks of one process, and return what was found."""
    folder = tmp_path_factory.mktemp("killed") / "Tal der Mühle 谷"
    words = [f"{kind}={kills}" for kind, kills in KILLS.items()]
    ran = subprocess.run(
        [sys.executable, HERE / "killed_takers.py", folder, *words],
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr
    found: dict[str, Any] = json.loads(ran.stdout)
    return found


@pytest.mark.parametrize("kind", KILLS)
def test_what_was_killed_is_done_whole_or_not_at_all(
    killed: dict[str, Any], kind: str
) -> None:
    """A merge brings a withdrawal besides, which no byte survives once it is told."""
    assert killed[kind]["wrong"] == []
    assert killed[kind]["killed"] > 0


def test_killed_takers_had_done_some_of_their_work(killed: dict[str, Any]) -> None:
    assert killed["takes"]["killed"] == KILLS["takes"]
    assert killed["takes"]["done"] > 0, "none had been taken in before it died"


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
