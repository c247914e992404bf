"""Ask people about a plate by a query sheet, and keep what they reply."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.book import Daybook
from wherestood.daybook.keys import find
from wherestood.daybook.main_scan import main_scan
from wherestood.daybook.opened_scan import opened_scan
from wherestood.daybook.records import set_fields
from wherestood.daybook.report_facts import seen_on
from wherestood.daybook.tables import Detail, Informant, Lead, Mark, Plate, Statement
from wherestood.errors import InputError
from wherestood.record.query_sheet import (
    QuerySheet,
    query_sheet_pdf,
    questions_about,
)

__all__ = ["Asked", "Pointed", "ask_people", "keep_replies"]

#: Letters of a sheet's code: of the lead's own id, which tells nothing.
_CODE_LETTERS = 6
_SHEET = "Query sheet "


@dataclass(frozen=True)
class Asked:
    """Hold a query sheet that goes out.

    Attributes
    ----------
    lead : str
        Key of the lead that was made of it.
    sheet : QuerySheet
    pdf : bytes
    """

    lead: str
    sheet: QuerySheet
    pdf: bytes


@dataclass(frozen=True)
class Pointed:
    """Be a spot of the picture that somebody pointed out, and what they said it is.

    Attributes
    ----------
    point_px : (x, y)
        On the scan [px].
    words : str
    """

    point_px: tuple[float, float]
    words: str


def ask_people(
    book: Daybook,
    plate: str,
    person: str,
    *,
    letters: Sequence[str] | None = None,
    more: Sequence[str] = (),
    whom: str = "",
    back_to: str = "",
    why: str = "",
) -> Asked:
    """Make a query sheet of a plate, and note that it was asked.

    Parameters
    ----------
    book : Daybook
    plate : str
        Its key.
    person, why : str
        Who asks, and why.
    letters : sequence of str, optional
        What is asked about; all that is lettered and marked unless told.
    more : sequence of str
        Questions of one's own; whoever asks sees that they name no place.
    whom, back_to : str
        Who is asked, which stays in the daybook; where the sheet goes back to.

    Raises
    ------
    InputError
        If the plate has no scan, a letter is not there, or one page does not do.
    """
    with book.reading() as session:
        row = find(session, Plate, plate)
        scan = main_scan(session, row)
        seen = [one for one in seen_on(session, row) if one.points_px]
    if scan is None:
        raise InputError(f"Plate {plate} has no scan to show.", "Take one in first.")
    if letters is not None:
        there = {one.letter for one in seen}
        if missing := [one for one in letters if one not in there]:
            raise InputError(
                f"Nothing on plate {plate} is lettered {missing[0]} and marked.",
                f"There are: {', '.join(sorted(there)) or 'none'}.",
            )
        seen = [one for one in seen if one.letter in set(letters)]
    questions = questions_about([one.letter for one in seen], more)
    opened = opened_scan(book.folder, row, scan)
    with book.writing(person, why or "people asked by a query sheet") as session:
        lead = Lead(plate_id=row.id, what=_SHEET, where=whom or None, state="asked")
        session.add(lead)
        session.flush()
        code = lead.id[:_CODE_LETTERS].upper()
        lead.what = f"{_SHEET}{code}"
        lead.note = "\n".join(f"{one.number}. {one.words}" for one in questions)
        sheet = QuerySheet(code, tuple(seen), questions, back_to)
        return Asked(lead.key, sheet, query_sheet_pdf(sheet, opened))


def keep_replies(
    book: Daybook,
    sheet: str,
    person: str,
    *,
    informant: str | None = None,
    terms: Mapping[str, Any] | None = None,
    answers: Mapping[int, str] | None = None,
    pointed: Sequence[Pointed] = (),
    weight: float | None = None,
    why: str = "",
) -> list[str]:
    """Keep what somebody replied to a query sheet, with their terms.

    Parameters
    ----------
    book : Daybook
    sheet : str
        The sheet's code, or its lead's key.
    person, why : str
        Who writes it down, and why.
    informant : str, optional
        Key of somebody the daybook knows; a new one is made unless told.
    terms : mapping, optional
        Of the informant, by field: ``name``, ``how-they-know``, ``may-be-named``,
        ``may-be-published``, ``consent-words``, ``consent``.
    answers : mapping of int to str
        By the question's number.
    pointed : sequence of Pointed
        What was drawn on the picture.
    weight : float, optional
        How probable the answers are right.

    Returns
    -------
    list of str
        Keys of statements and addresses of details made, in one act.

    Raises
    ------
    InputError
        If there is no such sheet or question, or nothing was replied.
    """
    answers = {number: said.strip() for number, said in (answers or {}).items()}
    if not pointed and not any(answers.values()):
        raise InputError(
            "There is no reply to keep.", "Give answers, or what was pointed out."
        )
    with book.writing(person, why or "replies to a query sheet") as session:
        lead = _lead_of(session, sheet)
        asked = _questions_of(lead)
        if unknown := [number for number in answers if number not in asked]:
            raise InputError(
                f"{lead.what} has no question {unknown[0]}.",
                f"It has {min(asked)} to {max(asked)}.",
            )
        plate = session.get_one(Plate, lead.plate_id)
        who = find(session, Informant, informant) if informant else Informant()
        if not informant:
            who.may_be_named = who.may_be_published = "not asked"
            session.add(who)
        set_fields(session, who, dict(terms or {}))
        session.flush()
        made = []
        for number, said in answers.items():
            if not said:
                continue
            statement = Statement(
                plate_id=plate.id, about=_about(asked[number]), words=said,
                informant_id=who.id, weight=weight,
                note=f"Answer to question {number} of {lead.what.lower()}: "
                f"{asked[number]}",
            )  # fmt: skip
            session.add(statement)
            session.flush()
            made.append(statement.key)
        for one in pointed:
            made.append(_point_out(session, plate, who, lead, one))
        lead.state, lead.informant_id = "answered", who.id
        lead.outcome = f"Replied: {', '.join(made)}."
        return made


def _lead_of(session: Session, sheet: str) -> Lead:
    wanted = select(Lead).where(Lead.what == f"{_SHEET}{sheet.strip().upper()}")
    found = session.scalars(wanted).first()
    if found is None:
        found = find(session, Lead, sheet)
    if not found.what.startswith(_SHEET) or found.plate_id is None:
        raise InputError(
            f"{sheet!r} is no query sheet.",
            "Give the code that stands on it, such as 3F09A2.",
        )
    return found


def _questions_of(lead: Lead) -> dict[int, str]:
    found = {}
    for line in (lead.note or "").splitlines():
        number, dot, words = line.partition(". ")
        if dot and number.isdecimal():
            found[int(number)] = words
    return found


def _about(question: str) -> str:
    """Return what an answer to a question of every sheet speaks of."""
    if question.startswith("Where do you think"):
        return "place"
    if question.startswith("When may it"):
        return "date"
    return "subject" if question.startswith("What is ") else "other"


def _point_out(
    session: Session, plate: Plate, who: Informant, lead: Lead, one: Pointed
) -> str:
    scan = main_scan(session, plate)
    detail = Detail(
        plate_id=plate.id, scan_id=scan.id if scan else None, what=one.words,
        identified_by=f"{who.key}, on {lead.what.lower()}",
    )  # fmt: skip
    session.add(detail)
    session.flush()
    mark = Mark(
        plate_id=plate.id, scan_id=detail.scan_id, detail_id=detail.id, shape="point",
        points_px=[[float(v) for v in one.point_px]],
    )  # fmt: skip
    session.add(mark)
    session.flush()
    return f"{plate.key}/{detail.key}"
