"""Check that two people's copies of one daybook become one, and nothing is dropped."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from sqlalchemy import select

from wherestood.daybook import Daybook, find
from wherestood.daybook.handover import merge
from wherestood.daybook.originals import take_in, verify
from wherestood.daybook.replay import disagreements, rebuild_into, table_rows
from wherestood.daybook.tables import (
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
)
from wherestood.daybook.withdraw import withdraw
from wherestood.errors import DaybookError, InputError

NewDaybook = Callable[[], Daybook]


def scan(path: Path, seed: int) -> Path:
    tones = np.random.default_rng(seed).integers(0, 255, (12, 16), dtype=np.uint8)
    Image.fromarray(tones).resize((64, 48)).save(path)
    return path


@pytest.fixture
def copies(new_daybook: NewDaybook) -> tuple[Daybook, Daybook]:
    """Return two copies of a daybook with one plate, one lead and one informant."""
    ours = new_daybook()
    with ours.writing("Ada") as session:
        plate = Plate(key="1987.12", title="The mill", place_words="Oxbow")
        session.add(plate)
        session.flush()
        session.add(Lead(what="rate book", state="to do", plate_id=plate.id))
        session.add(Informant(name="Cora Ling", said="by the ford"))
    theirs = new_daybook()
    rebuild_into(ours, theirs)
    return ours, theirs


def change(
    daybook: Daybook, person: str, kind: type[Item], key: str, **to: object
) -> None:
    with daybook.writing(person) as session:
        item = find(session, kind, key)
        for name, value in to.items():
            setattr(item, name, value)


def value(daybook: Daybook, kind: type[Item], key: str, column: str) -> object:
    with daybook.reading() as session:
        return getattr(find(session, kind, key), column)


def is_sound(daybook: Daybook) -> None:
    assert verify(daybook) == []
    with daybook.reading() as session:
        assert disagreements(session) == []


def test_what_one_side_did_is_taken_and_told_as_theirs(
    copies: tuple[Daybook, Daybook],
) -> None:
    ours, theirs = copies
    change(ours, "Ada", Plate, "1987.12", title="The old mill")
    change(theirs, "Ben", Plate, "1987.12", place_words="Oxbow ford")
    change(theirs, "Ben", Lead, "lead-1", state="nothing found", outcome="all of it")
    merged = merge(ours, theirs, "Ada")
    assert merged.conflicts == ()
    assert (merged.added, merged.changed, merged.acts) == (0, 2, 2)
    assert value(ours, Plate, "1987.12", "title") == "The old mill"
    assert value(ours, Plate, "1987.12", "place_words") == "Oxbow ford"
    assert value(ours, Lead, "lead-1", "state") == "nothing found"
    with ours.reading() as session:
        people = session.scalars(select(JournalRow.person)).all()
        assert people.count("Ben") == 2
    is_sound(ours)


def test_what_both_changed_is_kept_as_ours_listed_and_noted(
    copies: tuple[Daybook, Daybook],
) -> None:
    ours, theirs = copies
    change(ours, "Ada", Plate, "1987.12", title="The old mill")
    change(theirs, "Ben", Plate, "1987.12", title="Fell's mill")
    merged = merge(ours, theirs, "Ada")
    (conflict,) = merged.conflicts
    assert (conflict.called, conflict.column) == ("1987.12", "title")
    assert (conflict.ours, conflict.theirs) == ("The old mill", "Fell's mill")
    assert value(ours, Plate, "1987.12", "title") == "The old mill"
    with ours.reading() as session:
        (note,) = session.scalars(select(Note))
        assert "Fell's mill" in note.words
    is_sound(ours)


def test_the_same_change_on_both_sides_is_no_conflict(
    copies: tuple[Daybook, Daybook],
) -> None:
    ours, theirs = copies
    for person, copy in zip(("Ada", "Ben"), copies, strict=True):
        change(copy, person, Plate, "1987.12", title="The old mill")
    assert merge(ours, theirs, "Ada").conflicts == ()
    is_sound(ours)


@pytest.mark.parametrize("sides", [(0, 1), (1, 0)])
def test_what_one_set_aside_and_the_other_worked_on_stays_and_is_listed(
    copies: tuple[Daybook, Daybook], sides: tuple[int, int]
) -> None:
    change(copies[sides[0]], "Ada", Lead, "lead-1", removed=True)
    change(copies[sides[1]], "Ben", Lead, "lead-1", outcome="found it")
    merged = merge(*copies, "Ada")
    assert [conflict.column for conflict in merged.conflicts] == ["removed"]
    assert value(copies[0], Lead, "lead-1", "removed") is False
    assert value(copies[0], Lead, "lead-1", "outcome") == "found it"
    is_sound(copies[0])


def test_both_copies_agree_when_each_takes_the_other_in(
    copies: tuple[Daybook, Daybook],
) -> None:
    ours, theirs = copies
    change(ours, "Ada", Plate, "1987.12", title="The old mill")
    change(theirs, "Ben", Plate, "1987.12", note="flooded")
    merge(ours, theirs, "Ada")
    merge(theirs, ours, "Ben")
    for column in ("title", "note"):
        assert value(ours, Plate, "1987.12", column) == value(
            theirs, Plate, "1987.12", column
        )
    again = merge(ours, theirs, "Ada")
    assert (again.added, again.conflicts) == (0, ())
    is_sound(ours)
    is_sound(theirs)


def test_keys_given_on_both_sides_are_kept_apart(
    copies: tuple[Daybook, Daybook],
) -> None:
    for person, copy in zip(("Ada", "Ben"), copies, strict=True):
        with copy.writing(person) as session:
            plate = find(session, Plate, "1987.12")
            session.add(Lead(what=f"by {person}", state="to do"))
            session.add(Detail(plate_id=plate.id, what=f"seen by {person}"))
            session.add(Plate(key="1987.13", title=f"named by {person}"))
            session.add(Feature(key="Dam", what=f"by {person}"))
            session.flush()
            session.add(
                Mark(
                    plate_id=plate.id,
                    key="m1",
                    shape="point",
                    points_px=[[1.0, 2.0]],
                    features=[{"feature": "Dam", "weight": 1.0}],
                )
            )
    ours = copies[0]
    merged = merge(*copies, "Ada")
    after = {(one.before, one.after): one.clash for one in merged.renamed}
    assert after == {
        ("lead-2", "lead-3"): False,
        ("A", "B"): False,
        ("1987.13", "1987.13 (2)"): True,
        ("Dam", "Dam (2)"): True,
        ("m1", "m2"): False,
    }
    assert value(ours, Lead, "lead-2", "what") == "by Ada"
    assert value(ours, Lead, "lead-3", "what") == "by Ben"
    assert value(ours, Detail, "1987.12/B", "what") == "seen by Ben"
    # What names the feature by its key names the right one.
    assert value(ours, Mark, "1987.12/m2", "features") == [
        {"feature": "Dam (2)", "weight": 1.0}
    ]
    is_sound(ours)


def test_their_originals_come_along_byte_for_byte(
    copies: tuple[Daybook, Daybook], tmp_path: Path
) -> None:
    ours, theirs = copies
    for number, copy in enumerate(copies):
        (tmp_path / str(number)).mkdir()
        take_in(copy, "1987.12", scan(tmp_path / str(number) / "s.tif", number), "Ada")
    merged = merge(ours, theirs, "Ada")
    assert merged.files == ("originals/1987.12/s.tif",)
    assert value(ours, Scan, "1987.12/2", "file") == "originals/1987.12/s (2).tif"
    original = ours.path("originals/1987.12/s (2).tif")
    assert original.read_bytes() == (tmp_path / "1" / "s.tif").read_bytes()
    is_sound(ours)


def test_an_original_of_theirs_that_changed_stops_the_merge(
    copies: tuple[Daybook, Daybook], tmp_path: Path
) -> None:
    ours, theirs = copies
    taken = take_in(theirs, "1987.12", scan(tmp_path / "s.tif", 1), "Ben")
    path = theirs.path(taken.file)
    path.chmod(0o644)
    path.write_bytes(b"?")
    with pytest.raises(DaybookError, match=r"s\.tif"):
        merge(ours, theirs, "Ada")
    with ours.reading() as session:
        assert session.scalars(select(Scan)).all() == []
    assert list((ours.folder / "originals").rglob("*.tif")) == []
    is_sound(ours)


def test_what_they_withdrew_is_withdrawn_here_too(
    copies: tuple[Daybook, Daybook],
) -> None:
    ours, theirs = copies
    with theirs.reading() as session:
        (informant,) = session.scalars(select(Informant.id))
    withdraw(theirs, Informant, informant, person="Ben", why="asked to")
    assert merge(ours, theirs, "Ada").withdrawn == 1
    with ours.reading() as session:
        assert session.get_one(Informant, informant).withdrawn
        told = [row.after for row in session.scalars(select(JournalRow))]
        assert "Cora Ling" not in str(told)
    is_sound(ours)


def test_what_was_withdrawn_here_does_not_come_back(
    copies: tuple[Daybook, Daybook],
) -> None:
    ours, theirs = copies
    with ours.reading() as session:
        (informant,) = session.scalars(select(Informant.id))
        (plate,) = session.scalars(select(Plate.id))
    withdraw(ours, Informant, informant, person="Ada")
    withdraw(ours, Plate, plate, person="Ada")
    with theirs.writing("Ben") as session:
        session.get_one(Informant, informant).said = "Cora says by the ford"
        session.add(Detail(plate_id=plate, what="Cora's house"))
    merged = merge(ours, theirs, "Ada")
    assert merged.left_out == 2
    with ours.reading() as session:
        assert session.get_one(Informant, informant).said is None
        told = [row.after for row in session.scalars(select(JournalRow))]
        assert "Cora" not in str(told)
    is_sound(ours)


def test_a_dry_run_writes_nothing(copies: tuple[Daybook, Daybook]) -> None:
    ours, theirs = copies
    change(theirs, "Ben", Plate, "1987.12", title="Fell's mill")
    assert merge(ours, theirs, "Ada", dry_run=True).changed == 1
    assert value(ours, Plate, "1987.12", "title") == "The mill"


def test_a_dry_run_counts_what_the_merge_then_counts(
    copies: tuple[Daybook, Daybook],
) -> None:
    """Of the two only the lead changes here: the title is as each wrote it."""
    ours, theirs = copies
    change(ours, "Ada", Plate, "1987.12", title="The old mill")
    change(theirs, "Ben", Plate, "1987.12", title="Fell's mill")
    change(theirs, "Ben", Lead, "lead-1", state="asked")
    told = [merge(ours, theirs, "Ada", dry_run=dry) for dry in (True, False)]
    assert [(one.added, one.changed, len(one.conflicts)) for one in told] == [
        (0, 1, 1), (0, 1, 1),
    ]  # fmt: skip


def test_daybooks_that_are_no_copies_are_refused_unless_expected(
    copies: tuple[Daybook, Daybook], new_daybook: NewDaybook
) -> None:
    stranger = new_daybook()
    with stranger.writing("Dan") as session:
        session.add(Plate(key="77"))
    with pytest.raises(InputError, match="no act in common"):
        merge(copies[0], stranger, "Ada")
    with pytest.raises(InputError, match="itself"):
        merge(copies[0], copies[0], "Ada")
    assert merge(copies[0], stranger, "Ada", unrelated=True).added == 1
    is_sound(copies[0])


@pytest.mark.parametrize("new_daybook", ["sqlite"], indirect=True)
@pytest.mark.parametrize("seed", range(4))
def test_no_change_of_either_side_is_lost(
    copies: tuple[Daybook, Daybook], seed: int
) -> None:
    """Every value that either side wrote is in the tables or among the conflicts."""
    rng = np.random.default_rng(seed)
    ours, theirs = copies
    with ours.reading() as session:
        parted = dict(table_rows(session.connection(), "plates"))
    for copy, person in zip(copies, ("Ada", "Ben"), strict=True):
        for step in range(12):
            with copy.writing(person) as session:
                plates = session.scalars(select(Plate).order_by(Plate.key)).all()
                plate = plates[int(rng.integers(len(plates)))]
                words = f"{person} {step}"
                kind = rng.integers(5)
                if kind == 0:
                    session.add(Plate(key=words, title=words))
                elif kind == 1:
                    session.add(Lead(what=words, state="to do", plate_id=plate.id))
                elif kind == 2:
                    plate.removed = not plate.removed
                else:
                    column = ("title", "note", "description")[int(rng.integers(3))]
                    setattr(plate, column, words)
    before = []
    for copy in copies:
        with copy.reading() as session:
            before.append(dict(table_rows(session.connection(), "plates")))
    merged = merge(ours, theirs, "Ada")
    listed = {
        (one.item_id, one.column): (one.ours, one.theirs) for one in merged.conflicts
    }
    with ours.reading() as session:
        after = dict(table_rows(session.connection(), "plates"))
        assert {lead.what for lead in session.scalars(select(Lead))} >= {
            row.after["what"]
            for row in session.scalars(select(JournalRow))
            if row.table_name == "leads" and row.before is None and row.after
        }
    assert set(after) == set(before[0]) | set(before[1])
    for item_id in set(before[0]) & set(before[1]):
        for column in ("title", "note", "description"):
            was = parted[item_id][column]
            mine, other = (side[item_id][column] for side in before)
            kept = after[item_id][column]
            assert kept == mine or (mine == was and kept == other)
            assert kept == other or other == was or listed[item_id, column][1] == other
    for side in before:
        for item_id in set(side) - set(parted):
            assert after[item_id]["title"] == side[item_id]["title"]
    is_sound(ours)
