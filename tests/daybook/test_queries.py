"""People are asked by a sheet, and what they reply is kept with their terms."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from sqlalchemy import select

from wherestood.daybook import Daybook, find
from wherestood.daybook.change_items import add_item
from wherestood.daybook.handing_out import Wanted, gather
from wherestood.daybook.originals import take_in
from wherestood.daybook.queries import Pointed, ask_people, keep_replies
from wherestood.daybook.sheet_number import check_character
from wherestood.daybook.tables import Detail, Informant, Lead, Mark, Plate, Statement
from wherestood.daybook.undo import undo
from wherestood.daybook.withdraw import withdraw
from wherestood.errors import InputError

PERSON = "Ada Moss"


@pytest.fixture
def book(tmp_path: Path) -> Daybook:
    """Return a daybook with one plate, on which a gate is lettered."""
    tones = np.tile(np.linspace(40, 220, 300).astype(np.uint8), (200, 1))
    Image.fromarray(tones).save(tmp_path / "gate.png")
    made = Daybook.create(tmp_path / "town")
    take_in(made, "1987.12", tmp_path / "gate.png", PERSON, new_plate={})
    with made.writing(PERSON) as session:
        plate = find(session, Plate, "1987.12")
        detail = Detail(plate_id=plate.id, key="A", what="gate")
        session.add(detail)
        session.flush()
        session.add(
            Mark(
                plate_id=plate.id, detail_id=detail.id, shape="point",
                points_px=[[120.0, 90.0]],
            )
        )  # fmt: skip
    return made


def test_replies_are_kept_with_the_informants_terms(book: Daybook) -> None:
    with book:
        asked = ask_people(book, "1987.12", PERSON, whom="the brewer's daughter")
        assert asked.pdf.startswith(b"%PDF")
        assert [one.letter for one in asked.sheet.questions] == ["A", "", ""]
        made = keep_replies(
            book, asked.sheet.code.lower(), PERSON,
            terms={
                "name": "B. Fen", "may-be-named": "initials",
                "may-be-published": "summary", "consent-words": "signed the sheet",
            },
            answers={1: "The brewery gate, gone since the flood.", 3: " "},
            pointed=[Pointed((200.0, 150.0), "the old well")], weight=0.7,
        )  # fmt: skip
        assert len(made) == 3
        with book.reading() as session:
            statement = find(session, Statement, made[0])
            [informant] = session.scalars(select(Informant)).all()
            [lead] = session.scalars(select(Lead)).all()
            well = find(session, Detail, made[2])
            [mark] = session.scalars(select(Mark).where(Mark.detail_id == well.id))
            assert statement.words == "The brewery gate, gone since the flood."
            assert (statement.about, statement.weight) == ("subject", 0.7)
            assert statement.informant_id == informant.id
            assert informant.may_be_named == "initials"
            assert informant.may_be_published == "summary"
            assert lead.state == "answered"
            assert lead.informant_id is None
            assert mark.points_px == [[200.0, 150.0]]
            assert made[1] in (well.identified_by or "")
            assert find(session, Statement, made[1]).informant_id == informant.id
        undo(book, PERSON)
        with book.reading() as session:
            for kind in (Statement, Informant):
                assert set(session.scalars(select(kind.removed))) == {True}
            set_aside = select(Detail.key).where(Detail.removed.is_(True))
            assert session.scalars(set_aside).all() == ["B"]
            assert [one.state for one in session.scalars(select(Lead))] == ["asked"]


def test_what_was_pointed_out_is_told_on_her_terms_and_falls_with_her(
    book: Daybook,
) -> None:
    with book:
        asked = ask_people(book, "1987.12", PERSON)
        terms = {"name": "B. Fen", "may-be-published": "nothing"}
        spot = [Pointed((200.0, 150.0), "Quexbarn")]
        keep_replies(book, asked.sheet.code, PERSON, terms=terms, pointed=spot)
        assert "Quexbarn" not in repr(gather(book, Wanted("public")).handed)
        looser = {"may-be-published": "all"}
        with pytest.raises(InputError, match="agreed to less"):
            keep_replies(book, asked.sheet.code, PERSON, informant="informant-1",
                         terms=looser, answers={1: "x"})  # fmt: skip
        with pytest.raises(InputError, match="another name"):
            keep_replies(book, asked.sheet.code, PERSON, informant="informant-1",
                         terms={"name": "C. Ash"}, answers={1: "x"})  # fmt: skip
        keep_replies(book, asked.sheet.code, PERSON, answers={1: "a gate"})
        with book.reading() as session:
            (lead,) = session.scalars(select(Lead))
            assert (lead.outcome or "").count("Replied:") == 2
            assert lead.informant_id is None
            who = find(session, Informant, "informant-1").id
        withdraw(book, Informant, who, person=PERSON, everywhere=True)
        for path in book.folder.rglob("*"):
            assert not path.is_file() or b"Quexbarn" not in path.read_bytes()
        assert keep_replies(book, asked.sheet.code, PERSON, answers={1: "an arch"})


def test_a_sheet_stays_where_its_only_replier_withdraws(book: Daybook) -> None:
    with book:
        asked = ask_people(book, "1987.12", PERSON)
        terms = {"name": "B. Quexworth"}
        keep_replies(book, asked.sheet.code, PERSON, terms=terms, answers={1: "a gate"})
        with book.writing(PERSON) as session:
            who = find(session, Informant, "informant-1").id
            # As sheets were kept before.
            find(session, Lead, asked.lead).informant_id = who
        told = withdraw(book, Informant, who, person=PERSON)
        assert set(told.stubs) == {"informant 'informant-1'", "statement 'statement-1'"}
        with book.reading() as session:
            lead = find(session, Lead, asked.lead)
            assert lead.what == f"Query sheet {asked.sheet.code}"
            assert lead.outcome == "Replied: statement-1."
            assert find(session, Statement, "statement-1").withdrawn
        assert keep_replies(book, asked.sheet.code, PERSON, answers={1: "an arch"})


def test_a_sheet_s_number_that_is_misread_is_refused(book: Daybook) -> None:
    assert check_character("A12425GABC1234002") == "M"  # GRid's example
    with book:
        code = ask_people(book, "1987.12", PERSON).sheet.code
        assert check_character(code[:-1]) == code[-1]
        for place, letter in enumerate(code):
            other = "1" if letter == "0" else "0"
            misread = f"{code[:place]}{other}{code[place + 1 :]}"
            with pytest.raises(InputError, match="does not fit"):
                keep_replies(book, misread, PERSON, answers={1: "x"})
        by_hand = f"{code[:3].lower()}-{code[3:]} ".replace("0", "O")
        assert keep_replies(book, by_hand, PERSON, answers={1: "a gate"})


def test_a_sheet_that_cannot_be_written_was_not_asked(book: Daybook) -> None:
    def full(_pdf: bytes) -> None:
        raise PermissionError(13, "Permission denied")

    with book:
        with pytest.raises(PermissionError):
            ask_people(book, "1987.12", PERSON, keep=full)
        with book.reading() as session:
            assert not session.scalars(select(Lead)).all()


def test_a_picture_that_may_not_go_out_goes_on_no_sheet(book: Daybook) -> None:
    with book:
        with pytest.raises(InputError, match="several lines"):
            ask_people(book, "1987.12", PERSON, more=["What\n1. roof?"])
        add_item(book, "restrictions", {"covered": True}, PERSON,
                 about=("plates", "1987.12"))  # fmt: skip
        with pytest.raises(InputError, match="it is covered"):
            ask_people(book, "1987.12", PERSON)
        with book.reading() as session:
            assert not session.scalars(select(Lead)).all()


def test_what_is_no_reply_is_refused(book: Daybook) -> None:
    with book:
        with pytest.raises(InputError, match="lettered C"):
            ask_people(book, "1987.12", PERSON, letters=["C"])
        asked = ask_people(book, "1987.12", PERSON)
        with pytest.raises(InputError, match="no reply"):
            keep_replies(book, asked.lead, PERSON, answers={1: " "})
        with pytest.raises(InputError, match="no question 8"):
            keep_replies(book, asked.lead, PERSON, answers={8: "A mill."})
        with pytest.raises(InputError):
            keep_replies(book, "ZZZZZZ", PERSON, answers={1: "A mill."})
        with pytest.raises(InputError, match="off its scan"):
            keep_replies(book, asked.lead, PERSON, pointed=[Pointed((9e3, 1.0), "x")])
        with book.reading() as session:
            assert not session.scalars(select(Informant)).all()
