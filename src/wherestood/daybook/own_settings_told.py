"""Tell in words what a daybook notes of its own journal: merges, and new seals."""

from __future__ import annotations

from wherestood.daybook.counted import counted
from wherestood.daybook.tables import JournalRow

__all__ = ["merged_in_words", "resealed_in_words"]


def merged_in_words(row: JournalRow) -> str:
    """Return what a row says that counts a merge."""
    acts = ((row.after or {}).get("value") or {}).get("acts_of_last", 0)
    return (
        f"Merged another copy: {counted(acts, 'act')} of theirs came, told above by "
        "their own times."
    )


def resealed_in_words(row: JournalRow) -> str:
    """Return what a row says that tells of a journal sealed anew."""
    told = (row.after or {}).get("value") or {}
    return (
        f"Took words out of {counted(told.get('emptied', 0), 'row')} of the journal, "
        f"and sealed it anew from row {told.get('sealed_anew_from', 1)} on."
    )
