"""Hold the rule for programs of other projects that a machine may lack."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

NEEDS_A_MISSING_PROGRAM = """
import pytest

@pytest.mark.outside_program("no-such-program-anywhere")
def test_that_needs_it():
    raise AssertionError("ran without its program")
"""

NEEDS_A_PRESENT_PROGRAM = """
import os
import sys

import pytest

@pytest.mark.outside_program(sys.executable)
def test_that_needs_it():
    assert os.path.isfile(sys.executable)
"""


def run_tests(
    source: str, folder: Path, repository: Path, *, in_ci: bool
) -> subprocess.CompletedProcess[str]:
    """Run a test file in a folder of its own under the project's conftest."""
    shutil.copy(repository / "tests" / "conftest.py", folder)
    (folder / "test_it.py").write_text(source, encoding="utf-8")
    markers = "[pytest]\nmarkers =\n    outside_program(*names): as the project's\n"
    (folder / "pytest.ini").write_text(markers, encoding="utf-8")
    environment = {k: v for k, v in os.environ.items() if not k.startswith("PYTEST_")}
    environment["CI"] = "true" if in_ci else ""
    return subprocess.run(
        [sys.executable, "-m", "pytest", "-ra", "-p", "no:cacheprovider", "."],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )


def test_missing_program_skips_by_name_on_a_users_machine(
    tmp_path: Path, repository: Path
) -> None:
    ran = run_tests(NEEDS_A_MISSING_PROGRAM, tmp_path, repository, in_ci=False)
    assert ran.returncode == 0
    assert "1 skipped" in ran.stdout
    assert "needs the program no-such-program-anywhere" in ran.stdout


def test_missing_program_fails_in_ci(tmp_path: Path, repository: Path) -> None:
    ran = run_tests(NEEDS_A_MISSING_PROGRAM, tmp_path, repository, in_ci=True)
    assert ran.returncode == 1
    assert "needs the program no-such-program-anywhere" in ran.stdout


@pytest.mark.parametrize("in_ci", [False, True])
def test_present_program_lets_the_test_run(
    tmp_path: Path, repository: Path, in_ci: bool
) -> None:
    ran = run_tests(NEEDS_A_PRESENT_PROGRAM, tmp_path, repository, in_ci=in_ci)
    assert ran.returncode == 0
    assert "1 passed" in ran.stdout
