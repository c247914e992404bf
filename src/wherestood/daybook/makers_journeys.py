"""Lay a maker's plates in order of their dates, and say which journeys they allow."""

from __future__ import annotations

import calendar
import csv
import io
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select

from wherestood.dating.itinerary import (
    Journey,
    Stop,
    cannot_both_be,
    fits_trip,
    in_order,
)
from wherestood.dating.months import year_month
from wherestood.dating.weigh import months_considered, weigh
from wherestood.daybook.book import Daybook
from wherestood.daybook.camera_of_fix import last_fix
from wherestood.daybook.date_items import exact_days
from wherestood.daybook.keys import find
from wherestood.daybook.makers_whereabouts import whereabouts_of
from wherestood.daybook.named_items import items_of_plate
from wherestood.daybook.region import region_of
from wherestood.daybook.tables import Maker, Plate
from wherestood.errors import EvidenceError
from wherestood.evidence.edtf import check_edtf, has_number, read_edtf

__all__ = [
    "MakersJourneys", "PlateStop", "journeys_of_maker", "read_trip", "trip_as_written",
]  # fmt: skip

SHARE = 0.9


@dataclass(frozen=True)
class PlateStop:
    """Be a plate of the maker's that has a place and a date.

    Attributes
    ----------
    stop : Stop
        Place, and first and last day that nine tenths leave.
    plate_id, title : str
        The plate's.
    date : str
        The days in words.
    fits : bool or None
        Whether it can have been exposed on the trip; None where none is told.
    """

    stop: Stop
    plate_id: str
    title: str
    date: str
    fits: bool | None


@dataclass(frozen=True)
class MakersJourneys:
    """Hold which journeys a maker's plates allow.

    Attributes
    ----------
    name, mode : str
        The maker's, and how the maker went.
    stops : tuple of PlateStop
        In order of their days.
    journeys : tuple of Journey
        From each to the next.
    contradict : tuple of (Journey, Journey)
        Pairs that no one traveller can have made both.
    left_out : tuple of str
        Plates that have no place or no date, and why that is.
    """

    name: str
    mode: str
    stops: tuple[PlateStop, ...]
    journeys: tuple[Journey, ...]
    contradict: tuple[tuple[Journey, Journey], ...]
    left_out: tuple[str, ...]


def journeys_of_maker(
    book: Daybook, key: str, mode: str = "cart", trip: tuple[Stop, ...] = ()
) -> MakersJourneys:
    """Say which journeys a maker's plates allow.

    Parameters
    ----------
    book : Daybook
    key : str
        The maker's.
    mode : str
        How the maker went, a key of `KM_A_DAY`.
    trip : tuple of Stop
        A known trip, in order; that which the daybook keeps of the maker unless told.

    Raises
    ------
    InputError
        If there is no such maker, or the mode is not known.
    """
    stops: list[PlateStop] = []
    left_out: list[str] = []
    with book.reading() as session:
        maker, region = find(session, Maker, key), region_of(session)
        trip = trip or tuple(one.stop for one in whereabouts_of(session, maker))
        wanted = select(Plate).where(
            Plate.maker_id == maker.id, Plate.removed.is_(False),
            Plate.withdrawn.is_(None),
        )  # fmt: skip
        for plate in session.scalars(wanted.order_by(Plate.key)):
            fix = last_fix(session, plate)
            if fix is None or fix.lon_deg is None or fix.lat_deg is None:
                left_out.append(f"{plate.key} has no place yet.")
                continue
            items = items_of_plate(session, plate, region)
            whole = weigh(items, *months_considered(region.between))
            days = _days(exact_days(session, plate))
            span = whole.interval(SHARE)
            if days is None and (span is None or not whole.groups):
                left_out.append(f"{plate.key} has no date yet, or dates that clash.")
                continue
            if days is None:
                assert span is not None
                days = _first_day(span.first), _last_day(span.last)
            stop = Stop(plate.key, fix.lon_deg, fix.lat_deg, *days)
            fits = fits_trip(stop, trip, mode) if trip else None
            stops.append(
                PlateStop(stop, plate.id, plate.title or "", _words(days), fits)
            )
        name = maker.name
    only = [one.stop for one in stops]
    journeys = in_order(only, mode)
    place = {one.stop.key: n for n, one in enumerate(stops)}
    order = [*(one.start for one in journeys), *(one.end for one in journeys[-1:])]
    ordered = [stops[place[one]] for one in order] if journeys else stops
    return MakersJourneys(
        name, mode, tuple(ordered), journeys, cannot_both_be(only, mode),
        tuple(left_out),
    )  # fmt: skip


def read_trip(text: str, name: str) -> tuple[Stop, ...]:
    """Read a known trip: lines of longitude, latitude, date and, if any, a name.

    Raises
    ------
    EvidenceError
        If a line cannot be read; it is named.
    """
    return tuple(stop for stop, _ in trip_as_written(text, name))


def trip_as_written(text: str, name: str) -> tuple[tuple[Stop, str], ...]:
    """Read a known trip, each stop with its date as written.

    Raises
    ------
    EvidenceError
        If a line cannot be read; it is named.
    """
    stops: list[tuple[Stop, str]] = []
    for number, row in enumerate(csv.reader(io.StringIO(text)), 1):
        cells = [cell.strip() for cell in row]
        if not any(cells) or cells[0].startswith("#"):
            continue
        if number == 1 and cells[0].lower().startswith("lon"):
            continue
        try:
            lon, lat, edtf = float(cells[0]), float(cells[1]), cells[2]
        except (ValueError, IndexError) as trouble:
            raise EvidenceError(
                f"Line {number} of {name} is no stop.",
                "Write longitude, latitude, date and, if you like, a name: "
                "8.51,46.12,1874-06-03,the ferry.",
            ) from trouble
        what = cells[3] if len(cells) > 3 and cells[3] else f"stop {len(stops) + 1}"
        days = _span_days(edtf, f"line {number}")
        stops.append((Stop(what, lon, lat, *days), edtf))
    if not stops:
        raise EvidenceError(f"{name} holds no stop.", "Write one a line.")
    return tuple(sorted(stops, key=lambda one: one[0].first_day))


def _span_days(edtf: str, where: str) -> tuple[int, int]:
    check_edtf(edtf, f"the date in {where}")
    read = read_edtf(edtf)
    begin = None if read is None else read.begin
    end = begin if read is None or not read.is_span else read.end
    if begin is None or end is None:
        raise EvidenceError(
            f"The date in {where} is open.", "Give a first and a last day."
        )
    if not (has_number(begin.first) and has_number(end.last)):
        raise EvidenceError(
            f"The date in {where}, {edtf}, has a year that no journey is of.",
            "Write it with four digits.",
        )
    return date(*begin.first).toordinal(), date(*end.last).toordinal()


def _days(exact: list[tuple[tuple[int, int, int], float]]) -> tuple[int, int] | None:
    if not exact:
        return None
    ordinals = [date(*day).toordinal() for day, _ in exact]
    return min(ordinals), max(ordinals)


def _first_day(month: int) -> int:
    year, number = year_month(month)
    return date(year, number, 1).toordinal()


def _last_day(month: int) -> int:
    year, number = year_month(month)
    return date(year, number, calendar.monthrange(year, number)[1]).toordinal()


def _words(days: tuple[int, int]) -> str:
    first, last = (date.fromordinal(day) for day in days)
    if first == last:
        return f"{first.day} {first:%B %Y}"
    return f"{first.day} {first:%B %Y} to {last.day} {last:%B %Y}"
