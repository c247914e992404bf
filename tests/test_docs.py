"""Hold the pages for practitioners to what the program does."""

from __future__ import annotations

import ast
import re
from pathlib import Path
from typing import Any

import click
import pytest
import typer

import wherestood
from wherestood.cli.app import app
from wherestood.cli.exits import EXIT_CODES
from wherestood.cli.listed import LISTED
from wherestood.fix.settings import Footing, Process
from wherestood.notebook import OUTPUTS

OPTION = re.compile(r"--[a-z][a-z-]+")


@pytest.fixture(scope="module")
def page(repository: Path) -> str:
    return (repository / "docs" / "command-line.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def readme(repository: Path) -> str:
    return (repository / "README.md").read_text(encoding="utf-8")


def _options() -> dict[str, set[str]]:
    """Return the options of each command."""
    group: Any = typer.main.get_command(app)
    context = click.Context(group)
    made = {name: group.get_command(context, name) for name in LISTED}
    commands = {"": group, **made}
    return {
        name: {
            option
            for parameter in command.params
            for option in (*parameter.opts, *parameter.secondary_opts)
            if option.startswith("--")
        }
        for name, command in commands.items()
    }


def _options_of_all(group: Any) -> set[str]:
    """Return the options of a group and of all commands in it, however deep."""
    found = {
        option
        for parameter in group.params
        for option in (*parameter.opts, *parameter.secondary_opts)
    }
    if hasattr(group, "list_commands"):
        context = click.Context(group)
        for name in group.list_commands(context):
            found |= _options_of_all(group.get_command(context, name))
    return found


def test_every_option_stands_in_its_section(page: str) -> None:
    sections = {
        part.split("\n", 1)[0].removeprefix("wherestood ").strip(): part
        for part in page.split("\n## ")[1:]
    }
    for command, options in _options().items():
        text = sections[command] if command else page
        missing = options - {"--help"} - set(OPTION.findall(text))
        assert missing == set(), command


@pytest.mark.parametrize("name", ["README.md", "docs/command-line.md"])
def test_no_page_names_an_option_that_is_gone(repository: Path, name: str) -> None:
    known = _options_of_all(typer.main.get_command(app)) | {"--help"}
    text = (repository / name).read_text(encoding="utf-8")
    assert set(OPTION.findall(text)) - known == set()


def test_exit_codes_on_the_page_are_the_program_s(page: str) -> None:
    rows = re.findall(r"^\| (\d+) \|.*\| `(\w+)` \|$", page, re.MULTILINE)
    assert {name: int(code) for code, name in rows} == {
        kind.__name__: code for kind, code in EXIT_CODES.items()
    }


def test_page_names_every_file_footing_and_process(page: str) -> None:
    from typing import get_args

    for word in (*OUTPUTS, *get_args(Footing), *get_args(Process)):
        assert f"`{word}`" in page, word


def test_readme_names_no_attribute_that_is_not_there(readme: str) -> None:
    blocks = re.findall(r"```python\n(.*?)```", readme, re.DOTALL)
    assert blocks
    for block in blocks:
        tree = ast.parse(block)
        for node in ast.walk(tree):
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
                if node.value.id == "ws":
                    assert hasattr(wherestood, node.attr), node.attr
                if node.value.id == "fix":
                    assert hasattr(wherestood.LocatedPlate, node.attr), node.attr


def test_readme_begins_with_the_job_in_one_paragraph(readme: str) -> None:
    paragraphs = readme.split("\n\n")
    assert paragraphs[0] == "# wherestood"
    assert len(paragraphs[1].split()) > 40
