"""Check what the benchmarks' runner says of a missed ratio."""

from __future__ import annotations

import ast
import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest


@pytest.fixture
def runner(
    repository: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> ModuleType:
    """Return the runner, with one benchmark that misses and one that does not."""
    spec = importlib.util.spec_from_file_location(
        "benchmarks_runner", repository / "benchmarks" / "run.py"
    )
    assert spec is not None
    assert spec.loader is not None
    monkeypatch.setenv("NUMBA_NUM_THREADS", "1")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    for name, ratio in (("invented_miss", 4.0), ("invented_hit", 6.0)):
        row = {"what": name, "ratio": ratio, "least_ratio": 5.0}
        text = f"def main():\n    return {row!r}\n"
        (tmp_path / f"{name}.py").write_text(text, encoding="utf-8")
    monkeypatch.setattr(module, "HERE", tmp_path)
    monkeypatch.setattr(sys, "path", list(sys.path))
    return module


def test_a_missed_ratio_is_printed_and_fails_only_when_strict(
    runner: ModuleType, capsys: pytest.CaptureFixture[str]
) -> None:
    both = ["invented_hit", "invented_miss"]
    assert runner.main(both) == 0
    told = capsys.readouterr().out
    assert "Missed: invented_miss: 4.0 where at least 5.0 is asked." in told
    assert "Missed: invented_hit" not in told
    assert runner.main([*both, "--strict"]) == 1
    assert runner.main(["invented_hit", "--strict"]) == 0


def test_a_module_that_times_nothing_is_passed_over(
    runner: ModuleType, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "invented_study.py").write_text("STUDIED = 1\n", encoding="utf-8")
    assert runner.main(["invented_study", "invented_hit"]) == 0
    assert "invented_study" not in capsys.readouterr().out


def test_what_the_runner_calls_returns_rows(repository: Path) -> None:
    # A study of hours that calls its own work `main` would be run as a benchmark.
    called = []
    for path in (repository / "benchmarks").glob("*.py"):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef) and node.name == "main":
                called.append(path.stem)
                assert node.returns is not None, path.stem
                assert ast.unparse(node.returns) != "None", path.stem
    assert "locate_growth" in called
