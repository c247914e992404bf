"""Keep dates as they were written, beside what they are taken to mean."""

from __future__ import annotations

from sqlalchemy import inspect

from wherestood.dating.written import YEAR_UNTOLD, read_written, years_meant
from wherestood.daybook.tables import Dating, Item

__all__ = ["complete_date"]


def complete_date(item: Item) -> None:
    """Carry a day of the Julian calendar to the Gregorian, and say so in the note.

    What was written becomes the words it was read from, where there are none. A year of
    two digits is kept so, and asked about in the note.

    Parameters
    ----------
    item : Item
        Any; only dates are looked at, and those whose date is new.

    Raises
    ------
    EvidenceError
        If its date is a day that never was, names two calendars, or ends before it
        begins.
    """
    if not isinstance(item, Dating) or not isinstance(item.edtf, str):
        return
    if item.withdrawn or not inspect(item).attrs.edtf.history.has_changes():
        return
    written = read_written(item.edtf)
    if item.words and written.edtf != YEAR_UNTOLD and years_meant(item.words):
        # The year is told now: what was asked about it goes.
        for asked in read_written(item.words).notes:
            item.note = (item.note or "").replace(asked, "").strip() or None
    if written.edtf == item.edtf and not written.notes:
        return
    item.words = item.words or written.words
    item.note = " ".join(filter(None, (item.note, *written.notes)))
    item.edtf = written.edtf
