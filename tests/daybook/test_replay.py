"""Check that the journal alone gives the tables, whatever was done."""

from __future__ import annotations

import shutil
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    consumes,
    invariant,
    rule,
)
from sqlalchemy import func, select

from wherestood.daybook import Daybook
from wherestood.daybook.replay import disagreements, rebuild_into, table_rows
from wherestood.daybook.tables import (
    ITEMS,
    Detail,
    Feature,
    Informant,
    Item,
    JournalRow,
    Lead,
    Mark,
    Note,
    Plate,
    Scan,
    Statement,
    Words,
)
from wherestood.daybook.undo import redo, undo
from wherestood.daybook.withdraw import withdraw
from wherestood.errors import InputError

#: Words as people write them: any letters, no control characters.
WORDS = st.text(st.characters(exclude_categories=("Cc", "Cs")), max_size=12)
NUMBERS = st.floats(allow_nan=False, allow_infinity=False, width=64)
RECORDS = st.dictionaries(
    WORDS, st.one_of(WORDS, NUMBERS, st.lists(NUMBERS, max_size=2)), max_size=3
)
DEGREES = st.floats(-80, 80)


def content(daybook: Daybook) -> dict[str, dict[str, dict[str, Any]]]:
    with daybook.engine.connect() as connection:
        return {name: dict(table_rows(connection, name)) for name in ITEMS}


class AnyWork(RuleBasedStateMachine):
    """Do what people do, in any order."""

    ids = Bundle("ids")
    people = Bundle("people")

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp())
        self.daybook = Daybook.create(self.folder / "daybook")
        with self.daybook.writing("Ada") as session:
            plate = Plate(key="1987.12")
            session.add(plate)
        self.plate = plate.id
        self.gone: list[str] = []

    def teardown(self) -> None:
        with Daybook.create(self.folder / "again") as again:
            rebuild_into(self.daybook, again)
            assert content(again) == content(self.daybook)
        self.daybook.close()
        files = [path for path in self.folder.rglob("*") if path.is_file()]
        held = b"".join(path.read_bytes() for path in files)
        assert [word for word in self.gone if word.encode() in held] == []
        shutil.rmtree(self.folder)

    def _add(self, *items: Item) -> tuple[type[Item], str]:
        with self.daybook.writing("Ada", "new") as session:
            session.add_all(items)
        return type(items[0]), items[0].id

    @rule(target=ids, title=WORDS, catalogue=RECORDS)
    def add_plate(self, title: str, catalogue: dict[str, Any]) -> Any:
        return self._add(Plate(title=title, catalogue=catalogue))

    @rule(target=ids, what=WORDS, lon=DEGREES, lat=DEGREES)
    def add_feature_and_details(self, what: str, lon: float, lat: float) -> Any:
        point = {"type": "Point", "coordinates": [lon, lat]}
        return self._add(
            Feature(what=what, geometry=point),
            Detail(plate_id=self.plate, what=what),
            Detail(plate_id=self.plate),
        )

    @rule(
        target=ids, points=st.lists(st.tuples(NUMBERS, NUMBERS), min_size=1, max_size=3)
    )
    def add_mark(self, points: list[tuple[float, float]]) -> Any:
        drawn = [list(point) for point in points]
        return self._add(Mark(plate_id=self.plate, shape="point", points_px=drawn))

    @rule(target=people, number=st.integers(0, 10**9), changed=st.booleans())
    def listen(self, number: int, changed: bool) -> str:
        """Keep what somebody says, quote it in a note, and perhaps correct it."""
        said = f"It was Qualm{number}stein below the ford"
        note = Note(about_table="plates", about_id=self.plate, words=f"she: {said}!")
        told = Informant(name=f"Quex{number}worth", said=said)
        self._add(told, note, Statement(words=said, informant_id=told.id))
        if changed:
            with self.daybook.writing("Ben", f"as Quex{number}worth wrote") as session:
                session.get_one(Informant, told.id).said = "It was by the upper ford"
        return f"{told.id} {number}"

    @rule(one=consumes(people))
    def withdraw_what_they_said(self, one: str) -> None:
        informant, number = one.split()
        withdraw(self.daybook, Informant, informant, person="Ada", everywhere=True)
        self.gone += [f"Qualm{number}stein", f"Quex{number}worth"]

    @rule(one=ids, words=WORDS, flag=st.booleans())
    def change(self, one: tuple[type[Item], str], words: str, flag: bool) -> None:
        with self.daybook.writing("Ben", words) as session:
            item: Any = session.get(one[0], one[1])
            if not item.withdrawn:
                item.removed = flag
                item.note = words

    @rule()
    def undo(self) -> None:
        with suppress(InputError):  # nothing left, changed since, or withdrawn
            undo(self.daybook, "Cora")

    @rule()
    def redo(self) -> None:
        with suppress(InputError):
            redo(self.daybook, "Cora")

    @rule(words=WORDS)
    def fail(self, words: str) -> None:
        before = content(self.daybook)
        with pytest.raises(InputError, match="no such state"):
            self._add(Plate(title=words), Lead(what="x", state="no such state"))
        assert content(self.daybook) == before

    @rule(one=consumes(ids))
    def withdraw(self, one: tuple[type[Item], str]) -> None:
        withdraw(self.daybook, one[0], one[1], person="Ada", why="asked to")

    @invariant()
    def journal_and_tables_agree(self) -> None:
        with self.daybook.reading() as session:
            assert disagreements(session) == []


TestAnyWork = AnyWork.TestCase
TestAnyWork.settings = settings(
    max_examples=6,
    stateful_step_count=30,
    deadline=None,
    phases=(Phase.explicit, Phase.generate),  # a failing history is short as it is
    suppress_health_check=[HealthCheck.too_slow],
)


def _worked_in(daybook: Daybook) -> None:
    with daybook.writing("Ada") as session:
        plate = Plate(title="Die Mühle", catalogue={"b": 1.0000000000000002, "a": [1]})
        session.add(plate)
        session.flush()
        first = Scan(plate_id=plate.id, file="originals/a.tif", sha256="0" * 64)
        session.add(first)
        session.flush()
        # A row of the same table that comes first by id refers to a later one.
        second = Scan(
            id="0" * 32, plate_id=plate.id, file="b.tif", sha256="1" * 64,
            registered_to_id=first.id,
        )  # fmt: skip
        session.add(second)
    with daybook.writing("Ben", "wrong copy") as session:
        session.get_one(Scan, second.id).removed = True
    undo(daybook, "Ada")


def test_tables_rebuilt_from_the_journal_are_the_same(new_daybook: Any) -> None:
    first, second = new_daybook(), new_daybook()
    _worked_in(first)
    assert rebuild_into(first, second) == 3
    assert content(second) == content(first)
    with second.reading() as session:
        assert disagreements(session) == []
        assert session.scalar(select(func.count(JournalRow.number))) == 5
        found = session.scalars(select(Words.text).where(Words.text.like("%muhle%")))
        assert len(found.all()) == 1


def test_what_was_changed_behind_the_journal_is_named(daybook: Daybook) -> None:
    _worked_in(daybook)
    with daybook.engine.connect() as connection:
        raw = connection.connection.cursor()
        raw.execute("UPDATE plates SET title = 'forged'")
        connection.connection.commit()
    with daybook.reading() as session:
        (told,) = disagreements(session)
    assert "plate-1" in told
    assert told.endswith(": title.")
