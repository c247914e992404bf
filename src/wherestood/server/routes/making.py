"""Answer how plates were made, how many minutes lie between them, a maker's ways."""

from __future__ import annotations

from datetime import date

from fastapi import APIRouter

from wherestood.daybook import Daybook
from wherestood.daybook.how_made import AskedMaking, how_made
from wherestood.daybook.journeys_told import journeys_form, minutes_form
from wherestood.daybook.keys import find
from wherestood.daybook.made_told import made_form, made_words
from wherestood.daybook.makers_journeys import journeys_of_maker
from wherestood.daybook.makers_whereabouts import whereabouts_of
from wherestood.daybook.minutes_apart import minutes_apart, others_of_panorama
from wherestood.daybook.tables import Maker, Statement
from wherestood.errors import WherestoodError
from wherestood.record.journey_words import journey_words, minutes_words
from wherestood.server.desk import Book, DeskNeeded
from wherestood.server.forms.making import (
    JourneysTold,
    MadeTold,
    MinutesTold,
    OneSection,
    WhereaboutTold,
)
from wherestood.server.routes.items import item_of
from wherestood.server.routes.when import hills_of_plate

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["making"])


@router.get("/plates/{plate_id}/made", operation_id="getMade")
def made(book: Book, plate_id: str, sides: str | None = None) -> MadeTold:
    """Tell how a plate was made, by all that its daybook holds."""
    with book.reading() as session:
        key = item_of(session, "plates", plate_id).key
    found = how_made(book, key, AskedMaking(sides=sides))
    words = [OneSection.of(section) for section in made_words(found)]
    return MadeTold(**made_form(found), words=words)


@router.get("/plates/{plate_id}/minutes", operation_id="getMinutes")
def minutes(desk: DeskNeeded, book: Book, plate_id: str) -> list[MinutesTold]:
    """Tell how many minutes lie between a plate and others of its panorama."""
    with book.reading() as session:
        plate = item_of(session, "plates", plate_id)
        others = others_of_panorama(session, plate)
    told = []
    for other in others:
        try:
            apart = minutes_apart(
                book, plate.key, other.key, hills_of_plate(desk, book, plate_id)
            )
        except WherestoodError as trouble:
            told.append(MinutesTold.not_told(plate.key, other.key, str(trouble)))
            continue
        sections = minutes_words(apart.first, apart.second, apart.found, apart.notes)
        words = [line for section in sections for line in section.lines]
        told.append(MinutesTold(**minutes_form(apart), words=words))
    return told


@router.get("/makers/{maker_id}/journeys", operation_id="getJourneys")
def journeys(book: Book, maker_id: str, by: str = "cart") -> JourneysTold:
    """Tell a maker's plates in order, and which journeys they allow."""
    with book.reading() as session:
        key = item_of(session, "makers", maker_id).key
    found = journeys_of_maker(book, key, by)
    stops = [(one.stop.key, one.title, one.date, one.fits) for one in found.stops]
    sections = journey_words(
        found.name, found.mode, stops, found.journeys, found.contradict, found.left_out
    )
    words = [OneSection.of(section) for section in sections]
    return JourneysTold(
        **journeys_form(found), whereabouts=_whereabouts(book, key), words=words
    )


def _whereabouts(book: Daybook, key: str) -> list[WhereaboutTold]:
    with book.reading() as session:
        return [
            WhereaboutTold(
                statement_id=find(session, Statement, one.stop.key).id,
                words=one.words,
                lon_deg=one.stop.lon_deg,
                lat_deg=one.stop.lat_deg,
                first_day=date.fromordinal(one.stop.first_day).isoformat(),
                last_day=date.fromordinal(one.stop.last_day).isoformat(),
                by=one.mode,
                source=one.source,
            )
            for one in whereabouts_of(session, find(session, Maker, key))
        ]
