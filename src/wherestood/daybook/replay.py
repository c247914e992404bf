"""Rebuild every table from the journal, and tell where the two disagree."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from sqlalchemy import Connection, Table, insert, select, text
from sqlalchemy.orm import Session

from wherestood.daybook.book import Daybook
from wherestood.daybook.connection import is_sqlite, writing_by_flush
from wherestood.daybook.index_words import words_of
from wherestood.daybook.seal import broken_seals
from wherestood.daybook.tables import ITEMS, Base, JournalRow, Words
from wherestood.errors import DaybookError

__all__ = ["apply_row", "disagreements", "rebuild_into", "replayed", "table_rows"]

Rows = dict[str, dict[str, dict[str, Any]]]
_AT_ONCE = 1000  # rows read or written at a time
_PIECE = 200  # rows compared at a time: one of a fix may be large


def apply_row(
    tables: Rows,
    table: str,
    item_id: str,
    before: dict[str, Any] | None,
    after: dict[str, Any] | None,
) -> None:
    """Make the change that one journal row tells of.

    Parameters
    ----------
    tables : dict
        Rows by id, by the table's name; changed in place.
    table, item_id : str
        What was changed.
    before, after : dict or None
        As the journal has them.

    Raises
    ------
    DaybookError
        If it adds what is there, or changes what is not.
    """
    rows = tables.setdefault(table, {})
    if (before is None) == (item_id in rows):
        was = "added twice" if before is None else "changed before it was added"
        raise DaybookError(f"The journal is wrong: {table} {item_id} was {was}.")
    if before is None:
        rows[item_id] = dict.fromkeys(_table(table).columns.keys())
    rows[item_id].update(after or {})


def replayed(rows: Iterable[JournalRow]) -> Rows:
    """Return every row of every table as the journal tells it, in its order."""
    tables: Rows = {name: {} for name in ITEMS}
    for row in rows:
        apply_row(tables, row.table_name, row.item_id, row.before, row.after)
    return tables


def disagreements(session: Session) -> list[str]:
    """Return where tables and journal disagree, in sentences; empty if nowhere.

    So is a row of the journal that is not as it was sealed. Some rows are held in
    memory at a time.
    """
    found = list(broken_seals(session))
    connection = session.connection()
    for name, kind in ITEMS.items():
        for there in _in_pieces(connection, name):
            told, wrong = _told_of(connection, name, list(there))
            found += wrong
            for item_id, one in there.items():
                if item_id not in told:
                    found.append(
                        f"The {kind.singular} {item_id} is in the table alone."
                    )
                elif one != told[item_id]:
                    other = told[item_id]
                    differ = sorted(key for key in one if one[key] != other.get(key))
                    found.append(
                        f"The {kind.singular} {one.get('key') or item_id} is not as "
                        f"the journal tells: {', '.join(differ)}."
                    )
        found += [
            f"The {kind.singular} {item_id} is in the journal alone."
            for item_id in _in_journal_alone(connection, name)
        ]
    return found


def _in_pieces(
    connection: Connection, name: str
) -> Iterator[dict[str, dict[str, Any]]]:
    """Give the rows of a table by their ids, some at a time."""
    table = _table(name)
    last = ""
    while True:
        chosen = select(table).where(table.c.id > last).order_by(table.c.id)
        rows = connection.execute(chosen.limit(_PIECE)).mappings().all()
        if not rows:
            return
        yield {row["id"]: dict(row) for row in rows}
        last = rows[-1]["id"]


def _told_of(
    connection: Connection, name: str, ids: list[str]
) -> tuple[dict[str, dict[str, Any]], list[str]]:
    """Return rows as the journal tells them, by their ids, and what it has wrong."""
    journal = JournalRow.__table__.c
    wanted = select(journal.item_id, journal.before, journal.after).where(
        journal.item_id.in_(ids), journal.table_name == name
    )
    tables: Rows = {name: {}}
    wrong = []
    for item_id, before, after in connection.execute(wanted.order_by(journal.number)):
        try:
            apply_row(tables, name, item_id, before, after)
        except DaybookError as error:
            wrong.append(error.problem)
    return tables[name], wrong


def _in_journal_alone(connection: Connection, name: str) -> list[str]:
    table, journal = _table(name), JournalRow.__table__.c
    there = select(table.c.id).where(table.c.id == journal.item_id).exists()
    wanted = select(journal.item_id).where(journal.table_name == name, ~there)
    return sorted(set(connection.scalars(wanted)))


def table_rows(
    connection: Connection, name: str
) -> Iterator[tuple[str, dict[str, Any]]]:
    """Give the id and the columns of every row of a table."""
    table = _table(name)
    for row in connection.execute(select(table)).mappings():
        yield row["id"], dict(row)


def rebuild_into(source: Daybook, target: Daybook) -> int:
    """Write tables and journal of one daybook into another, from the journal alone.

    Parameters
    ----------
    source : Daybook
        Only its journal is read.
    target : Daybook
        An empty daybook.

    Returns
    -------
    int
        How many items there are.
    """
    with source.reading() as session:
        journal = [
            {column.name: getattr(row, column.name) for column in _columns()}
            for row in _journal(session)
        ]
    tables: Rows = {name: {} for name in ITEMS}
    for row in journal:
        apply_row(
            tables, row["table_name"], row["item_id"], row["before"], row["after"]
        )
    writer = target.engine.execution_options(wherestood_writes=True)
    with writer.begin() as connection:
        if connection.execute(select(JournalRow.number).limit(1)).first():
            raise DaybookError(
                "The daybook to rebuild into is not empty.", "Choose a new folder."
            )
        writing_by_flush(connection, True)
        _insert(connection, JournalRow.__table__, journal)
        _go_on_counting(connection, len(journal))
        count = 0
        for name in _in_order_of_references():
            rows = list(tables[name].values())
            _insert(connection, _table(name), _referred_first(name, rows))
            index = [words_of(ITEMS[name](**row)) for row in rows]
            _insert(connection, Words.__table__, [row for row in index if row])
            count += len(rows)
        writing_by_flush(connection, False)
    return count


def _journal(session: Session) -> Iterator[JournalRow]:
    chosen = select(JournalRow).order_by(JournalRow.number)
    yield from session.scalars(chosen.execution_options(yield_per=_AT_ONCE))


def _columns() -> Any:
    return JournalRow.__table__.columns


def _table(name: str) -> Table:
    return Base.metadata.tables[name]


def _in_order_of_references() -> list[str]:
    return [table.name for table in Base.metadata.sorted_tables if table.name in ITEMS]


def _referred_first(name: str, rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return rows so that each follows the one of its own table it refers to."""
    links = [
        key.parent.name
        for key in _table(name).foreign_keys
        if key.column.table.name == name
    ]
    if not links:
        return rows
    waiting = {row["id"]: row for row in rows}
    ordered: list[dict[str, Any]] = []

    def place(row: dict[str, Any]) -> None:
        if waiting.pop(row["id"], None) is None:
            return
        for link in links:
            if row[link] in waiting:
                place(waiting[row[link]])
        ordered.append(row)

    for row in rows:
        place(row)
    return ordered


def _go_on_counting(connection: Connection, rows: int) -> None:
    """Let PostgreSQL number the next journal row after those just written."""
    if rows and not is_sqlite(connection):
        last = "(SELECT max(number) FROM journal)"
        connection.execute(
            text(f"SELECT setval(pg_get_serial_sequence('journal', 'number'), {last})")
        )


def _insert(connection: Connection, table: Any, rows: list[dict[str, Any]]) -> None:
    for start in range(0, len(rows), _AT_ONCE):
        connection.execute(insert(table), rows[start : start + _AT_ONCE])
