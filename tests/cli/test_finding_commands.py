"""Check that commands are found: grouped help, near names, completion, progress."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click
import pytest
import typer

from wherestood.cli import screen
from wherestood.cli.app import app, run
from wherestood.cli.completing import addresses_in
from wherestood.cli.listed import PANELS
from wherestood.cli.screen import SAID_EVERY_S, Stages


def test_every_command_stands_under_one_heading_of_the_help(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    group: Any = typer.main.get_command(app)
    names = group.list_commands(click.Context(group))
    placed = [name for panel in PANELS.values() for name in panel]
    assert len(placed) == len(set(placed))
    assert set(placed) <= set(names)
    assert run(["--help"]) == 0
    told = capsys.readouterr().out
    heads = [told.index(f"{heading}:") for heading in PANELS]
    assert heads == sorted(heads)
    for name in names:
        assert f"\n  {name} " in told, name
    assert max(map(len, told.splitlines())) <= 80


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["plate", "list"], "Is plates meant?"),
        (["fxi"], "Is fix meant?"),
        (["locate", "scan.tif", "--terain", "x"], "(Possible options: --terrain)"),
    ],
)
def test_what_is_misspelt_is_answered_with_the_nearest_name_alone(
    words: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(words) == 2
    assert told in capsys.readouterr().err


@pytest.fixture
def valley(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "valley"
    monkeypatch.setenv("WHERESTOOD_PERSON", "Ada Moss")
    assert run(["daybook", "new", str(folder)]) == 0
    monkeypatch.chdir(folder)
    for words in (["plates", "add", "1987.12"], ["plates", "add", "1988_1"]):
        assert run(words) == 0
    assert run(["details", "add", "1987.12"]) == 0
    return folder


def completed(capsys: pytest.CaptureFixture[str], *words: str) -> list[str]:
    """Return what the shell offers for the last of some words."""
    from typer.completion import completion_init  # its classes are set up by this

    completion_init()
    group: Any = typer.main.get_command(app)
    from typer._completion_classes import BashComplete

    capsys.readouterr()
    shell = BashComplete(group, {}, "wherestood", "_WHERESTOOD_COMPLETE")
    *before, last = words
    return [item.value for item in shell.get_completions(before, last)]


@pytest.mark.usefixtures("valley")
def test_the_shell_completes_commands_fields_their_words_and_keys(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert sorted(completed(capsys, "pla")) == ["plans", "plates"]
    assert "change" in completed(capsys, "plates", "ch")
    assert completed(capsys, "plates", "change", "x", "--grad") == ["--grade"]
    told = completed(capsys, "leads", "add", "--state", "no")
    assert told == ["nothing found"]
    assert completed(capsys, "plates", "show", "198") == ["1987.12", "1988_1"]
    assert completed(capsys, "details", "show", "1987") == ["1987.12/A"]
    assert completed(capsys, "fix", "1987") == ["1987.12"]
    assert addresses_in("plates", "1988_") == ["1988_1"]


def test_completion_offers_nothing_where_there_is_no_daybook(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("WHERESTOOD_DAYBOOK", raising=False)
    assert addresses_in("plates", "") == []
    (tmp_path / "daybook.sqlite").write_text("no database")
    assert addresses_in("plates", "") == []


def test_without_a_terminal_progress_is_told_now_and_then(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    said: list[str] = []
    time_s = [0.0]
    monkeypatch.setattr(screen, "warn", said.append)
    shown = Stages(None, now=lambda: time_s[0])
    shown.stage("searching the ground", 100)
    for _ in range(40):
        time_s[0] += SAID_EVERY_S / 10.0
        shown.advance()
    shown.stage("looking at files")
    time_s[0] += 2.0 * SAID_EVERY_S
    shown.advance(7)
    shown.stage("trying what is far", 5)
    time_s[0] += 2.0 * SAID_EVERY_S
    shown.advance(0)
    assert said == [
        "searching the ground ...",
        "searching the ground: 10%, about 2 minutes left",
        "searching the ground: 20%, about 2 minutes left",
        "searching the ground: 30%, about 2 minutes left",
        "searching the ground: 40%, about 90 s left",
        "looking at files ...",
        "looking at files: 7 steps done",
        "trying what is far ...",
        "trying what is far: 0 steps done",
    ]
