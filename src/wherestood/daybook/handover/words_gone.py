"""Tell which words one copy took out that the other still holds.

Words that were withdrawn stand nowhere in the copy that withdrew them. But rows of the
journal that both copies have, and that differ by a stub alone, show what stood in its
place: nothing else changes such a row.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from wherestood.daybook.handover.diverged import Side
from wherestood.daybook.redact import STUB, is_too_short

__all__ = ["words_gone"]

_SAID = ("before", "after", "why", "person")


def words_gone(whole: Side, emptied: Side) -> set[str]:
    """Return words that one copy holds where the other, which withdrew them, has stubs.

    Parameters
    ----------
    whole, emptied : Side
        Both copies. What fell as an item, its text as a whole, is not looked at: that
        is told by the item itself.
    """
    stubs = {item_id for _, item_id in emptied.withdrawn()}
    found: set[str] = set()
    rows = {row["uid"]: row for row in whole.journal}
    for row in emptied.journal:
        other = rows.get(row["uid"])
        if other is not None:
            named = [n for n in _SAID if row["item_id"] not in stubs or n in _SAID[2:]]
            for name in named:
                found.update(_lost(other[name], row[name]))
    return {word for word in found if not is_too_short(word) and STUB not in word}


def _lost(whole: Any, emptied: Any) -> Iterator[str]:
    """Give what stands in a value where another has a stub."""
    if whole == emptied:
        return
    if isinstance(whole, str) and isinstance(emptied, str):
        if STUB in emptied and emptied.strip() != STUB:
            parts = (re.escape(part) for part in emptied.split(STUB))
            if match := re.fullmatch("(.+?)".join(parts), whole, re.S):
                yield from match.groups()
    elif isinstance(whole, dict) and isinstance(emptied, dict):
        for name in whole.keys() & emptied.keys():
            yield from _lost(whole[name], emptied[name])
    elif isinstance(whole, list) and isinstance(emptied, list):
        for one, other in zip(whole, emptied, strict=False):
            yield from _lost(one, other)
