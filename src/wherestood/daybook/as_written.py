"""Keep dates as they were written, beside what they are taken to mean."""

from __future__ import annotations

import re

from sqlalchemy import inspect

from wherestood.dating.written import COUNTS_NOTHING, YEAR_UNTOLD, read_written
from wherestood.daybook.tables import Dating, Item

__all__ = ["complete_date", "is_untold"]


def complete_date(item: Item) -> None:
    """Carry a day of the Julian calendar to the Gregorian, and say so in the note.

    What was written becomes the words it was read from; where those are told beside it,
    it stands in the note. A year of two digits, a day that never was and a span that
    ends before it begins are kept so, and asked about in the note.

    Parameters
    ----------
    item : Item
        Any; only dates are looked at, and those whose date is new.

    Raises
    ------
    EvidenceError
        If its date is none, or names two calendars.
    """
    if not isinstance(item, Dating) or not isinstance(item.edtf, str):
        return
    if item.withdrawn or not inspect(item).attrs.edtf.history.has_changes():
        return
    written = read_written(item.edtf)
    if item.note and COUNTS_NOTHING in item.note and written.edtf != YEAR_UNTOLD:
        # It is told now: what was asked about it goes.
        asked = read_written(_asked_about(item)).notes
        for one in asked:
            item.note = (item.note or "").replace(one, "").strip() or None
    if written.edtf == item.edtf and not written.notes:
        return
    notes = list(written.notes)
    if item.words and item.words != written.words:
        notes.insert(0, _WRITTEN.format(written.words))
    item.words = item.words or written.words
    item.note = " ".join(filter(None, (item.note, *notes)))
    item.edtf = written.edtf


def is_untold(item: Item) -> bool:
    """Return whether it is a date of which somebody must still tell what is meant."""
    if not isinstance(item, Dating) or item.edtf != YEAR_UNTOLD:
        return False
    return bool(item.words) and COUNTS_NOTHING in (item.note or "")


_WRITTEN = "Its date was written “{}”."


def _asked_about(item: Dating) -> str:
    """Return the date as written that was asked about."""
    found = re.search(_WRITTEN.format("(.*?)"), item.note or "")
    return found[1] if found else item.words or ""
