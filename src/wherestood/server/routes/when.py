"""Answer when a plate was exposed."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query

from wherestood.daybook.when_exposed import Given, date_of_plate
from wherestood.record.date_form import date_form, sun_form
from wherestood.record.sun_words import bearing_words, sun_words
from wherestood.server.desk import Book
from wherestood.server.forms.when import DateTold, SunTold
from wherestood.server.routes.items import item_of

__all__ = ["router"]

router = APIRouter(prefix="/api/plates", tags=["when"])
_Many = Annotated[list[str] | None, Query()]


@router.get("/{plate_id}/when", operation_id="getWhen")
def when(
    book: Book,
    plate_id: str,
    period: _Many = None,
    sign: _Many = None,
    between: str | None = None,
    shadow: _Many = None,
    slope: str | None = None,
    day: str | None = None,
    hour: str | None = None,
    clock: str = "local mean",
    zone_hours: float | None = None,
) -> DateTold:
    """Tell when a plate was exposed, by all that its daybook holds."""
    with book.reading() as session:
        key = item_of(session, "plates", plate_id).key
    given = Given(
        periods=tuple(period or ()),
        signs=tuple(sign or ()),
        between=between,
        shadows=tuple(shadow or ()),
        slope=slope,
        day=day,
        hour=hour,
        clock=clock,
        zone_hours=zone_hours,
    )
    told = date_of_plate(book, key, given)
    form = date_form(told.whole, told.contributions, told.offers, told.left_out)
    sun = None
    if told.sun is not None:
        sections = sun_words(
            told.sun.directions, told.sun.fit, told.sun.where, zone_hours
        )
        if told.sun.bearing is not None:
            sections.append(bearing_words(told.sun.bearing))
        words = [line for section in sections for line in section.lines]
        sun = SunTold(**sun_form(told.sun.directions, told.sun.fit), words=words)
    return DateTold(**form, sun=sun)
