"""Run what docs/conventions.md shows, and hold it to the program."""

from __future__ import annotations

import doctest
from pathlib import Path


def test_every_example_in_the_conventions_holds(repository: Path) -> None:
    page = repository / "docs" / "conventions.md"
    failed, attempted = doctest.testfile(
        str(page), module_relative=False, optionflags=doctest.ELLIPSIS
    )
    assert attempted > 0
    assert failed == 0
