"""Ask people about a plate by a query sheet, and keep what they reply."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
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
from wherestood.daybook.report_public import picture_may_go
from wherestood.daybook.sheet_number import is_numbered, numbers_of, read_number
from wherestood.daybook.tables import (
    QUERY_SHEET,
    Detail,
    Informant,
    Lead,
    Mark,
    Plate,
    Statement,
)
from wherestood.errors import InputError
from wherestood.record.query_sheet import (
    QuerySheet,
    query_sheet_pdf,
    questions_about,
)

__all__ = ["Asked", "Pointed", "ask_people", "keep_replies"]

_STRICTER = {
    "may-be-named": ("yes", "initials", "no"),
    "may-be-published": ("all", "summary", "nothing"),
}


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
    keep: Callable[[bytes], None] | None = None,
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
    keep : callable, optional
        Writes the PDF away; if it cannot, nothing was asked.

    Raises
    ------
    InputError
        If the plate has no scan or is set aside, its picture may not go out, a letter
        is not there, a question has several lines, or one page does not do.
    """
    for words in more:
        if len(words.splitlines()) > 1:
            raise InputError(
                f"The question {words.splitlines()[0][:60]!r} has several lines.",
                "Write it on one.",
            )
    with book.reading() as session:
        row = find(session, Plate, plate)
        _refuse_removed(row)
        if why_not := picture_may_go(session, plate):
            raise InputError(
                f"The picture of plate {plate} may not go out: {why_not}.",
                "Change that right or restriction first, if its holder agrees.",
            )
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
    lead = Lead(plate_id=row.id, where=whom or None, state="asked")
    lead.note = "\n".join(f"{one.number}. {one.words}" for one in questions)
    with book.reading() as session:
        code = _free_code(session, lead)
    lead.what = f"{QUERY_SHEET}{code}"
    sheet = QuerySheet(code, tuple(seen), questions, back_to)
    # Drawn before anybody is kept from writing: a large scan takes a while.
    pdf = query_sheet_pdf(sheet, opened_scan(book.folder, row, scan))
    with book.writing(person, why or "people asked by a query sheet") as session:
        if _free_code(session, lead) != code:
            raise InputError(
                f"Somebody else's sheet got the number {code} just now.",
                "Ask once more.",
            )
        session.add(lead)
        session.flush()
        if keep is not None:
            keep(pdf)
        return Asked(lead.key, sheet, pdf)


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
        _refuse_removed(plate)
        who = find(session, Informant, informant) if informant else Informant()
        if not informant:
            who.may_be_named = who.may_be_published = "not asked"
            session.add(who)
        else:
            _refuse_looser(who, terms or {})
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
            made += _point_out(session, plate, who, lead, one, weight)
        # Who replied stands with each statement: the lead is the asker's own.
        lead.state = "answered"
        replied = f"Replied: {', '.join(made)}."
        lead.outcome = f"{lead.outcome} {replied}" if lead.outcome else replied
        return made


def _refuse_removed(plate: Plate) -> None:
    if plate.removed or plate.withdrawn:
        raise InputError(f"Plate {plate.key} is set aside.", "Bring it back first.")


def _refuse_looser(who: Informant, terms: Mapping[str, Any]) -> None:
    """Refuse terms that let out what a known informant said before, or a new name."""
    name = terms.get("name")
    if name and who.name and name != who.name:
        raise InputError(
            f"The {who.key} has another name in the daybook.",
            "Leave --informant out for somebody new, or change the informant first.",
        )
    for field, was in (
        ("may-be-named", who.may_be_named), ("may-be-published", who.may_be_published),
    ):  # fmt: skip
        now = terms.get(field)
        order = _STRICTER[field]
        if was in order and now in (*order, "not asked"):
            before, after = order.index(was), order.index(now) if now in order else -1
            if after < before:
                raise InputError(
                    f"The {who.key} agreed to less before: {field} {was}.",
                    "It would hold for all they said; change the informant first.",
                )


def _free_code(session: Session, lead: Lead) -> str:
    """Return a number that no other sheet has, not one that was set aside either."""
    numbers = numbers_of(lead.id)
    wanted = [f"{QUERY_SHEET}{number}" for number in numbers]
    taken = set(session.scalars(select(Lead.what).where(Lead.what.in_(wanted))))
    return next(n for n in numbers if f"{QUERY_SHEET}{n}" not in taken)


def _lead_of(session: Session, sheet: str) -> Lead:
    code = read_number(sheet)
    # Sheets of before had no check character; their numbers go on to be known.
    wanted = select(Lead).where(Lead.what == f"{QUERY_SHEET}{code}")
    both = session.scalars(wanted).all()
    if len(both) > 1:
        raise InputError(
            f"Two sheets have the code {sheet!r}.",
            f"Give the lead's key: {', '.join(one.key for one in both)}.",
        )
    chosen = select(Lead).where(Lead.key == sheet)
    found = both[0] if both else session.scalars(chosen).first()
    if found is None:
        if is_numbered(code):
            raise InputError(
                f"No sheet of this daybook has the number {code}.",
                "Look for the daybook that it was sent from.",
            )
        raise InputError(
            f"{sheet!r} is no sheet's number: its last letter, which checks the "
            "others, does not fit.",
            "Read it once more from the sheet, such as 3F09A2Q; or give the key of "
            "its lead.",
        )
    if found.withdrawn:
        raise InputError(
            f"The {found.key} was withdrawn, and its sheet with it.",
            "Ask anew, if that may be.",
        )
    if found.removed:
        raise InputError(f"{found.what} is set aside.", "Bring its lead back first.")
    if not found.what.startswith(QUERY_SHEET) or found.plate_id is None:
        raise InputError(
            f"{sheet!r} is no query sheet.",
            "Give the number that stands on it, such as 3F09A2Q.",
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
    session: Session,
    plate: Plate,
    who: Informant,
    lead: Lead,
    one: Pointed,
    weight: float | None,
) -> list[str]:
    """Keep a spot; its words as a statement, which falls with who said them."""
    scan = main_scan(session, plate)
    detail = Detail(plate_id=plate.id, scan_id=scan.id if scan else None)
    statement = Statement(
        plate_id=plate.id, about="subject", words=one.words, informant_id=who.id,
        weight=weight,
    )  # fmt: skip
    session.add_all((detail, statement))
    session.flush()
    detail.identified_by = f"{statement.key}, on {lead.what.lower()}"
    statement.note = f"Of what was pointed out as {plate.key}/{detail.key}"
    mark = Mark(
        plate_id=plate.id, scan_id=detail.scan_id, detail_id=detail.id, shape="point",
        points_px=[[float(v) for v in one.point_px]],
    )  # fmt: skip
    session.add(mark)
    session.flush()
    return [statement.key, f"{plate.key}/{detail.key}"]
