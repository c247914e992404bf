"""Check that what was done can be taken back, and done again."""

from __future__ import annotations

from dataclasses import replace

import pytest
from sqlalchemy import func, select

from wherestood.daybook import Daybook, find
from wherestood.daybook.plate_store import Box, keep_box, store_told
from wherestood.daybook.region import keep_region, region_of
from wherestood.daybook.rename import rename
from wherestood.daybook.replay import disagreements
from wherestood.daybook.tables import (
    Detail,
    Evidence,
    Feature,
    JournalRow,
    Mark,
    Note,
    Plate,
    Setting,
    Source,
    Statement,
)
from wherestood.daybook.undo import redo, undo
from wherestood.errors import InputError


@pytest.fixture
def changed(daybook: Daybook) -> Daybook:
    """Return a daybook with a plate whose title was changed."""
    with daybook.writing("Ada", "from the register") as session:
        plate = Plate(key="1987.12", title="The mill")
        session.add(plate)
        session.flush()
        session.add(Detail(plate_id=plate.id, what="chimney"))
    with daybook.writing("Ben", "misread") as session:
        find(session, Plate, "1987.12").title = "The old mill"
    return daybook


def state(daybook: Daybook) -> tuple[str | None, bool, bool]:
    with daybook.reading() as session:
        plate = find(session, Plate, "1987.12")
        assert disagreements(session) == []
        detail = find(session, Detail, "1987.12/A")
        return plate.title, plate.removed, detail.removed


def rows(daybook: Daybook) -> int:
    with daybook.reading() as session:
        return session.scalar(select(func.count(JournalRow.number))) or 0


def test_undo_and_redo_go_back_and_forth_and_each_is_a_new_row(
    changed: Daybook,
) -> None:
    assert rows(changed) == 3
    told = undo(changed, "Ada")
    assert (told.person, told.why, told.changes) == ("Ben", "misread", 1)
    assert state(changed) == ("The mill", False, False)
    undo(changed, "Ada")
    assert state(changed) == ("The mill", True, True)
    redo(changed, "Ada")
    assert state(changed) == ("The mill", False, False)
    redo(changed, "Ada")
    assert state(changed) == ("The old mill", False, False)
    assert rows(changed) == 3 + 1 + 2 + 2 + 1
    undo(changed, "Ada")
    assert state(changed) == ("The mill", False, False)


def test_nothing_is_taken_back_twice_or_out_of_nothing(changed: Daybook) -> None:
    with pytest.raises(InputError, match="nothing to do again"):
        redo(changed, "Ada")
    undo(changed, "Ada")
    undo(changed, "Ada")
    with pytest.raises(InputError, match="nothing to undo"):
        undo(changed, "Ada")


def test_what_was_changed_again_since_is_not_taken_back(changed: Daybook) -> None:
    with changed.reading() as session:
        chosen = select(JournalRow.act).order_by(JournalRow.number)
        first, second = dict.fromkeys(session.scalars(chosen))
    with changed.writing("Cora") as session:
        find(session, Plate, "1987.12").title = "Mill"
    with pytest.raises(InputError, match=r"title of plate '1987.12' was changed.*Cora"):
        undo(changed, "Ada", act=second)
    assert state(changed) == ("Mill", False, False)
    undo(changed, "Ada")
    undo(changed, "Ada", act=second[:8])
    assert state(changed)[0] == "The mill"
    undo(changed, "Ada", act=first)
    assert state(changed) == ("The mill", True, True)


def test_undo_takes_back_the_last_work_and_not_a_setting(changed: Daybook) -> None:
    with changed.writing("Ben", "settings of the pages") as session:
        session.add(Setting(key="pages", value={"units": "feet"}))
    undo(changed, "Ada")
    with changed.reading() as session:
        assert find(session, Plate, "1987.12").title == "The mill"
        assert session.scalars(select(Setting)).one().removed is False


def test_an_addition_that_others_built_on_since_is_not_taken_back(
    changed: Daybook,
) -> None:
    with changed.writing("Ada") as session:
        source = Source(citation="Weekly Herald", kind="newspaper")
        session.add(source)
    with changed.writing("Ben") as session:
        session.add(Statement(words="by the weir", source_id=source.id))
        plate = find(session, Plate, "1987.12")
        session.add(Note(about_table="plates", about_id=plate.id, words="a copy"))
    with changed.reading() as session:
        chosen = select(JournalRow.act).order_by(JournalRow.number)
        acts = dict.fromkeys(session.scalars(chosen))
    first, _, third, _ = acts
    for act, problem in (
        (third, "'statement-1' refers to source 'source-1' since"),
        (first, "'note-1' was put on plate '1987.12' since"),
    ):
        with pytest.raises(InputError, match=problem):
            undo(changed, "Ada", act=act)
    undo(changed, "Ada")
    undo(changed, "Ada", act=third)
    with changed.reading() as session:
        assert find(session, Source, "source-1").removed
        assert disagreements(session) == []


def test_a_feature_that_others_name_by_key_keeps_it(changed: Daybook) -> None:
    """Its addition and its renaming stand while a mark or evidence needs them."""
    with changed.writing("Ada") as session:
        session.add(Feature(key="mill", what="mill"))
    with changed.writing("Ada") as session:
        rename(session, find(session, Feature, "mill"), "weir mill")
    with changed.writing("Ben") as session:
        plate = find(session, Plate, "1987.12").id
        named = [{"feature": "weir mill", "weight": 1.0}]
        session.add(
            Mark(plate_id=plate, key="m1", points_px=[[1.0, 2.0]], features=named)
        )
    with changed.writing("Cora") as session:
        content = {"feature": "weir mill"}
        session.add(Evidence(plate_id=plate, key="e1", kind="seen", content=content))
    with changed.reading() as session:
        chosen = select(JournalRow.act).where(JournalRow.table_name == "features")
        added, renamed = dict.fromkeys(session.scalars(chosen))
    for problem in ("mark 'm1' names", "evidence 'e1' names"):
        for act in (added, renamed):
            with pytest.raises(InputError, match=f"{problem} feature 'weir mill'"):
                undo(changed, "Ada", act=act)
        with changed.writing("Ben") as session:
            find(session, Mark, "1987.12/m1").removed = True
    with changed.writing("Ben") as session:
        find(session, Evidence, "1987.12/e1").removed = True
    undo(changed, "Ada", act=renamed)
    undo(changed, "Ada", act=added)
    with changed.reading() as session:
        assert find(session, Feature, "mill").removed
        assert disagreements(session) == []


def test_a_mark_of_a_feature_that_is_not_there_is_refused(changed: Daybook) -> None:
    with changed.reading() as session:
        plate = find(session, Plate, "1987.12").id
    named = [{"feature": "nobody", "weight": 1.0}]
    mark = Mark(plate_id=plate, key="m1", points_px=[[1.0, 2.0]], features=named)
    problem = "'m1' names the feature 'nobody'"
    with pytest.raises(InputError, match=problem), changed.writing("Ben") as session:
        session.add(mark)


def test_what_holds_for_a_region_and_boxes_is_taken_back_as_other_work_is(
    changed: Daybook,
) -> None:
    for julian in (True, False):
        keep_region(
            changed, lambda region, julian=julian: replace(region, julian=julian), "Ada"
        )
    keep_box(changed, Box("7", "attic", "dry plate"), ["1987.12"], 40.0, "Ada")

    def told() -> tuple[bool, list[str]]:
        with changed.reading() as session:
            assert disagreements(session) == []
            shelves = store_told(session).shelves
            return region_of(session).julian, [shelf.name for shelf in shelves]

    assert told() == (False, ["attic"])
    undo(changed, "Ben")
    assert told() == (False, [])
    undo(changed, "Ben")
    assert told() == (True, [])
    undo(changed, "Ben")
    assert told() == (False, [])
    redo(changed, "Ben")
    assert told() == (True, [])
    # How the pages look is passed over, as before.
    undo(changed, "Ben")
    undo(changed, "Ben")
    assert state(changed)[0] == "The mill"
