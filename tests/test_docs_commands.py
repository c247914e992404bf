"""Hold the commands that pages show: all can be read, the cheap ones are run.

A fence after the line ``<!-- run -->`` is run, page by page, in one folder, from above
to below. Others want a scan, a search or a fix of the reader's own, and are read only:
their words must be those of a command that is there.
"""

from __future__ import annotations

import re
import shlex
from pathlib import Path
from typing import Any

import click
import pytest
import typer

from wherestood.cli.app import app, run
from wherestood.cli.arranged import arranged

ROOT = Path(__file__).parents[1]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
FENCE = re.compile(r"(<!-- run -->\n)?^```(?:sh|console)?\n(.*?)^```", re.M | re.S)
COMMAND = re.compile(r"(?:\.venv/bin/)?wherestood (.*)")


def _commands(page: Path) -> list[tuple[str, bool]]:
    """Return the words of each command in a page's fences, and whether it is run."""
    found = []
    for marked, block in FENCE.findall(page.read_text(encoding="utf-8")):
        for line in block.replace("\\\n", " ").splitlines():
            if told := COMMAND.fullmatch(line.strip()):
                found.append((told[1], bool(marked)))
    return found


SHOWN = [(page.name, words) for page in PAGES for words, _ in _commands(page)]
RUN = [page for page in PAGES if any(is_run for _, is_run in _commands(page))]


@pytest.mark.parametrize(("page", "words"), SHOWN, ids=[f"{p}: {w}" for p, w in SHOWN])
def test_every_command_shown_can_be_read(page: str, words: str) -> None:
    del page
    command: Any = typer.main.get_command(app)
    left = arranged([one for one in shlex.split(words) if one != "..."])
    context = click.Context(command, info_name="wherestood")
    while hasattr(command, "get_command"):
        name = left.pop(0)
        command = command.get_command(context, name)
        assert command is not None, name
    command.make_context(command.name, left, parent=context)


@pytest.mark.parametrize("page", RUN, ids=lambda page: page.name)
def test_the_commands_marked_to_be_run_do_what_they_say(
    page: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("WHERESTOOD_PERSON", "Ada Moss")
    for words, is_run in _commands(page):
        if is_run:
            assert run(shlex.split(words)) == 0, capsys.readouterr().err


def test_the_first_page_runs_from_an_empty_folder_to_a_bag() -> None:
    told = " ".join(words for words, is_run in _commands(ROOT / "docs/start-here.md")
                    if is_run)  # fmt: skip
    for verb in ("daybook new", "plates add", "report", "bag"):
        assert verb in told
