"""Answer for plates: the contact sheet, their places, and one whole."""

from __future__ import annotations

import math
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query
from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.choose import Wanted, choose
from wherestood.daybook.contact_sheet import (
    Card,
    SheetWanted,
    Sort,
    cards_of,
    plates_wanted,
)
from wherestood.daybook.drawn_regions import regions_drawn
from wherestood.daybook.positions import positions_of
from wherestood.daybook.question import main_scan
from wherestood.daybook.tables import ITEMS, About, Feature, Plate
from wherestood.errors import WherestoodError
from wherestood.server.desk import Book, DeskNeeded
from wherestood.server.forms.plates import (
    PlateCard,
    PlateCards,
    PlatePlaces,
    PlateRegion,
    PlateWhole,
    ScanLook,
)
from wherestood.server.readiness import readiness
from wherestood.server.routes.items import box_of, item_of, tell, tell_all
from wherestood.server.scans import version_of

__all__ = ["router"]

router = APIRouter(prefix="/api/plates", tags=["plates"])
LONGEST_PAGE = 500
_ON_PLATE = (
    "scans", "details", "marks", "evidence", "statements", "dates", "leads",
    "proposed_positions", "decisions", "fixes", "restrictions", "rights", "notes",
)  # fmt: skip


def _wanted(
    words: str = "",
    box: str = "",
    removed: bool | None = False,
    maker_id: str | None = None,
    size: str | None = None,
    grade: str | None = None,
    verdict: str | None = None,
    from_year: float | None = None,
    to_year: float | None = None,
    sort: Sort = "key",
) -> SheetWanted:
    return SheetWanted(
        words, box_of(box), removed, maker_id, size, grade, verdict, from_year,
        to_year, sort,
    )  # fmt: skip


SheetAsked = Annotated[SheetWanted, Depends(_wanted)]


@router.get("", operation_id="listPlates")
def sheet(
    book: Book,
    wanted: SheetAsked,
    offset: Annotated[int, Query(ge=0)] = 0,
    limit: Annotated[int, Query(ge=1, le=LONGEST_PAGE)] = 100,
) -> PlateCards:
    """Give a page of the contact sheet."""
    with book.reading() as session:
        ids = plates_wanted(session, wanted)
        cards = cards_of(session, ids[offset : offset + limit])
    return PlateCards(cards=[_card(one) for one in cards], total=len(ids))


@router.get("/places", operation_id="listPlaces")
def places(book: Book, wanted: SheetAsked) -> PlatePlaces:
    """Give positions, doubts and years of all plates chosen, column by column."""
    with book.reading() as session:
        told = positions_of(session, plates_wanted(session, wanted))
    years = [_closed(one.years) for one in told]
    return PlatePlaces(
        id=[one.id for one in told],
        key=[one.key for one in told],
        lon_deg=[one.lon_deg for one in told],
        lat_deg=[one.lat_deg for one in told],
        sd_m=[one.sd_m for one in told],
        bearing_deg=[one.bearing_deg for one in told],
        field_deg=[one.field_deg for one in told],
        verdict=[one.verdict for one in told],
        from_year=[first for first, _ in years],
        to_year=[last for _, last in years],
    )


@router.get("/regions", operation_id="listRegions")
def regions(book: Book, wanted: SheetAsked) -> list[PlateRegion]:
    """Give the ground that holds each camera; none where too many are chosen."""
    with book.reading() as session:
        told = regions_drawn(session, plates_wanted(session, wanted))
    return [
        PlateRegion(
            plate_id=one.plate_id,
            probability=one.probability,
            rings_deg=[list(ring) for ring in one.rings_deg],
        )
        for one in told
    ]


@router.get("/{plate_id}", operation_id="getPlateWhole")
def whole(desk: DeskNeeded, book: Book, plate_id: str) -> PlateWhole:
    """Tell everything on one plate."""
    with book.reading() as session:
        plate = item_of(session, "plates", plate_id)
        told = {table: _on_plate(session, table, plate) for table in _ON_PLATE}
        features = _features(session, told)
        scan = main_scan(session, plate)
        shown = tell(session, plate)
    look = None
    if scan is not None:
        try:
            opened = desk.scans.plate(book, plate, scan)
            look = ScanLook(
                scan_id=scan.id,
                width_px=opened.width_px,
                height_px=opened.height_px,
                px_per_mm=opened.px_per_mm,
                size_mm=opened.size_mm,
                negative=opened.negative,
                version=version_of(scan, negative=opened.negative),
                notes=list(opened.notes),
            )
        except WherestoodError:
            look = None  # what is wrong is told by what a run still needs
    return PlateWhole(
        plate=shown,
        look=look,
        features=features,
        ready=readiness(desk, book, plate_id),
        **told,
    )


def _on_plate(session: Session, table: str, plate: Plate) -> list[dict[str, Any]]:
    kind: Any = ITEMS[table]
    if issubclass(kind, About):
        chosen = select(kind).where(kind.plate_id == plate.id, kind.removed.is_(False))
        return tell_all(session, session.scalars(chosen.order_by(kind.key)))
    wanted = Wanted(plate_id=plate.id, removed=False)
    return tell_all(session, choose(session, kind, wanted))


def _features(session: Session, told: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the features that what is on a plate refers to, by id or key."""
    ids = {one["feature_id"] for one in told["details"] if one["feature_id"]}
    ids |= {one["feature_id"] for one in told["statements"] if one["feature_id"]}
    keys = {
        str(named["feature"])
        for mark in told["marks"]
        for named in mark["features"] or ()
        if "feature" in named
    }
    for item in told["evidence"]:
        content = item["content"] or {}
        keys |= {
            value
            for name in ("feature", "a", "b", "instead_of")
            if isinstance(value := content.get(name), str)
        }
    wanted = select(Feature).where(Feature.id.in_(ids) | Feature.key.in_(keys))
    return tell_all(session, session.scalars(wanted.order_by(Feature.key)))


def _card(card: Card) -> PlateCard:
    plate, scan = card.plate, card.scan
    from_year, to_year = _closed(card.years)
    return PlateCard(
        id=plate.id,
        key=plate.key,
        title=plate.title,
        place_words=plate.place_words,
        date_words=plate.date_words,
        maker=card.maker,
        size=plate.size,
        grade=plate.grade,
        from_year=from_year,
        to_year=to_year,
        scan_id=scan.id if scan else None,
        width_px=scan.width_px if scan else None,
        height_px=scan.height_px if scan else None,
        covered=card.covered,
        cover_because=card.because,
        fix_id=card.fix_id,
        verdict=card.verdict,
        lon_deg=card.lon_deg,
        lat_deg=card.lat_deg,
        sd_m=card.sd_m,
        bearing_deg=card.bearing_deg,
        field_deg=card.field_deg,
        decision=card.decision,
        removed=plate.removed,
    )


def _closed(years: tuple[float, float] | None) -> tuple[float | None, float | None]:
    """Return first and last year, None where open."""
    low, high = years or (-math.inf, math.inf)
    return low if math.isfinite(low) else None, high if math.isfinite(high) else None
