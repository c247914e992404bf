"""Read a fix's page of words back into its sections."""

from __future__ import annotations

import re
from itertools import pairwise

from wherestood.record.page import INDENT, Section

__all__ = ["read_words"]

_RULE = re.compile(r"^\s*-+(\s+-+)*\s*$")


def read_words(text: str) -> tuple[Section, ...]:
    """Return the sections of a page that `wherestood.record.page.page_text` made.

    Parameters
    ----------
    text : str
        Wrapped, as ``words.txt`` is, or not, as a daybook keeps it.
    """
    read = (
        _section(block.splitlines())
        for block in re.split(r"\n\s*\n", text.strip("\n"))
        if block.strip()
    )
    # The head of words.txt names plate and version, which a report tells by itself.
    return tuple(one for one in read if not "".join(one.lines).startswith("Written "))


def _section(rows: list[str]) -> Section:
    heading, *rest = rows
    rule = next((i for i, row in enumerate(rest) if _RULE.match(row) and i > 0), None)
    if rule is None:
        return Section(heading.strip(), tuple(_sentences(rest)))
    lines = tuple(_sentences(rest[: rule - 1]))
    return Section(heading.strip(), lines, _table(rest[rule - 1 :]))


def _sentences(rows: list[str]) -> list[str]:
    """Join the lines of each sentence; those that go on stand indented twice."""
    found: list[str] = []
    for row in rows:
        if found and row.startswith(INDENT + INDENT):
            found[-1] = f"{found[-1]} {row.strip()}"
        else:
            found.append(row.strip())
    return found


def _table(rows: list[str]) -> tuple[tuple[str, ...], ...]:
    """Cut rows into columns where the rule under the head has its gaps."""
    starts = [found.start() for found in re.finditer(r"-+", rows[1])]
    edges = [*starts, None]
    cut = [
        tuple(row[left:right].strip() for left, right in pairwise(edges))
        for row in (rows[0], *rows[2:])
    ]
    return tuple(cut)
