"""Store a daybook: everything judged, and who judged it, when and why.

A daybook is a folder (`wherestood.daybook.book.Daybook`) with a database, originals,
terrain and outputs. All that is judged is an *item*, a row of one of the tables in
`wherestood.daybook.tables`.

**To add or change an item, add or change the object; the journal follows by itself**::

    from wherestood.daybook import Daybook
    from wherestood.daybook.tables import Lead, Plate

    with Daybook.create("my-valley") as daybook:
        with daybook.writing("Ada Moss", "from the museum's register") as session:
            plate = Plate(key="1987.12", title="The mill")
            session.add(plate)
            session.flush()  # now plate.id may be referred to
            session.add(
                Lead(what="rate book of 1871", state="to do", plate_id=plate.id)
            )
        with daybook.writing("Ada Moss", "misread") as session:
            find(session, Plate, "1987.12").title = "The old mill"

Most of what a person does is a function already, one act each, with person and why:

========================== =========================================================
add, change, set aside,    `wherestood.daybook.change_items`, for items of every
bring back                 table: details, marks, features, statements, leads,
                           decisions and the rest; `withdraw.withdraw` for good
add a scan                 `wherestood.daybook.originals.take_in`
lay scans over one another `wherestood.daybook.copies.register_copies`
take evidence in           `wherestood.daybook.take_evidence.take_evidence`
ask for a fix, keep it     `wherestood.daybook.ask_fix`
undo, redo                 `wherestood.daybook.undo`
list, filter, search       `wherestood.daybook.choose.page`
read the diary             `wherestood.daybook.history.history`
hand over                  `wherestood.daybook.handover`, `wherestood.daybook.public`
========================== =========================================================

What is done in one ``writing`` is one *act*: all of it happens at the end or none of
it, its journal rows share ``act``, and it is undone together. What to keep in mind:

- The journal is written by session events (`wherestood.daybook.journal`), whatever
  wrote. What would go round it is refused: SQL that changes rows, ``session.execute``
  of an update, ``session.delete``. Nothing is deleted: set ``item.removed = True``.
- Lists and records (JSON columns) are replaced whole, not changed in place, for such a
  change is not noticed.
- Keys may be left out; the daybook gives ``lead-3``, or a letter to a detail. What is
  on a plate is addressed ``1987.12/A`` (`wherestood.daybook.keys.find`).
- Values are checked as they are written (`wherestood.daybook.check_items`); an error
  names the item.
- Fixes, decisions and inputs of fixes are kept as they were added.
- Files belong under ``daybook.folder``; columns name them relative to it, with
  slashes. Put the file there first, under its final name, then write the row.
- A new table or column is a new file in ``migrations/versions``, and its class goes
  into `wherestood.daybook.tables.ITEMS`; the rest follows.
"""

from __future__ import annotations

from wherestood.daybook.book import Daybook
from wherestood.daybook.keys import address_of, find

__all__ = ["Daybook", "address_of", "find"]
