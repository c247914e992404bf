"""Find where the index of words is not as the items are, and write it anew there."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import delete, insert, select
from sqlalchemy.orm import Session

from wherestood.daybook.book import Daybook
from wherestood.daybook.connection import lock_for_writing, writing_by_flush
from wherestood.daybook.index_words import words_of
from wherestood.daybook.tables import ITEMS, Words
from wherestood.errors import DaybookError

__all__ = ["mend_words", "words_astray"]

_AT_ONCE = 100  # rows read or written at a time


def words_astray(session: Session) -> Iterator[str]:
    """Give the ids of items whose words are missing in the index, or are not theirs."""
    for name, kind in ITEMS.items():
        last = ""
        while items := session.scalars(
            select(kind).where(kind.id > last).order_by(kind.id).limit(_AT_ONCE)
        ).all():
            wanted = select(Words.item_id, Words.table_name, Words.plate_id, Words.text)
            ids = [item.id for item in items]
            rows = session.execute(wanted.where(Words.item_id.in_(ids)))
            written = {item_id: tuple(told) for item_id, *told in rows}
            for item in items:
                row = words_of(item)
                told = (name, row["plate_id"], row["text"]) if row else None
                if written.get(item.id) != told:
                    yield item.id
            last = items[-1].id
        there = select(kind.id).where(kind.id == Words.item_id).exists()
        yield from session.scalars(
            select(Words.item_id).where(Words.table_name == name, ~there)
        )


def mend_words(daybook: Daybook) -> int:
    """Write the words of items anew where the index is wrong; return of how many.

    The index is made from the items, so that no person's work is changed.

    Raises
    ------
    DaybookError
        If the daybook cannot be written.
    """
    if daybook.read_only:
        raise DaybookError(
            f"The folder {str(daybook.folder)!r} cannot be written.",
            "Ask for leave to write there, or copy the folder.",
        )
    writer = daybook.engine.execution_options(wherestood_writes=True)
    with Session(writer) as session, session.begin():
        connection = session.connection()
        lock_for_writing(connection)
        astray = list(words_astray(session))
        writing_by_flush(connection, True)
        for start in range(0, len(astray), _AT_ONCE):
            some = astray[start : start + _AT_ONCE]
            connection.execute(delete(Words).where(Words.item_id.in_(some)))
            rows = [
                row
                for kind in ITEMS.values()
                for item in session.scalars(select(kind).where(kind.id.in_(some)))
                if (row := words_of(item))
            ]
            if rows:
                connection.execute(insert(Words), rows)
        writing_by_flush(connection, False)
    return len(astray)
