"""Answer what holds for dates in the daybook's country."""

from __future__ import annotations

from fastapi import APIRouter

from wherestood.daybook.region import OwnTable, Region, keep_region, region_of
from wherestood.server.desk import Book, DeskNeeded
from wherestood.server.forms.region import RegionChange, RegionTold, TableGiven

__all__ = ["router"]

router = APIRouter(prefix="/api/region", tags=["when"])


@router.get("", operation_id="getRegion")
def region(book: Book) -> RegionTold:
    """Tell calendar, periods and signs of the daybook's country."""
    with book.reading() as session:
        return _told(region_of(session))


@router.patch("", operation_id="setRegion")
def set_region(desk: DeskNeeded, book: Book, change: RegionChange) -> RegionTold:
    """Keep some of it; a table that cannot be read is refused, and nothing changed."""

    def changed(before: Region) -> Region:
        told = change.model_fields_set
        return Region(
            before.julian if change.julian is None else change.julian,
            _table(change.periods) if "periods" in told else before.periods,
            _table(change.signs) if "signs" in told else before.signs,
            change.between or None if "between" in told else before.between,
        )

    return _told(keep_region(book, changed, desk.person, "what holds there for dates"))


def _table(given: TableGiven | None) -> OwnTable | None:
    return None if given is None else OwnTable(given.name, given.text)


def _told(region: Region) -> RegionTold:
    def table(own: OwnTable | None) -> TableGiven | None:
        return None if own is None else TableGiven(name=own.name, text=own.text)

    return RegionTold(
        julian=region.julian,
        periods=table(region.periods),
        signs=table(region.signs),
        between=region.between,
        period_names=sorted(region.known_periods()),
        sign_names=list(region.known_signs()),
    )
