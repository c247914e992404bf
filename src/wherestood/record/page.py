"""Lay out a page of plain words."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from dataclasses import dataclass

__all__ = ["Section", "page_text"]

INDENT = "  "


@dataclass(frozen=True)
class Section:
    """Hold one heading, its sentences and, below them, a table.

    Attributes
    ----------
    heading : str
    lines : tuple of str
    table : tuple of tuple of str
        Rows of as many words each, the first of them the columns' names.
    """

    heading: str
    lines: tuple[str, ...]
    table: tuple[tuple[str, ...], ...] = ()


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
        return "\n\n".join(
            "\n".join((s.heading, *s.lines, *_rows(s.table))) for s in sections
        )
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
        lines += [INDENT + row for row in _rows(section.table)]
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks) + "\n"


def _rows(table: tuple[tuple[str, ...], ...]) -> list[str]:
    """Return a table's rows as lines, its columns under one another."""
    wide = [max(len(word) for word in column) for column in zip(*table, strict=True)]
    rows = [
        INDENT.join(word.ljust(w) for word, w in zip(row, wide, strict=True)).rstrip()
        for row in table
    ]
    if rows:
        rows.insert(1, INDENT.join("-" * w for w in wide))
    return rows
