"""Check that what is withdrawn is gone from every byte, and a stub tells of it."""

from __future__ import annotations

import json
import shutil
import sqlite3
import unicodedata
from pathlib import Path
from typing import Any

import pytest
import tomlkit
from sqlalchemy import select

from wherestood.daybook import Daybook, find, scrub
from wherestood.daybook.replay import disagreements, rebuild_into
from wherestood.daybook.scrub import PENDING
from wherestood.daybook.tables import (
    Dating,
    Fix,
    FixInput,
    Informant,
    JournalRow,
    Lead,
    Note,
    Plate,
    Scan,
    Setting,
    Source,
    Statement,
)
from wherestood.daybook.undo import undo
from wherestood.daybook.withdraw import withdraw
from wherestood.daybook.withdrawn_in_words import withdrawn_in_words
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
        for file, where in (
            ("originals/1/a.tif", "taken in"),
            (str(elsewhere), "left in place"),
        ):
            scan = Scan(plate_id=plate.id, file=file, kept=where, sha256="0" * 64)
            session.add(scan)
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


@pytest.fixture
def with_files(tmp_path: Path):  # type: ignore[no-untyped-def]
    """Return a daybook with two scans, and the ids of these by their files."""
    ids = {}
    with Daybook.create(tmp_path / "daybook") as daybook:
        for name in ("originals/a.tif", "originals/b.tif"):
            daybook.path(name).write_text(name)
            ids[name] = with_file(daybook, name)
        yield daybook, ids


def with_file(daybook: Daybook, name: str) -> str:
    """Let a scan of a new plate name a file; return its id."""
    with daybook.writing("Ada") as session:
        plate = Plate(key=f"plate {len(session.scalars(select(Plate)).all())}")
        session.add(plate)
        session.flush()
        scan = Scan(plate_id=plate.id, file=name, sha256="0" * 64)
        session.add(scan)
        return scan.id


def test_what_two_withdrawals_left_to_delete_is_all_deleted(
    with_files: tuple[Daybook, dict[str, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """As where a process was killed, and one beside it withdraws too."""
    daybook, ids = with_files
    with monkeypatch.context() as killed:
        killed.setattr("wherestood.daybook.withdraw.finish", lambda *_: False)
        withdraw(daybook, Scan, ids["originals/a.tif"], person="Ada")
    assert withdraw(daybook, Scan, ids["originals/b.tif"], person="Ben").finished
    assert not list((daybook.folder / "originals").iterdir())
    assert not (daybook.folder / PENDING).exists()


def test_a_file_that_came_in_under_a_withdrawn_one_s_name_is_not_deleted(
    with_files: tuple[Daybook, dict[str, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    daybook, ids = with_files
    with monkeypatch.context() as killed:
        killed.setattr("wherestood.daybook.withdraw.finish", lambda *_: False)
        withdraw(daybook, Scan, ids["originals/a.tif"], person="Ada")
    daybook.path("originals/a.tif").write_text("another")
    with_file(daybook, "originals/a.tif")
    with Daybook.open(daybook.folder) as again:
        assert again.finished
    assert daybook.path("originals/a.tif").read_text() == "another"


def test_what_is_made_in_out_while_another_reads_on_is_not_deleted(
    with_files: tuple[Daybook, dict[str, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    daybook, ids = with_files
    with monkeypatch.context() as busy:
        busy.setattr("wherestood.daybook.scrub._overwritten", lambda _: False)
        daybook.path("out/before.txt").write_text("it quotes what was said")
        assert not withdraw(daybook, Scan, ids["originals/a.tif"], person="A").finished
        assert not daybook.path("out/before.txt").exists()
        daybook.path("out/after.txt").write_text("made since")
        with Daybook.open(daybook.folder) as again:
            assert not again.finished
    with Daybook.open(daybook.folder) as again:
        assert again.finished
    assert daybook.path("out/after.txt").exists()
    assert not (daybook.folder / PENDING).exists()


def test_who_opens_it_while_something_is_withdrawn_takes_nothing_for_undone(
    with_files: tuple[Daybook, dict[str, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    daybook, ids = with_files
    monkeypatch.setattr("wherestood.daybook.scrub._PATIENCE_MS", 1)
    noted = scrub.note_pending

    def noted_as_another_opens(folder: Path, pending: scrub.Pending) -> None:
        noted(folder, pending)
        with Daybook.open(folder) as other:
            assert not other.finished

    monkeypatch.setattr(
        "wherestood.daybook.withdraw.note_pending", noted_as_another_opens
    )
    assert withdraw(daybook, Scan, ids["originals/a.tif"], person="Ada").finished
    assert not daybook.path("originals/a.tif").exists()
    assert daybook.path("originals/b.tif").exists()


def test_a_withdrawal_that_never_happened_deletes_nothing(tmp_path: Path) -> None:
    with Daybook.create(tmp_path / "daybook") as daybook:
        daybook.path("originals/a.tif").write_text("kept")
        note = '{"act": "0123", "files": ["originals/a.tif"]}'
        (daybook.folder / PENDING).write_text(note)
    with Daybook.open(tmp_path / "daybook") as daybook:
        assert daybook.path("originals/a.tif").exists()
        assert not (daybook.folder / PENDING).exists()


def test_a_note_that_came_with_a_folder_deletes_nothing_outside_it(
    tmp_path: Path,
) -> None:
    """Somebody who means harm may write any file into the note."""
    mine = tmp_path / "mine.txt"
    mine.write_text("mine", encoding="utf-8")
    with Daybook.create(tmp_path / "daybook") as daybook:
        with daybook.writing("Ada") as session:
            session.add(Plate(key="1987.12"))
        with daybook.reading() as session:
            act = session.scalars(select(JournalRow.act)).first()
        note = {"act": act, "files": ["../mine.txt", str(mine)]}
        (daybook.folder / PENDING).write_text(json.dumps(note), encoding="utf-8")
    with Daybook.open(tmp_path / "daybook") as daybook:
        assert daybook.finished
    assert mine.read_text(encoding="utf-8") == "mine"


def test_words_are_taken_out_long_after_the_withdrawal(told: Daybook) -> None:
    """What was left elsewhere, and another spelling, once a person names them."""
    person = informant(told)
    withdraw(told, Informant, person, person="Ada")
    assert "Quexworth" in everything(told)
    done = withdraw(
        told, Informant, person, person="Ada", why="she asked again", everywhere=True,
        words=["Quexworth", "Quecksworth"],
    )  # fmt: skip
    assert (done.stubs, done.redacted) == ((), ("note 'note-1'",))
    after = everything(told)
    assert [word for word in SECRETS if word in after] == []
    with told.reading() as session:
        assert disagreements(session) == []
        last = session.scalars(select(JournalRow).order_by(-JournalRow.number)).first()
        assert last is not None
        assert last.why == "she asked again"


def test_words_that_stand_nowhere_or_are_too_short_are_refused(told: Daybook) -> None:
    person = informant(told)
    withdraw(told, Informant, person, person="Ada")
    for words, problem in (["Nobody"], "stand in no item"), (["Ada"], "too short"):
        with pytest.raises(InputError, match=problem):
            withdraw(
                told, Informant, person, person="Ada", everywhere=True, words=words
            )
    with pytest.raises(InputError, match="not where"):
        withdraw(told, Informant, person, person="Ada", words=["Quexworth"])


def test_what_another_item_says_of_itself_stays_everywhere_or_not(
    daybook: Daybook,
) -> None:
    """A holder, a date and the name of a file are no repetitions."""
    daybook.path("originals/the weir in flood.tif").write_text("another picture")
    with daybook.writing("Ada") as session:
        kern = {"held_by": "County Museum", "place_words": "Kern"}
        one = Plate(title="the weir in flood", note="1875", **kern)
        other = Plate(title="Mill at Kern, and the weir in flood", **kern)
        session.add_all([one, other])
        session.flush()
        where = "originals/the weir in flood.tif"
        file = Scan(plate_id=other.id, file=where, sha256="0" * 64)
        dated = Dating(plate_id=other.id, edtf="1875", words="so it says")
        session.add_all([file, dated])
    done = withdraw(daybook, Plate, one.id, person="Ada", everywhere=True)
    assert done.redacted == (f"plate '{other.key}'",)
    with daybook.reading() as session:
        assert find(session, Plate, other.key).held_by == "County Museum"
        assert find(session, Plate, other.key).place_words == "Kern"
        title = find(session, Plate, other.key).title
        assert title == "Mill at Kern, and [withdrawn]"
        assert session.get_one(Scan, file.id).file == where
        assert session.get_one(Dating, dated.id).edtf == "1875"
        assert disagreements(session) == []


def test_a_surname_that_stands_alone_is_named_and_goes_when_asked(
    told: Daybook,
) -> None:
    with told.writing("Ada") as session:
        session.add(Lead(what="Mrs Quexworth rang again", state="to do"))
        # This one repeats her words too, and loses those.
        session.add(Lead(what=f"Mrs Quexworth: {SAID}", state="to do"))
    done = withdraw(told, Informant, informant(told), person="Ada", everywhere=True)
    assert set(done.parts_in) == {"lead 'lead-1'", "lead 'lead-2'"}
    assert done.still_in == ()
    assert done.parts == ("Quexworth",)
    withdraw(
        told, Informant, informant(told), person="Ada", everywhere=True,
        words=done.parts,
    )  # fmt: skip
    assert "Quexworth" not in everything(told)


def test_who_wrote_in_the_daybook_is_named_and_goes_from_everywhere(
    told: Daybook,
) -> None:
    with told.writing(f"{NAME} (herself)") as session:
        session.add(Lead(what="rate book", state="to do"))
    with told.writing("Mrs Quexworth") as session:
        session.add(Lead(what="census", state="to do"))
    person = informant(told)
    signed = ("Mrs Quexworth", f"{NAME} (herself)")
    assert withdraw(told, Informant, person, person="Ada", dry_run=True).signed == (
        signed
    )
    done = withdraw(told, Informant, person, person="Ada", everywhere=True)
    assert done.signed == signed[:1]
    (told_so,) = [w for w in withdrawn_in_words(done).warned if "acts in" in w]
    assert '--everywhere --words "Mrs Quexworth"' in told_so
    withdraw(told, Informant, person, person="Ada", everywhere=True, words=done.signed)
    assert "Quexworth" not in everything(told)
    with told.reading() as session:
        people = set(session.scalars(select(JournalRow.person)))
        assert people == {"Ada", "[withdrawn] (herself)", "[withdrawn]"}
        assert disagreements(session) == []


def test_a_dry_run_names_what_would_go_and_changes_nothing(told: Daybook) -> None:
    person, before = informant(told), everything(told)
    would = withdraw(
        told, Informant, person, person="Ada", everywhere=True, dry_run=True
    )
    assert everything(told) == before
    done = withdraw(told, Informant, person, person="Ada", everywhere=True)
    assert done == would


def test_files_in_the_folder_that_are_none_of_its_own_are_named(
    told: Daybook,
) -> None:
    """A bag, or a report written into the folder, may hold it too."""
    told.path("full.zip").write_text(NAME)
    issue: dict[str, Any] = {
        "file": "reports/report-1/report.html",
        "sha256": "0",
        "size_bytes": 1,
    }
    told.path(issue["file"]).parent.mkdir(parents=True)
    told.path(issue["file"]).write_text(NAME)
    with told.writing("Ada") as session:
        session.add(Setting(key="report-1", value={"files": [issue]}))
    done = withdraw(told, Informant, informant(told), person="Ada")
    assert done.beside == ("full.zip",)
    assert done.issued == ("report-1",)
    assert any("report-1" in one for one in withdrawn_in_words(done).warned)
    assert any("full.zip" in one for one in withdrawn_in_words(done).warned)


FORMS = (
    "Mrs QUÉXWORTH rang",
    unicodedata.normalize("NFD", "the Quéxworth barn"),
    "behind Quéxworths house",
    "philomena.quexworth@example.org",
    "Philomena_Quéxworth.jpg",
)


@pytest.fixture
def in_many_forms(daybook: Daybook) -> Daybook:
    """Return a daybook in which a name stands in capitals, inflected and so on."""
    name = "Philomena Quéxworth"
    with daybook.writing("Ada") as session:
        session.add(Informant(key="quexworth", name=name))
        session.add(Source(key="Quéxworth letters", citation="letters"))
        session.add_all(Lead(what=form, state="to do") for form in FORMS)
    with daybook.writing("Ada", f"{name.upper()} rang") as session:
        session.add(Lead(what=name.upper(), state="to do"))
        session.add(Lead(what=unicodedata.normalize("NFD", name), state="to do"))
    return daybook


def test_a_name_that_stands_in_another_form_is_named_and_goes_when_asked(
    in_many_forms: Daybook,
) -> None:
    """Unicode Standard Annex 15: one text in several forms; 3.13: without case."""
    with in_many_forms.reading() as session:
        person = find(session, Informant, "quexworth").id
    done = withdraw(in_many_forms, Informant, person, person="Ada", everywhere=True)
    assert set(done.redacted) == {"lead 'lead-6'", "lead 'lead-7'"}
    assert set(done.parts_in) == {f"lead 'lead-{n}'" for n in range(1, 6)}
    assert "QUÉXWORTH" in done.parts
    assert set(done.keys) == {"informant 'quexworth'", "source 'Quéxworth letters'"}
    told = " ".join(withdrawn_in_words(done).warned)
    assert "in the key of" in told
    assert "informant 'quexworth'" in told
    again = withdraw(
        in_many_forms, Informant, person, person="Ada", everywhere=True,
        words=done.parts,
    )  # fmt: skip
    assert (again.parts_in, again.acts, again.still_in) == ((), (), ())
    with in_many_forms.reading() as session:
        left = " ".join(session.scalars(select(Lead.what))).casefold()
        assert "xworth" not in left
        assert not any(
            "XWORTH" in why for why in session.scalars(select(JournalRow.why))
        )
        assert disagreements(session) == []
    with pytest.raises(InputError, match="key of source 'Quéxworth letters'"):
        withdraw(
            in_many_forms, Informant, person, person="Ada", everywhere=True,
            words=["Quéxworth"],
        )  # fmt: skip


def test_reasons_of_other_acts_that_hold_a_name_are_named(
    in_many_forms: Daybook,
) -> None:
    with in_many_forms.reading() as session:
        person = find(session, Informant, "quexworth").id
        chosen = select(JournalRow.act).where(JournalRow.why != "")
        (act,) = set(session.scalars(chosen))
    done = withdraw(
        in_many_forms, Informant, person, person="Ada", why="Mrs Quéxworth asked"
    )
    assert act[:8] in done.acts
    assert done.acts[-1] == "this one"
    assert act[:8] in " ".join(withdrawn_in_words(done).warned)


@pytest.mark.parametrize("new_daybook", ["sqlite"], indirect=True)
def test_copies_of_the_database_in_the_folder_are_named(told: Daybook) -> None:
    """Whatever they are called, they hold the daybook as it was."""
    copies = ("daybook.sqlite (1)", "daybook.sqlite.bak", "terrain/old.sqlite")
    for name in copies:
        shutil.copy(told.path("daybook.sqlite"), told.path(name))
    done = withdraw(told, Informant, informant(told), person="Ada")
    assert done.beside == copies


@pytest.mark.parametrize(
    "new_daybook",
    [pytest.param("postgresql", marks=pytest.mark.outside_program("postgresql"))],
    indirect=True,
)
def test_a_withdrawal_waits_for_no_idle_reader_of_a_server(
    told: Daybook, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever forgot a window would stop all others."""
    monkeypatch.setattr("wherestood.daybook.scrub._PATIENCE_MS", 50)
    with told.engine.connect() as idle:
        idle.execute(select(Plate.key)).all()
        assert not withdraw(told, Informant, informant(told), person="Ada").finished
        assert (told.folder / PENDING).exists()
    assert scrub.finish(told.folder, told.engine)
    assert not (told.folder / PENDING).exists()


def test_a_note_of_a_withdrawal_that_cannot_be_read_locks_nobody_out(
    tmp_path: Path,
) -> None:
    """A cut of the power may leave it empty."""
    Daybook.create(tmp_path / "daybook").close()
    note = tmp_path / "daybook" / PENDING
    note.touch()
    with Daybook.open(tmp_path / "daybook") as daybook:
        assert daybook.finished
    assert not note.exists()


@pytest.mark.parametrize("new_daybook", ["sqlite"], indirect=True)
def test_a_withdrawal_beside_another_writer_is_done_and_finished_later(
    told: Daybook, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever opens the daybook meanwhile can work, and is told."""
    monkeypatch.setattr("wherestood.daybook.scrub._PATIENCE_MS", 1)
    other = sqlite3.connect(told.path("daybook.sqlite"), isolation_level=None)
    finish = scrub.finish

    def beside_a_writer(folder: Path, engine: Any) -> bool:
        other.execute("BEGIN IMMEDIATE")
        return finish(folder, engine)

    monkeypatch.setattr("wherestood.daybook.withdraw.finish", beside_a_writer)
    assert not withdraw(told, Informant, informant(told), person="Ada").finished
    with Daybook.open(told.folder) as again:
        assert not again.finished
    other.execute("ROLLBACK")
    other.close()
    with Daybook.open(told.folder) as again:
        assert again.finished
