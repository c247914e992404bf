"""Check the verbs that the command line and the server share."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image
from sqlalchemy import select

from wherestood.daybook import Daybook, address_of, find
from wherestood.daybook.change_items import (
    add_item,
    bring_back,
    change_item,
    set_aside,
)
from wherestood.daybook.choose import Wanted, page
from wherestood.daybook.originals import take_in
from wherestood.daybook.replay import disagreements
from wherestood.daybook.tables import Detail, JournalRow, Lead, Mark, Plate
from wherestood.daybook.undo import undo
from wherestood.errors import DaybookError, InputError

ADA = "Ada Moss"


def test_a_decision_is_never_set_aside(daybook: Daybook) -> None:
    add_item(daybook, "plates", {}, ADA, address="1987.12")
    made = {"plate": "1987.12", "conclusion": "rejected", "words": "not there"}
    add_item(daybook, "decisions", made, ADA)
    with pytest.raises(InputError, match="stays to be read"):
        set_aside(daybook, "decisions", "decision-1", ADA)
    undo(daybook, ADA)  # what was a slip is taken back, and can be done again


def test_each_verb_is_one_act_with_a_journal_row_that_says_who_and_why(
    daybook: Daybook,
) -> None:
    plate = add_item(
        daybook, "plates", {"near_enough_m": 50}, ADA, "from the register",
        address="1987.12",
    )  # fmt: skip
    lead = add_item(
        daybook, "leads", {"what": "rate book", "plate_id": "1987.12"}, ADA, "to ask"
    )
    assert (plate["near_enough_m"], lead["address"], lead["state"]) == (
        50.0, "lead-1", "to do",
    )  # fmt: skip
    change_item(daybook, "leads", "lead-1", {"state": "asked"}, "Ben", "wrote to them")
    set_aside(daybook, "leads", "lead-1", "Cora", "asked before")
    bring_back(daybook, "leads", "lead-1", "Ben", "not by us")
    with daybook.reading() as session:
        rows = session.scalars(select(JournalRow).order_by(JournalRow.number)).all()
        told = [(row.person, row.action, row.why) for row in rows]
        assert disagreements(session) == []
    assert told == [
        (ADA, "add", "from the register"),
        (ADA, "add", "to ask"),
        ("Ben", "change", "wrote to them"),
        ("Cora", "remove", "asked before"),
        ("Ben", "restore", "not by us"),
    ]
    assert len({row.act for row in rows}) == 5


def test_an_item_on_a_plate_and_one_about_it_are_added(daybook: Daybook) -> None:
    add_item(daybook, "plates", {}, ADA, address="1987/12")
    mark = add_item(
        daybook, "marks", {"points_px": [[1.5, 2.0]], "shape": "point"}, ADA,
        address="1987/12/A",
    )  # fmt: skip
    assert (mark["address"], mark["points_px"]) == ("1987/12/A", [[1.5, 2.0]])
    note = add_item(
        daybook, "notes", {"words": "look again"}, ADA, about=("marks", "1987/12/A")
    )
    assert (note["about"], note["plate"]) == ("1987/12/A", "1987/12")
    with pytest.raises(InputError, match="about something"):
        add_item(daybook, "notes", {"words": "of what?"}, ADA)


def test_a_change_from_a_page_that_is_out_of_date_is_refused(daybook: Daybook) -> None:
    seen = add_item(daybook, "leads", {"what": "rate book"}, ADA)
    change_item(
        daybook, "leads", "lead-1", {"where": "archive"}, "Ben",
        revision=seen["revision"],
    )  # fmt: skip
    with pytest.raises(DaybookError, match="meanwhile"):
        change_item(
            daybook, "leads", "lead-1", {"where": "library"}, ADA,
            revision=seen["revision"],
        )  # fmt: skip
    with pytest.raises(DaybookError, match="meanwhile"):
        set_aside(daybook, "leads", "lead-1", ADA, revision=seen["revision"])
    with daybook.reading() as session:
        assert find(session, Lead, "lead-1").where == "archive"


def test_a_field_is_emptied_by_none_or_by_name(daybook: Daybook) -> None:
    add_item(daybook, "leads", {"what": "rate book", "where": "a", "note": "b"}, ADA)
    changed = change_item(
        daybook, "leads", "lead-1", {"where": None}, ADA, clear=["note"]
    )
    assert {"where", "note"}.isdisjoint(changed)


@pytest.mark.parametrize(
    ("table", "fields", "told"),
    [
        ("ghosts", {}, "There is no 'ghosts'"),
        ("leads", {"what": "x", "colour": "red"}, "no field 'colour'"),
        ("leads", {"what": 7}, "what of a lead cannot be read: '7'"),
        ("leads", {"what": "x", "source": "source-9"}, "no source 'source-9'"),
        ("plates", {"near_enough_m": [1]}, "near_enough_m"),
        ("plates", {"trimmed": 1}, "trimmed"),
        ("plates", {"near_enough_m": True}, "near_enough_m"),
        ("features", {"geometry": 3}, "geometry"),
        ("fixes", {}, "not added by hand"),
        ("dates", {"edtf": "c. 1875", "plate": "1987.12"}, "Is 1875~ meant"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_written(
    daybook: Daybook, table: str, fields: dict[str, object], told: str
) -> None:
    add_item(daybook, "plates", {}, ADA, address="1987.12")
    with pytest.raises(InputError) as raised:
        add_item(daybook, table, fields, ADA, address="" if table != "plates" else "b")
    assert told in str(raised.value)
    with daybook.reading() as session:
        assert len(session.scalars(select(JournalRow)).all()) == 1


@pytest.mark.parametrize(
    ("key", "told"),
    [
        ("../x/y", "'../x/y' of a plate reads like a way out of a folder"),
        ("..\\x", "reads like a way out of a folder"),
        ("bad\nkey", r"'bad\\nkey' of a plate has a line's end in it"),
        (" 1987", "' 1987' of a plate has a space at an end"),
        ("a\x07b", r": 'a\\x07b'\."),
    ],
)
def test_a_key_that_cannot_be_is_refused_with_its_one_fault(
    daybook: Daybook, key: str, told: str
) -> None:
    with pytest.raises(InputError, match=told), daybook.writing("Ada") as session:
        session.add(Plate(key=key))


def test_what_lies_off_its_scan_is_refused_with_the_scan_s_size(
    daybook: Daybook, tmp_path: Path
) -> None:
    picture = tmp_path / "mill.png"
    Image.new("L", (70, 52), 128).save(picture)
    take_in(daybook, "1987.12", picture, "Ada", new_plate={})
    point = {"shape": "point", "points_px": [[99999.0, 1.0]]}
    with pytest.raises(InputError, match=r"99999, 1 px, off its scan.*70 x 52 px"):
        add_item(daybook, "marks", point, "Ada", address="1987.12/A")
    crop = {"what": "far", "crop_px": [10, 20, 300, 20], "scan": "1987.12/1"}
    with pytest.raises(InputError, match="310, 40 px, off its scan"):
        add_item(daybook, "details", crop, "Ada", address="1987.12/A")
    edge = {"shape": "point", "points_px": [[70.0, 0.0]]}
    mark = add_item(daybook, "marks", edge, "Ada", address="1987.12/A")
    with pytest.raises(InputError, match="off its scan"):
        change_item(daybook, "marks", mark["address"], point, "Ada")


def test_a_date_that_an_older_program_took_stays_and_can_be_undone_to(
    daybook: Daybook, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as older:
        older.setattr("wherestood.daybook.check_items.check_edtf", lambda *_: None)
        add_item(daybook, "leads", {"what": "x", "due_edtf": "next spring"}, ADA)
    change_item(daybook, "leads", "lead-1", {"where": "archive"}, ADA)
    change_item(daybook, "leads", "lead-1", {"due": "1875"}, ADA)
    undo(daybook, ADA)
    with daybook.reading() as session:
        assert find(session, Lead, "lead-1").due_edtf == "next spring"


def test_nobody_is_refused_as_a_person(daybook: Daybook) -> None:
    with pytest.raises(InputError, match="Nobody is named"):
        add_item(daybook, "plates", {}, " ", address="1987.12")
    with daybook.reading() as session:
        assert session.scalars(select(Mark)).all() == []


def test_what_is_on_plates_follows_plate_by_plate(daybook: Daybook) -> None:
    for key in ("1988.1", "1986.1"):
        add_item(daybook, "plates", {}, ADA, address=key)
    for plate in ("1988.1", "1986.1", "1986.1"):
        add_item(daybook, "details", {"what": "gable"}, ADA, address=plate)
    with daybook.reading() as session:
        found, number = page(session, Detail, Wanted(limit=2))
        told = [address_of(session, one) for one in found]
    assert (told, number) == (["1986.1/A", "1986.1/B"], 3)
