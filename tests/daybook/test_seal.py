"""Check that a journal's row that was changed by another program is found.

People and plates are invented.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import select

from wherestood.daybook import Daybook, find
from wherestood.daybook.handover import merge
from wherestood.daybook.history import history
from wherestood.daybook.originals import verify
from wherestood.daybook.replay import disagreements
from wherestood.daybook.seal import seal_of
from wherestood.daybook.tables import Informant, JournalRow, Plate
from wherestood.daybook.withdraw import withdraw


@pytest.fixture
def book(empty_daybook: Path, tmp_path: Path) -> Iterator[Daybook]:
    """Return a daybook of four acts."""
    shutil.copytree(empty_daybook, tmp_path / "book")
    with Daybook.open(tmp_path / "book") as made:
        for number in range(3):
            add(made, f"P{number}", f"Mill {number}")
        with made.writing("Ada") as session:
            session.add(Informant(name="Philomena Quexworth"))
        yield made


def add(book: Daybook, key: str, title: str) -> None:
    with book.writing("Ada", f"why {key}") as session:
        session.add(Plate(key=key, title=title))


def by_another_program(book: Daybook, *statements: str) -> None:
    """Change the database as somebody would who knows of journal and tables."""
    raw = sqlite3.connect(book.folder / "daybook.sqlite")
    for statement in statements:
        raw.execute(statement)
    raw.commit()
    raw.close()


def wrong_in(book: Daybook) -> list[str]:
    with book.reading() as session:
        return disagreements(session)


def test_a_seal_is_a_checksum_of_the_row_and_of_the_seal_before_it() -> None:
    row = dict.fromkeys(JournalRow.__table__.c.keys(), "x") | {"before": None}
    said = '["x", "x", "x", "x", "x", "x", "x", "x", null, "x", "x", "x"]'
    assert seal_of("ab", row) == hashlib.sha256(f"ab\n{said}".encode()).hexdigest()


@pytest.mark.parametrize(
    ("statements", "named"),
    [
        (
            [
                "UPDATE plates SET title = 'Forged' WHERE key = 'P1'",
                "UPDATE journal SET after = json_set(after, '$.title', 'Forged') "
                "WHERE number = 2",
            ],
            ["Row 2 of the journal"],
        ),
        (["UPDATE journal SET person = 'Ben' WHERE number = 3"], ["Row 3"]),
        (["UPDATE journal SET time = '1999-01-01' WHERE number = 1"], ["Row 1"]),
        (
            [
                "DELETE FROM journal WHERE number = 2",
                "DELETE FROM words WHERE item_id = "
                "(SELECT id FROM plates WHERE key = 'P1')",
                "DELETE FROM plates WHERE key = 'P1'",
            ],
            ["Row 3"],
        ),
    ],
)
def test_a_row_changed_together_with_its_table_is_found(
    book: Daybook, statements: list[str], named: list[str]
) -> None:
    assert wrong_in(book) == []
    by_another_program(book, *statements)
    told = wrong_in(book)
    assert len(told) == len(named)
    for sentence, name in zip(told, named, strict=True):
        assert sentence.startswith(name)
    assert {one.trouble for one in verify(book)} - {"words"} == {"journal"}


def test_a_withdrawal_seals_anew_what_it_empties_and_says_so(book: Daybook) -> None:
    add(book, "P9", "afterwards")
    with book.reading() as session:
        who = find(session, Informant, "informant-1").id
        before = dict(session.execute(select(JournalRow.number, JournalRow.seal)).all())
    withdraw(book, Informant, who, person="Ada")
    assert wrong_in(book) == []
    with book.reading() as session:
        after = dict(session.execute(select(JournalRow.number, JournalRow.seal)).all())
        told = [line for entry in history(session) for line in entry.sentences]
    assert [n for n, seal in before.items() if after[n] == seal] == [1, 2, 3]
    assert (
        "Took words out of 1 row of the journal, and sealed it anew from row 4 on."
        in told
    )


def test_merging_keeps_the_seals_of_both_and_hides_no_forgery(
    book: Daybook, tmp_path: Path
) -> None:
    shutil.copytree(book.folder, tmp_path / "theirs")
    add(book, "ours", "The mill")
    with Daybook.open(tmp_path / "theirs") as theirs:
        add(theirs, "theirs", "The weir")
        with theirs.reading() as session:
            there = session.scalars(select(JournalRow.seal)).all()
        merge(book, theirs, "Ada")
        assert wrong_in(book) == []
        with book.reading() as session:
            kept = session.scalars(select(JournalRow.sealed_elsewhere)).all()
        assert [one for one in kept if one] == [[[there[-2], there[-1]]]]
        by_another_program(
            theirs,
            "UPDATE plates SET title = 'Forged' WHERE key = 'P1'",
            "UPDATE journal SET after = json_set(after, '$.title', 'Forged') "
            "WHERE number = 2",
        )
        add(theirs, "later", "The gate")
        by_another_program(
            theirs,
            "UPDATE plates SET title = 'Forged' WHERE key = 'later'",
            "UPDATE journal SET after = json_set(after, '$.title', 'Forged') "
            "WHERE number = (SELECT max(number) FROM journal)",
        )
        merge(book, theirs, "Ada")
        (told,) = wrong_in(book)
        assert "is not as it was sealed" in told
        merge(theirs, book, "Ben")
        assert all("as it was sealed" in one for one in wrong_in(theirs))


def test_a_row_that_is_written_again_is_found_whoever_wrote_it(book: Daybook) -> None:
    with book.reading() as session:
        rows = [
            {c.name: getattr(row, c.name) for c in JournalRow.__table__.c}
            for row in session.scalars(select(JournalRow).order_by(JournalRow.number))
        ]
    seal = ""
    for row in rows:
        seal = seal_of(seal, json.loads(json.dumps(row)))
        assert row["seal"] == seal
