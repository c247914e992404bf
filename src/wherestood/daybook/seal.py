"""Seal the journal's rows in a chain, so that a row that was changed is found.

Each row's seal is a checksum of what it says and of the seal of the row before it.
Whoever changes a row by another program, and its table with it, breaks the chain
there; so does who takes a row out or puts one in. Who writes all seals anew leaves a
chain that holds, but ends in another seal: a bag tells its last one, and a person may
note it elsewhere.

What came from another copy is sealed anew, as it follows other rows here; the seals
that it had there stay with it and prove it too. Where content is withdrawn its rows
lose words, and all from the first of these on are sealed anew: that is told by a row
of its own. Old seals are not kept then, since from one words could be guessed.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, bindparam, func, select, update
from sqlalchemy.orm import Session

from wherestood.daybook.tables import JournalRow, Setting

__all__ = [
    "SEALS", "broken_seals", "last_seal", "note_resealing", "resealed_from", "seal_of",
    "sealed",
]  # fmt: skip

#: The setting that tells what was sealed anew; it stays with its copy.
SEALS = "seals"
#: What a seal speaks for, in this order.
_SEALED = (
    "uid", "act", "time", "person", "action", "table_name", "item_id", "plate_id",
    "before", "after", "why", "undoes",
)  # fmt: skip
_AT_ONCE = 1000  # rows held in memory at a time
_NAMED = 20  # rows that are named one by one


def seal_of(previous: str, row: Mapping[str, Any]) -> str:
    """Return the seal of a row of the journal.

    Parameters
    ----------
    previous : str
        The seal of the row before it; empty for the first.
    row : mapping
        Its columns.

    Returns
    -------
    str
        SHA-256 (FIPS 180-4), 64 hexadecimal digits.
    """
    said = json.dumps([row[name] for name in _SEALED], ensure_ascii=False)
    text = f"{previous}\n{said}"
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def sealed(connection: Connection, rows: Sequence[dict[str, Any]]) -> None:
    """Seal rows that are to follow the journal's last; change them in place."""
    seal = last_seal(connection)
    for row in rows:
        seal = row["seal"] = seal_of(seal, row)


def last_seal(connection: Connection) -> str:
    """Return the seal of the journal's last row; empty where it has none."""
    last = select(JournalRow.seal).order_by(JournalRow.number.desc()).limit(1)
    return connection.scalar(last) or ""


def broken_seals(session: Session) -> Iterator[str]:
    """Say of each row that it is not as it was sealed, in a sentence."""
    previous = ""
    broken = 0
    for row in _rows(session.connection(), 0):
        here = row["seal"] == seal_of(previous, row)
        there = all(
            seal == seal_of(b, row) for b, seal in row["sealed_elsewhere"] or ()
        )
        if not (here and there):
            broken += 1
            if broken <= _NAMED:
                yield (
                    f"Row {row['number']} of the journal ({row['time'][:19]}, "
                    f"{row['person']}, act {row['act'][:8]}) is not as it was sealed: "
                    "it was changed, or one before it taken out or put in, by another "
                    "program."
                )
        previous = row["seal"] or ""
    if broken > _NAMED:
        yield f"So are {broken - _NAMED} more rows of the journal."


def resealed_from(connection: Connection, number: int) -> None:
    """Seal all rows of the journal anew from one on."""
    before = select(JournalRow.seal).where(JournalRow.number < number)
    last = before.order_by(JournalRow.number.desc()).limit(1)
    seal = connection.scalar(last) or ""
    change = (
        update(JournalRow)
        .where(JournalRow.number == bindparam("of"))
        .values(seal=bindparam("anew"))
    )
    anew: list[dict[str, Any]] = []
    for row in _rows(connection, number):
        seal = seal_of(seal, row)
        if row["seal"] != seal:
            anew.append({"of": row["number"], "anew": seal})
    for start in range(0, len(anew), _AT_ONCE):
        connection.execute(change, anew[start : start + _AT_ONCE])


def note_resealing(session: Session, first: int, emptied: int) -> None:
    """Tell by a row of the journal that rows lost words, and were sealed anew.

    Parameters
    ----------
    session : Session
        That withdraws.
    first, emptied : int
        The first row that lost words, and how many did.
    """
    found = session.scalars(select(Setting).where(Setting.key == SEALS)).first()
    setting = found or Setting(key=SEALS)
    last = session.scalar(select(func.max(JournalRow.number))) or 0
    setting.value = {"emptied": emptied, "sealed_anew_from": first, "to": last + 1}
    session.add(setting)
    session.flush()


def _rows(connection: Connection, first: int) -> Iterator[Mapping[str, Any]]:
    """Give the rows of the journal from a number on, in their order."""
    journal = JournalRow.__table__
    while True:
        chosen = select(journal).where(journal.c.number >= first)
        some = chosen.order_by(journal.c.number).limit(_AT_ONCE)
        rows = [dict(row) for row in connection.execute(some).mappings()]
        yield from rows
        if len(rows) < _AT_ONCE:
            return
        first = rows[-1]["number"] + 1
