"""Check that what is withdrawn is gone from every byte, and a stub tells of it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import tomlkit
from sqlalchemy import select

from wherestood.daybook import Daybook, find
from wherestood.daybook.replay import disagreements, rebuild_into
from wherestood.daybook.scrub import PENDING
from wherestood.daybook.tables import (
    Fix,
    FixInput,
    Informant,
    JournalRow,
    Note,
    Plate,
    Scan,
    Statement,
)
from wherestood.daybook.undo import undo
from wherestood.daybook.withdraw import withdraw
from wherestood.errors import InputError

NAME = "Philomena Quexworth"
SAID = 'My grand-mother\'s house stood below\nthe "Qualmstein", facing the weir.'
OLDER = "Philomena Quecksworth"
SECRETS = ("Quexworth", "Quecksworth", "Qualmstein", "qualmstein", "quexworth")


@pytest.fixture
def told(daybook: Daybook) -> Daybook:
    """Return a daybook in which an informant is quoted here and there."""
    with daybook.writing("Ada", f"{OLDER} rang") as session:
        plate = Plate(key="1987.12", title="Houses")
        person = Informant(name=OLDER, said=SAID)
        session.add_all([plate, person])
        session.flush()
        words = Statement(plate_id=plate.id, informant_id=person.id, words=SAID)
        session.add(words)
        session.flush()
        fix = Fix(
            plate_id=plate.id,
            made="2026-01-01",
            verdict="located",
            lon_deg=7.1,
            lat_deg=46.2,
            answer={"evidence": [{"source": NAME, "words": SAID}], "rms_px": 1.5},
            words=f"By what {NAME.replace(' ', chr(10))} said.",
            evidence_toml=tomlkit.dumps({"words": SAID}),
        )
        session.add(fix)
        session.flush()
        session.add(
            FixInput(
                fix_id=fix.id, role="item", name="statement",
                item_table="statements", item_id=words.id,
            )
        )  # fmt: skip
        note = f"see what {NAME} said"
        session.add(Note(about_table="plates", about_id=plate.id, words=note))
    with daybook.writing("Ada", "her name was misspelt") as session:
        find(session, Informant, "informant-1").name = NAME
    return daybook


def everything(daybook: Daybook) -> str:
    """Return all bytes of the folder, and all that the database says."""
    parts = [p.read_bytes() for p in daybook.folder.rglob("*") if p.is_file()]
    with daybook.reading() as session:
        for table in ("journal", "informants", "statements", "fixes", "notes", "words"):
            rows = session.connection().exec_driver_sql(f"SELECT * FROM {table}")
            parts.append(repr(rows.all()).encode())
    return b"".join(parts).decode("utf-8", "replace")


def informant(daybook: Daybook) -> str:
    with daybook.reading() as session:
        return find(session, Informant, "informant-1").id


def test_withdrawn_words_are_in_no_byte_of_the_folder(told: Daybook) -> None:
    before = everything(told)
    assert all(word in before for word in SECRETS)
    done = withdraw(
        told, Informant, informant(told), person="Ada", why="asked to", everywhere=True
    )
    assert done.stubs == ("informant 'informant-1'", "statement 'statement-1'")
    assert set(done.redacted) == {"fix 'fix-1'", "note 'note-1'"}
    assert done.finished
    after = everything(told)
    assert [word for word in SECRETS if word in after] == []
    assert not (told.folder / PENDING).exists()


def test_stub_says_when_and_why_and_the_journal_still_agrees(
    told: Daybook, new_daybook: Any
) -> None:
    withdraw(told, Informant, informant(told), person="Ada", why="asked to")
    with told.reading() as session:
        stub = find(session, Informant, "informant-1")
        assert stub.withdrawn
        assert stub.name is None
        assert find(session, Statement, "statement-1").words == "[withdrawn]"
        assert disagreements(session) == []
        row = session.scalars(
            select(JournalRow).where(
                JournalRow.item_id == stub.id, JournalRow.action == "withdraw"
            )
        ).one()
        assert (row.person, row.why) == ("Ada", "asked to")
    again = new_daybook()
    rebuild_into(told, again)
    with again.reading() as session:
        assert disagreements(session) == []


def test_a_fix_that_quoted_it_keeps_its_numbers(told: Daybook) -> None:
    withdraw(told, Informant, informant(told), person="Ada")
    with told.reading() as session:
        fix = find(session, Fix, "fix-1")
        assert (fix.lon_deg, fix.lat_deg, fix.verdict) == (7.1, 46.2, "located")
        assert fix.answer == {
            "evidence": [{"source": "[withdrawn]", "words": "[withdrawn]"}],
            "rms_px": 1.5,
        }
        assert fix.words == "By what [withdrawn] said."


def test_items_that_still_hold_the_words_are_named(told: Daybook) -> None:
    done = withdraw(told, Informant, informant(told), person="Ada")
    assert done.still_in == ("note 'note-1'",)


def test_what_is_withdrawn_can_be_neither_changed_nor_brought_back(
    told: Daybook,
) -> None:
    person = informant(told)
    withdraw(told, Informant, person, person="Ada")
    with pytest.raises(InputError, match="withdrawn"), told.writing("Ben") as session:
        session.get_one(Informant, person).name = "somebody"
    with pytest.raises(InputError, match="withdrawn"):
        undo(told, "Ben")
    with pytest.raises(InputError, match="withdrawn before"):
        withdraw(told, Informant, person, person="Ada")


def test_a_plate_takes_all_that_is_on_it_and_its_files_along(daybook: Daybook) -> None:
    kept, elsewhere = daybook.path("originals/1/a.tif"), daybook.folder.parent / "b.tif"
    kept.parent.mkdir()
    for path in (kept, elsewhere, daybook.path("out/report.txt")):
        path.write_text("Qualmstein")
    kept.chmod(0o444)
    with daybook.writing("Ada") as session:
        plate = Plate(key="1987.12", title="Qualmstein")
        session.add(plate)
        session.flush()
        for file in ("originals/1/a.tif", str(elsewhere)):
            session.add(Scan(plate_id=plate.id, file=file, sha256="0" * 64))
    done = withdraw(daybook, Plate, plate.id, person="Ada", why="the family's wish")
    assert done.files == ("originals/1/a.tif",)
    assert done.left_in_place == (str(elsewhere),)
    assert elsewhere.exists()
    assert "Qualmstein" not in everything(daybook)
    assert len(done.stubs) == 3


def test_a_file_that_another_item_needs_stays(daybook: Daybook) -> None:
    daybook.path("originals/a.tif").write_text("two plates on one sheet")
    with daybook.writing("Ada") as session:
        plates = [Plate(), Plate()]
        session.add_all(plates)
        session.flush()
        for plate in plates:
            scan = Scan(plate_id=plate.id, file="originals/a.tif", sha256="0" * 64)
            session.add(scan)
    assert withdraw(daybook, Plate, plates[0].id, person="Ada").files == ()
    assert daybook.path("originals/a.tif").exists()


def test_a_withdrawal_that_was_cut_short_is_finished_on_opening(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Daybook.create(tmp_path / "daybook") as daybook:
        daybook.path("originals/a.tif").write_text("Qualmstein")
        with daybook.writing("Ada") as session:
            plate = Plate(title="Qualmstein")
            session.add(plate)
            session.flush()
            scan = Scan(plate_id=plate.id, file="originals/a.tif", sha256="0" * 64)
            session.add(scan)
        monkeypatch.setattr("wherestood.daybook.withdraw.finish", lambda *_: False)
        assert not withdraw(daybook, Plate, plate.id, person="Ada").finished
        assert daybook.path("originals/a.tif").exists()
    with Daybook.open(tmp_path / "daybook") as daybook:
        assert not daybook.path("originals/a.tif").exists()
        assert "Qualmstein" not in everything(daybook)


def test_a_withdrawal_that_never_happened_deletes_nothing(tmp_path: Path) -> None:
    with Daybook.create(tmp_path / "daybook") as daybook:
        daybook.path("originals/a.tif").write_text("kept")
        note = '{"act": "0123", "files": ["originals/a.tif"]}'
        (daybook.folder / PENDING).write_text(note)
    with Daybook.open(tmp_path / "daybook") as daybook:
        assert daybook.path("originals/a.tif").exists()
        assert not (daybook.folder / PENDING).exists()
