"""Choose, in the database itself, rows in which words may stand.

A daybook grows with the collection; what holds some words does not. So the few rows
that may hold them are chosen by a plain run of letters of each, and only these are
loaded and looked at closely.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Iterable, Iterator, Sequence
from typing import Any

from sqlalchemy import ColumnElement, String, cast, false, or_, select
from sqlalchemy.orm import Session

from wherestood.daybook.redact import is_too_short
from wherestood.daybook.tables import ITEMS, Item

__all__ = ["items_that_may_hold", "may_hold", "plain_runs"]

#: Letters that JSON and TOML write as they are, however they write others.
_PLAIN = re.compile(r"[A-Za-z0-9]+")
#: With more words than these in one question every row is looked at.
_MOST_RUNS = 190
#: SQLite takes expressions up to 1000 deep (https://sqlite.org/limits.html, 4).
_DEEPEST = 800


def plain_runs(words: Iterable[str]) -> list[str] | None:
    """Return a run of plain letters of each text; None where that tells too little.

    Examples
    --------
    >>> plain_runs(["Mühlstein & Co", "ab"])
    ['hlstein']
    """
    runs: set[str] = set()
    for word in words:
        if is_too_short(word):
            continue
        # Letters that bear an accent are written in one or in two: none of these.
        composed = unicodedata.normalize("NFC", word)
        run = max(_PLAIN.findall(composed), key=len, default="")
        if not run:
            return None
        runs.add(run)
    return sorted(runs) if len(runs) <= _MOST_RUNS else None


def may_hold(columns: Sequence[Any], runs: Iterable[str]) -> ColumnElement[bool]:
    """Return the condition that one of some columns holds one of the runs.

    Capitals or not: of plain letters every database knows which belong together.
    """
    texts = [cast(column, String) for column in columns]
    held = (text.icontains(run) for run in runs for text in texts)
    return or_(false(), *held)


def items_that_may_hold(
    session: Session, runs: list[str] | None, but: Collection[str]
) -> Iterator[Item]:
    """Give items in which one of the runs stands, whatever their table.

    Parameters
    ----------
    session : Session
        Of the daybook.
    runs : list of str or None
        As `plain_runs` gives them; every item where None.
    but : collection of str
        Ids of items that are left out.
    """
    for kind in ITEMS.values():
        columns = [
            column for column in kind.__table__.columns if column.info.get("content")
        ]
        if not columns:
            continue
        found: dict[str, Item] = {}
        if runs is None:
            found = {item.id: item for item in session.scalars(select(kind))}
        at_once = max(_DEEPEST // len(columns), 1)
        for start in range(0, len(runs or ()), at_once):
            some = (runs or [])[start : start + at_once]
            chosen = select(kind).where(may_hold(columns, some))
            found |= {item.id: item for item in session.scalars(chosen)}
        yield from (item for item in found.values() if item.id not in but)
