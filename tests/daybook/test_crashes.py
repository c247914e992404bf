"""Check that a daybook survives what happens to computers."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from wherestood.daybook import Daybook

HERE = Path(__file__).parent
pytestmark = pytest.mark.skipif(
    not hasattr(os, "fork"), reason="writers are forked, which this system cannot do"
)


def killed(kind: str, folder: Path, kills: int, seed: int) -> dict[str, Any]:
    """Kill so many writers in a daybook, and return what was found."""
    words = [kind, str(folder), str(kills), str(seed)]
    ran = subprocess.run(
        [sys.executable, HERE / "killed_writers.py", *words],
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr
    found: dict[str, Any] = json.loads(ran.stdout)
    return found


def test_writers_killed_at_random_leave_a_sound_daybook(tmp_path: Path) -> None:
    folder = tmp_path / "Tal der Mühle 谷"
    Daybook.create(folder).close()
    found = killed("works", folder, kills=140, seed=1)
    assert found == {"killed": 140, "wrong": []}
    with Daybook.open(folder) as daybook, daybook.reading() as session:
        rows = session.connection().exec_driver_sql("SELECT count(*) FROM journal")
        assert rows.scalar_one() > 140, "most writers had written before they died"


def test_a_withdrawal_killed_at_random_is_whole_or_never_was(tmp_path: Path) -> None:
    Daybook.create(tmp_path / "daybook").close()
    found = killed("withdraws", tmp_path / "daybook", kills=40, seed=2)
    assert found == {"killed": 40, "wrong": []}


def test_bringing_up_to_date_killed_at_random_happens_or_does_not(
    tmp_path: Path,
) -> None:
    found = killed("upgrades", tmp_path, kills=30, seed=3)
    assert found["wrong"] == []
    # Some are done before they are killed.
    assert found["killed"] > 0
