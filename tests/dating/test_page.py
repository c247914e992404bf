"""Hold the page on dating to what the program does."""

from __future__ import annotations

import doctest
from pathlib import Path

from wherestood.dating.events import EVENTS


def test_what_the_page_shows_is_what_comes_out(repository: Path) -> None:
    page = repository / "docs" / "dating.md"
    failed, tried = doctest.testfile(
        str(page), module_relative=False, optionflags=doctest.NORMALIZE_WHITESPACE
    )
    assert tried > 0
    assert failed == 0


def test_every_event_stands_on_the_page(repository: Path) -> None:
    page = (repository / "docs" / "dating.md").read_text(encoding="utf-8")
    words = {word for name in EVENTS for word in name.split(", ")}
    assert {word for word in words if word not in page} == set()
