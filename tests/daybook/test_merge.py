"""Check that two people's copies of one daybook become one, and nothing is dropped."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from sqlalchemy import select

from wherestood.daybook import Daybook, find
from wherestood.daybook.handover import merge, merge_in_words
from wherestood.daybook.history import history
from wherestood.daybook.originals import take_in, verify
from wherestood.daybook.replay import disagreements, rebuild_into, table_rows
from wherestood.daybook.tables import (
    ITEMS,
    Decision,
    Detail,
    Feature,
    Fix,
    FixInput,
    Informant,
    Item,
    JournalRow,
    Lead,
    Mark,
    Note,
    Plate,
    Scan,
    Source,
    Statement,
)
from wherestood.daybook.undo import undo
from wherestood.daybook.withdraw import withdraw
from wherestood.errors import DaybookError, InputError
from wherestood.progress import SilentProgress

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


class WhileCopying(SilentProgress):
    """Do something once, while files are copied."""

    def __init__(self, work: Callable[[], object]) -> None:
        self.work = [work]
        self.copying = False

    def stage(self, name: str, total: int | None = None) -> None:  # noqa: ARG002
        self.copying = name == "copying their files"

    def advance(self, steps: int = 1) -> None:  # noqa: ARG002
        if self.copying and self.work:
            self.work.pop()()


def test_others_write_while_their_originals_are_copied(
    copies: tuple[Daybook, Daybook], tmp_path: Path
) -> None:
    ours, theirs = copies
    take_in(theirs, "1987.12", scan(tmp_path / "s.tif", 1), "Ben")
    with Daybook.open(ours.folder) as beside:
        work = WhileCopying(
            lambda: change(beside, "Cy", Plate, "1987.12", title="The weir")
        )
        merged = merge(ours, theirs, "Ada", progress=work)
    assert (work.work, merged.files) == ([], ("originals/1987.12/s.tif",))
    assert value(ours, Plate, "1987.12", "title") == "The weir"
    is_sound(ours)


def test_two_who_merge_one_copy_at_once_take_its_files_once(
    copies: tuple[Daybook, Daybook], tmp_path: Path
) -> None:
    ours, theirs = copies
    take_in(theirs, "1987.12", scan(tmp_path / "s.tif", 1), "Ben")
    with Daybook.open(ours.folder) as beside:
        work = WhileCopying(lambda: merge(beside, theirs, "Cy"))
        merged = merge(ours, theirs, "Ada", progress=work)
    assert (work.work, merged.acts, merged.files) == ([], 0, ())
    assert len(list((ours.folder / "originals").rglob("*.tif"))) == 1
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


def withdrawn_informant(
    daybook: Daybook, *, everywhere: bool = False, person: str = "Ada"
) -> str:
    with daybook.reading() as session:
        (informant,) = session.scalars(select(Informant.id))
    withdraw(daybook, Informant, informant, person=person, everywhere=everywhere)
    return informant


def all_told(daybook: Daybook) -> str:
    """Return all that tables, journal and index say."""
    with daybook.reading() as session:
        names = [*ITEMS, "journal", "words"]
        connection = session.connection()
        return repr(
            [connection.exec_driver_sql(f"SELECT * FROM {n}").all() for n in names]
        )


def test_an_old_copy_that_still_holds_it_is_named_and_brings_nothing(
    copies: tuple[Daybook, Daybook],
) -> None:
    ours, theirs = copies
    withdrawn_informant(ours)
    merged = merge(ours, theirs, "Ada")
    assert merged.kept_out.still_held == ("informant-1",)
    told = merge_in_words(merged)
    assert any("informant-1" in warned for warned in told.warned)
    assert "Cora" not in all_told(ours)
    is_sound(ours)


def test_what_they_added_about_it_falls_too(copies: tuple[Daybook, Daybook]) -> None:
    """A statement by the informant, a lead to them and a note on them say the same."""
    ours, theirs = copies
    informant = withdrawn_informant(ours)
    with theirs.writing("Ben", "Cora Ling rang again") as session:
        words = Statement(informant_id=informant, words="Cora: it was the upper ford")
        note = Note(about_table="informants", about_id=informant, words="Cora moved")
        session.add_all([words, note, Lead(
            what="ask Cora's niece", state="to do", informant_id=informant
        )])  # fmt: skip
    merged = merge(ours, theirs, "Ada")
    assert (merged.added, merged.left_out) == (0, 3)
    assert "Cora" not in all_told(ours)
    is_sound(ours)


def test_words_withdrawn_everywhere_are_taken_out_of_what_comes(
    copies: tuple[Daybook, Daybook],
) -> None:
    ours, theirs = copies
    withdrawn_informant(ours, everywhere=True)
    with theirs.writing("Ben", "as Cora Ling told me") as session:
        plate = find(session, Plate, "1987.12")
        session.add(Detail(plate_id=plate.id, what="the house of Cora Ling"))
        plate.note = "Cora Ling says: by the ford"
    change(theirs, "Cora Ling", Lead, "lead-1", state="nothing found")
    merged = merge(ours, theirs, "Ada")
    assert set(merged.kept_out.redacted) == {"1987.12", "1987.12/A"}
    assert "Cora" not in all_told(ours)
    assert value(ours, Detail, "1987.12/A", "what") == "the house of [withdrawn]"
    assert any("1987.12/A" in one for one in merge_in_words(merged).warned)
    is_sound(ours)


def test_a_conflict_does_not_quote_what_was_withdrawn(
    copies: tuple[Daybook, Daybook],
) -> None:
    ours, theirs = copies
    withdrawn_informant(ours, everywhere=True)
    change(ours, "Ada", Plate, "1987.12", title="The old mill")
    change(theirs, "Ben", Plate, "1987.12", title="Cora Ling's mill")
    (conflict,) = merge(ours, theirs, "Ada").conflicts
    assert conflict.theirs == "[withdrawn]'s mill"
    assert "Cora" not in all_told(ours)


def test_words_withdrawn_in_one_place_are_named_where_they_come_in_another(
    copies: tuple[Daybook, Daybook],
) -> None:
    ours, theirs = copies
    withdrawn_informant(ours)
    with theirs.writing("Ben") as session:
        session.add(Note(about_table="plates", about_id=find(
            session, Plate, "1987.12"
        ).id, words="asked Cora Ling"))  # fmt: skip
    merged = merge(ours, theirs, "Ada")
    assert merged.kept_out.still_in == ("note-1",)
    assert merged.kept_out.redacted == ()


def test_a_fix_of_theirs_that_rests_on_it_comes_without_its_words(
    copies: tuple[Daybook, Daybook],
) -> None:
    ours, theirs = copies
    informant = withdrawn_informant(ours)
    with theirs.writing("Ben") as session:
        plate = find(session, Plate, "1987.12")
        fix = Fix(
            plate_id=plate.id, made="2026-01-01", verdict="located", lon_deg=7.1,
            lat_deg=46.2, words="By what Cora Ling said.",
        )  # fmt: skip
        session.add(fix)
        session.flush()
        session.add(FixInput(
            fix_id=fix.id, role="item", name="who", item_table="informants",
            item_id=informant,
        ))  # fmt: skip
    merge(ours, theirs, "Ada")
    assert value(ours, Fix, "fix-1", "words") == "By what [withdrawn] said."
    assert value(ours, Fix, "fix-1", "lon_deg") == 7.1
    assert "Cora" not in all_told(ours)
    is_sound(ours)


def test_what_they_withdrew_everywhere_goes_from_everywhere_here(
    copies: tuple[Daybook, Daybook],
) -> None:
    ours, theirs = copies
    change(ours, "Ada", Plate, "1987.12", note="told by Cora Ling")
    withdrawn_informant(theirs, everywhere=True, person="Ben")
    (done,) = merge(ours, theirs, "Ada").withdrawals
    assert done.redacted == ("plate '1987.12'",)
    assert "Cora" not in all_told(ours)
    is_sound(ours)


@pytest.mark.parametrize("new_daybook", ["sqlite"], indirect=True)
def test_words_taken_out_later_by_name_go_from_the_other_copy_too(
    copies: tuple[Daybook, Daybook],
) -> None:
    ours, theirs = copies
    words = "Mrs Quexworth rang again"
    with ours.writing("Ada", "because Philo Quexworth rang") as session:
        session.add(Source(citation=words))
    merge(theirs, ours, "Ben")
    informant = withdrawn_informant(theirs, everywhere=True, person="Ben")
    merge(ours, theirs, "Ada")
    withdraw(theirs, Informant, informant, person="Ben", everywhere=True,
             words=["Quexworth"])  # fmt: skip
    # Each goes on to write; of neither is the word to come back.
    with ours.writing("Ada", "Quexworth called") as session:
        session.add(Source(citation="the Quexworth papers"))
    assert merge(ours, theirs, "Ada").withdrawals
    merge(theirs, ours, "Ben")
    for book in copies:
        for path in book.folder.rglob("*"):
            assert not path.is_file() or b"Quexworth" not in path.read_bytes()
        with book.reading() as session:
            assert disagreements(session) == []


@pytest.mark.parametrize("new_daybook", ["sqlite"], indirect=True)
def test_words_taken_out_here_by_name_do_not_come_back(
    copies: tuple[Daybook, Daybook],
) -> None:
    ours, theirs = copies
    with ours.writing("Ada") as session:
        session.add(Source(citation="Mrs Quexworth rang again"))
    merge(theirs, ours, "Ben")
    informant = withdrawn_informant(ours, everywhere=True)
    withdraw(ours, Informant, informant, person="Ada", everywhere=True,
             words=["Quexworth"])  # fmt: skip
    with theirs.writing("Ben", "Quexworth called") as session:
        session.add(Source(citation="the Quexworth papers"))
    merge(ours, theirs, "Ada")
    for path in ours.folder.rglob("*"):
        assert not path.is_file() or b"Quexworth" not in path.read_bytes()


def test_a_file_that_was_withdrawn_does_not_come_under_another_name(
    copies: tuple[Daybook, Daybook], tmp_path: Path
) -> None:
    ours, theirs = copies
    picture = scan(tmp_path / "s.tif", 1)
    take_in(ours, "1987.12", picture, "Ada")
    with ours.reading() as session:
        taken = session.scalars(select(Scan.id)).one()
    withdraw(ours, Scan, taken, person="Ada")
    with pytest.raises(InputError, match=r"withdrawn from this daybook on .* 1987"):
        take_in(ours, "1987.12", picture, "Ada")
    (tmp_path / "b").mkdir()
    take_in(theirs, "1987.12", scan(tmp_path / "b" / "other name.tif", 1), "Ben")
    merged = merge(ours, theirs, "Ada")
    assert merged.files == ()
    assert merged.kept_out.same_files == ("1987.12/1",)
    assert list((ours.folder / "originals").rglob("*.tif")) == []
    is_sound(ours)
    assert take_in(ours, "1987.12", picture, "Ada", again=True).address == "1987.12/2"


def test_a_plate_they_set_aside_while_we_worked_on_it_stays(
    copies: tuple[Daybook, Daybook],
) -> None:
    """Its own row is as it was; what is new is on it."""
    ours, theirs = copies
    change(theirs, "Ben", Plate, "1987.12", removed=True)
    with ours.writing("Ada") as session:
        plate = find(session, Plate, "1987.12")
        session.add(Detail(plate_id=plate.id, what="chimney"))
    merged = merge(ours, theirs, "Ada")
    assert [(one.called, one.column) for one in merged.conflicts] == [
        ("1987.12", "removed")
    ]
    assert value(ours, Plate, "1987.12", "removed") is False
    is_sound(ours)


def test_two_decisions_that_differ_are_listed_and_both_kept(
    copies: tuple[Daybook, Daybook],
) -> None:
    for copy, person, conclusion in zip(
        copies, ("Ada", "Ben"), ("accepted", "rejected"), strict=True
    ):
        with copy.writing(person) as session:
            plate = find(session, Plate, "1987.12")
            session.add(Decision(
                plate_id=plate.id, conclusion=conclusion, words="so it is",
                decided_by=person, decided="2026-01-01T00:00:00+00:00",
            ))  # fmt: skip
    merged = merge(*copies, "Ada")
    (conflict,) = merged.conflicts
    assert conflict.column == "decision"
    assert "accepted by Ada" in conflict.ours
    assert "rejected by Ben" in conflict.theirs
    told = merge_in_words(merged).warned
    assert any("not alike" in one for one in told)
    with copies[0].reading() as session:
        assert len(session.scalars(select(Decision)).all()) == 2
        (note,) = session.scalars(select(Note))
        assert "rejected by Ben" in note.words
    is_sound(copies[0])


def test_a_plate_has_one_main_scan_after_a_merge(
    copies: tuple[Daybook, Daybook], tmp_path: Path
) -> None:
    for number, copy in enumerate(copies):
        (tmp_path / str(number)).mkdir()
        take_in(copy, "1987.12", scan(tmp_path / str(number) / "s.tif", 1), "Ada")
    merged = merge(*copies, "Ada")
    (conflict,) = merged.conflicts
    assert (conflict.column, conflict.ours) == ("main", "1987.12/1")
    assert value(copies[0], Scan, "1987.12/1", "main") is True
    assert value(copies[0], Scan, "1987.12/2", "main") is False
    assert merged.same_scans == (("1987.12/2", "1987.12/1"),)
    is_sound(copies[0])


def test_evidence_they_changed_names_their_feature_by_its_new_key(
    copies: tuple[Daybook, Daybook],
) -> None:
    """Both called a new feature feature-1: our barn, their mill."""
    ours, theirs = copies
    with ours.writing("Ada") as session:
        plate = find(session, Plate, "1987.12")
        session.add(
            Mark(plate_id=plate.id, key="m1", shape="point", points_px=[[1.0, 2.0]])
        )
    merge(theirs, ours, "Ben")
    for copy, what in zip(copies, ("barn", "mill"), strict=True):
        with copy.writing("Ada") as session:
            session.add(Feature(what=what))
            session.flush()
            if what == "mill":
                find(session, Mark, "1987.12/m1").features = [
                    {"feature": "feature-1", "weight": 1.0}
                ]
    merge(ours, theirs, "Ada")
    assert value(ours, Feature, "feature-2", "what") == "mill"
    assert value(ours, Mark, "1987.12/m1", "features") == [
        {"feature": "feature-2", "weight": 1.0}
    ]
    is_sound(ours)


def test_a_merge_is_not_taken_back_as_if_it_were_one_change(
    copies: tuple[Daybook, Daybook],
) -> None:
    ours, theirs = copies
    change(ours, "Ada", Plate, "1987.12", title="The old mill")
    change(theirs, "Ben", Plate, "1987.12", title="Fell's mill")
    merge(ours, theirs, "Ada")
    with pytest.raises(InputError, match="merged another copy"):
        undo(ours, "Ada")
    with ours.reading() as session:
        entries = history(session)
        act = entries[-1].act
        assert any("Merged another copy: 1 act" in s for s in entries[-1].sentences)
    with pytest.raises(InputError, match="not taken back as one"):
        undo(ours, "Ada", act=act[:8])
    assert value(ours, Plate, "1987.12", "title") == "The old mill"
    change(ours, "Ada", Plate, "1987.12", note="later")
    undo(ours, "Ada")
    with pytest.raises(InputError, match="merged another copy"):
        undo(ours, "Ada")


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
    with pytest.raises(InputError, match="is empty"):
        merge(copies[0], stranger, "Ada")
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
