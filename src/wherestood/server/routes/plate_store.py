"""Answer in which boxes and on which shelves glass stands, and what it weighs."""

from __future__ import annotations

from fastapi import APIRouter

from wherestood.dating.glass_store import CAUTIONS, THICKNESS_MM
from wherestood.daybook import Daybook
from wherestood.daybook.plate_store import (
    Box,
    BoxTold,
    keep_box,
    read_lot,
    store_told,
    take_away,
)
from wherestood.daybook.plate_store import ShelfTold as Carried
from wherestood.errors import InputError
from wherestood.server.desk import Book, DeskNeeded
from wherestood.server.forms.plate_store import (
    BoxGiven,
    BoxOfPlates,
    ShelfOfBoxes,
    StoreTold,
)
from wherestood.server.routes.items import item_of

__all__ = ["router"]

router = APIRouter(prefix="/api/plate_store", tags=["plates"])


@router.get("", operation_id="getPlateStore")
def store(book: Book) -> StoreTold:
    """Tell what every shelf carries."""
    return _told(book)


@router.put("/boxes/{name}", operation_id="keepBox")
def keep(desk: DeskNeeded, book: Book, name: str, given: BoxGiven) -> StoreTold:
    """Keep a box, and what its shelf may carry."""
    if given.kind not in THICKNESS_MM:
        raise InputError(
            f"No kind of glass plate is called {given.kind!r}.",
            f"Choose one of: {', '.join(THICKNESS_MM)}.",
        )
    lots = tuple(read_lot(one) for one in given.lots)
    with book.reading() as session:
        put = [item_of(session, "plates", one).key for one in given.plate_ids]
    box = Box(name.strip(), given.shelf.strip(), given.kind, lots)
    keep_box(book, box, put, given.limit_kg, desk.person, "boxes and shelves")
    return _told(book)


@router.delete("/boxes/{name}", operation_id="takeBoxAway")
def away(desk: DeskNeeded, book: Book, name: str) -> StoreTold:
    """Take a box out of the daybook; its plates lie in none."""
    take_away(book, name, desk.person, "boxes and shelves")
    return _told(book)


def _told(book: Daybook) -> StoreTold:
    with book.reading() as session:
        told = store_told(session)
    return StoreTold(
        shelves=[_shelf(one) for one in told.shelves],
        in_no_box=_box(told.loose),
        not_weighed=list(told.left_out),
        cautions=list(CAUTIONS),
        kinds=list(THICKNESS_MM),
    )


def _shelf(one: Carried) -> ShelfOfBoxes:
    words = "" if one.load is None else one.load.words
    return ShelfOfBoxes(
        name=one.name,
        boxes=[_box(box) for box in one.boxes],
        limit_kg=None if one.load is None else one.load.limit_kg,
        share=None if one.load is None else round(one.load.share, 3),
        words=f"{words[:1].upper()}{words[1:]}." if words else "",
    )


def _box(box: BoxTold) -> BoxOfPlates:
    return BoxOfPlates(
        name=box.name,
        plates=box.plates,
        glass_kg=round(box.glass_kg, 2),
        holds=list(box.holds),
    )
