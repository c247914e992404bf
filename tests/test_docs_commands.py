"""Hold the commands that pages show: each can be read.

That they do what they say is tried in ``test_docs_workshop.py``.
"""

from __future__ import annotations

import re
import shlex
from pathlib import Path
from typing import Any

import click
import pytest
import typer

from wherestood.cli.app import app
from wherestood.cli.arranged import arranged

ROOT = Path(__file__).parents[1]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
FENCE = re.compile(r"^```(?:sh|console)?\n(.*?)^```", re.M | re.S)
COMMAND = re.compile(r"(?:\.venv/bin/)?wherestood (.*)")


def _commands(page: Path) -> list[str]:
    """Return the words of each command in a page's fences."""
    found = []
    for block in FENCE.findall(page.read_text(encoding="utf-8")):
        for line in block.replace("\\\n", " ").splitlines():
            if told := COMMAND.fullmatch(line.strip()):
                found.append(told[1])
    return found


SHOWN = [(page.name, words) for page in PAGES for words in _commands(page)]


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


def test_the_first_page_goes_from_an_empty_folder_to_a_bag() -> None:
    told = " ".join(_commands(ROOT / "docs/start-here.md"))
    for verb in ("daybook new", "plates add", "report", "bag"):
        assert verb in told
