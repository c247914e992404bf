"""Check that a diary answers why something is believed."""

from __future__ import annotations

import pytest
from sqlalchemy import select

from wherestood.daybook import Daybook, find
from wherestood.daybook.history import history
from wherestood.daybook.records import lines_of
from wherestood.daybook.rename import rename
from wherestood.daybook.tables import (
    Decision,
    Informant,
    Lead,
    Plate,
    Restriction,
    Scan,
    Statement,
)
from wherestood.daybook.withdraw import withdraw
from wherestood.errors import InputError


@pytest.fixture
def worked(daybook: Daybook) -> Daybook:
    """Return a daybook with a plate, and what is known of it and why."""
    with daybook.writing("Ada") as session:
        plate = Plate(key="1987.12", title="The mill")
        person = Informant(name="Cora Ling")
        session.add_all([plate, person])
        session.flush()
        scan = Scan(
            plate_id=plate.id, file="originals/a.tif", sha256="0" * 64, main=True,
            width_px=700, height_px=520,
        )  # fmt: skip
        said = Statement(plate_id=plate.id, words="by the ford", informant_id=person.id)
        lead = Lead(plate_id=plate.id, what="rates", where="archive", state="to do")
        session.add_all([scan, said, lead])
        session.flush()
        session.add(Restriction(about_table="scans", about_id=scan.id, covered=True))
        first = _decision(plate, "accepted with conditions", conditions="plan found")
        session.add(first)
        session.flush()
        session.add(_decision(plate, "rejected", supersedes_id=first.id))
    return daybook


def _decision(plate: Plate, conclusion: str, **more: str) -> Decision:
    return Decision(
        plate_id=plate.id, conclusion=conclusion, words="it fits", decided_by="Ada",
        decided="2026-01-01T00:00:00+00:00", **more,
    )  # fmt: skip


def told(daybook: Daybook) -> str:
    with daybook.reading() as session:
        return " ".join(s for entry in history(session) for s in entry.sentences)


def test_a_diary_says_who_where_on_what_conditions_and_in_place_of_what(
    worked: Daybook,
) -> None:
    diary = told(worked)
    assert "by the ford; said by informant-1" in diary
    assert "at: archive" in diary
    assert "accepted with conditions (conditions: plan found), by Ada" in diary
    assert "rejected, in place of decision-1, by Ada" in diary
    assert "on scan 1987.12/1" in diary


def test_lists_say_what_is_about_what_and_what_was_replaced(worked: Daybook) -> None:
    with worked.reading() as session:
        covers = session.scalars(select(Restriction)).all()
        assert lines_of(session, covers) == ["covered, on scan 1987.12/1"]
        made = session.scalars(select(Decision).order_by(Decision.key)).all()
        assert lines_of(session, made)[0].endswith(", replaced by decision-2")


def test_a_key_of_before_is_answered_with_that_of_now(worked: Daybook) -> None:
    with worked.writing("Ben", "renumbered") as session:
        rename(session, find(session, Plate, "1987.12"), "1987.12a")
    with (
        worked.reading() as session,
        pytest.raises(InputError, match=r"is called '1987\.12a' now"),
    ):
        find(session, Plate, "1987.12")
    assert "plate 1987.12a (called 1987.12 then)" in told(worked)


def test_very_many_changes_alike_are_counted(daybook: Daybook) -> None:
    with daybook.writing("Ada") as session:
        session.add_all(Plate(key=f"1900.{n:03}") for n in range(200))
    with daybook.reading() as session:
        (entry,) = history(session)
    assert entry.sentences == ("Added 200 plates, 1900.000 to 1900.199.",)


def test_what_was_withdrawn_since_is_not_told_as_changed_to_nothing(
    worked: Daybook,
) -> None:
    with worked.writing("Ben") as session:
        find(session, Informant, "informant-1").name = "Cora Lingg"
        person = find(session, Informant, "informant-1").id
    withdraw(worked, Informant, person, person="Ada")
    diary = told(worked)
    assert "nothing to nothing" not in diary
    assert "Changed informant-1, whose content was withdrawn since." in diary
