"""Answer for what was done, and take it back."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated, Literal

from fastapi import APIRouter, Query
from sqlalchemy.orm import Session

from wherestood.daybook.history import Entry, entry_of, history, tally
from wherestood.daybook.undo import TakenBack, next_to_take_back, redo, undo
from wherestood.server.desk import Book, DeskNeeded
from wherestood.server.forms.state import (
    HistoryEntry,
    HistoryTold,
    TakenBackTold,
    Taking,
    TallyTold,
)
from wherestood.server.routes.items import Why, item_of
from wherestood.server.troubles import StaleError

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["history"])


@router.get("/history", operation_id="getHistory")
def told(
    book: Book,
    plate_id: str | None = None,
    last: Annotated[int, Query(ge=1, le=2000)] = 100,
) -> HistoryTold:
    """Tell what was done, on one plate or in the whole daybook."""
    with book.reading() as session:
        plate = item_of(session, "plates", plate_id) if plate_id else None
        counted = tally(session, plate)
        return HistoryTold(
            entries=[_entry(one) for one in history(session, plate, last=last)],
            tally=TallyTold(**asdict(counted), sentence=counted.sentence()),
            **_next(session, "undo"),
            **_next(session, "redo"),
        )


@router.post("/undo", operation_id="undo")
def take_back(
    desk: DeskNeeded, book: Book, taking: Taking | None = None, why: Why = ""
) -> TakenBackTold:
    """Take back the last act, or another one."""
    with book.reading() as session:
        if not (taking and taking.act) and next_to_take_back(session, "undo") is None:
            raise StaleError("There is nothing to undo.")
    done = undo(book, desk.person, why, taking.act if taking else "")
    return _taken(book, done)


@router.post("/redo", operation_id="redo")
def do_again(
    desk: DeskNeeded, book: Book, taking: Taking | None = None, why: Why = ""
) -> TakenBackTold:
    """Do again what was last taken back."""
    with book.reading() as session:
        if not (taking and taking.act) and next_to_take_back(session, "redo") is None:
            raise StaleError("There is nothing to do again.")
    done = redo(book, desk.person, why, taking.act if taking else "")
    return _taken(book, done)


def _next(session: Session, taking: Literal["undo", "redo"]) -> dict[str, str | None]:
    """Return what would be taken back, in words, and which act that is."""
    act = next_to_take_back(session, taking)
    entry = entry_of(session, act) if act else None
    if entry is None:
        return {f"can_{taking}": None, f"{taking}_act": None}
    more = len(entry.sentences) - 1
    words = entry.sentences[0] + (f" And {more} more." if more else "")
    return {f"can_{taking}": words, f"{taking}_act": act}


def _taken(book: Book, done: TakenBack) -> TakenBackTold:
    with book.reading() as session:
        entry = entry_of(session, done.act)
    return TakenBackTold(
        **asdict(done), sentences=list(entry.sentences) if entry else []
    )


def _entry(entry: Entry) -> HistoryEntry:
    return HistoryEntry(
        act=entry.act,
        time=entry.time,
        person=entry.person,
        why=entry.why,
        sentences=list(entry.sentences),
    )
