"""Lay out a page of plain words."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from dataclasses import dataclass

__all__ = ["Section", "page_text"]

INDENT = "  "


@dataclass(frozen=True)
class Section:
    """Hold one heading and its sentences."""

    heading: str
    lines: tuple[str, ...]


def page_text(sections: Iterable[Section], width: int | None = None) -> str:
    """Return sections as text, with a blank line between them.

    Parameters
    ----------
    sections : iterable of Section
        The page.
    width : int, optional
        Longest line in characters; sentences then stand indented under their
        headings. Without it nothing is wrapped.
    """
    if width is None:
        return "\n\n".join("\n".join((s.heading, *s.lines)) for s in sections)
    blocks = []
    for section in sections:
        lines = [section.heading]
        for sentence in section.lines:
            lines += textwrap.wrap(
                sentence,
                width,
                initial_indent=INDENT,
                subsequent_indent=INDENT + INDENT,
                break_on_hyphens=False,
            )
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks) + "\n"
