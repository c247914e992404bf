"""Lay plates out as a contact sheet: what is known of each, a page at a time."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from sqlalchemy import func, select
from sqlalchemy.orm import Session, aliased

from wherestood.daybook.choose import Box, Wanted, chosen_ids
from wherestood.daybook.gazetteer.offer import span_of_dates
from wherestood.daybook.tables import (
    Dating,
    Decision,
    Fix,
    Maker,
    Plate,
    Restriction,
    Scan,
)

__all__ = [
    "Card", "SheetWanted", "Sort", "cards_of", "field_deg", "fixes_told",
    "greater_sd_m", "plates_wanted", "scan_order",
]  # fmt: skip

Sort = Literal["key", "title", "date", "newest"]
_AT_ONCE = 500  # ids in one statement


@dataclass(frozen=True)
class SheetWanted:
    """Say which plates are wanted, and in what order.

    Attributes
    ----------
    words, box, removed
        As of `wherestood.daybook.choose.Wanted`.
    maker_id, size, grade : str or None
        What the plate says.
    verdict : str or None
        Of its newest fix that stands; ``none`` where it has no fix.
    from_year, to_year : float or None
        Years within which it may have been exposed.
    sort : str
        By what they are ordered.
    """

    words: str = ""
    box: Box | None = None
    removed: bool | None = False
    maker_id: str | None = None
    size: str | None = None
    grade: str | None = None
    verdict: str | None = None
    from_year: float | None = None
    to_year: float | None = None
    sort: Sort = "key"


@dataclass(frozen=True)
class Card:
    """Hold what a contact sheet shows of a plate.

    Attributes
    ----------
    plate : Plate
    maker : str or None
    years : (float, float) or None
        First and last year of exposure; infinite where open.
    scan : Scan or None
        The copy that is shown.
    covered, because : bool, str or None
        Whether the picture is covered, and why.
    fix_id, verdict : str or None
        Of the newest fix that stands.
    lon_deg, lat_deg, sd_m, bearing_deg, field_deg : float or None
        Its station, the greater standard error, where the frame's centre looks, and
        how wide the plate sees [deg, m].
    decision : str or None
        What a person concluded.
    """

    plate: Plate
    maker: str | None
    years: tuple[float, float] | None
    scan: Scan | None
    covered: bool
    because: str | None
    fix_id: str | None
    verdict: str | None
    lon_deg: float | None
    lat_deg: float | None
    sd_m: float | None
    bearing_deg: float | None
    field_deg: float | None
    decision: str | None


def plates_wanted(session: Session, wanted: SheetWanted) -> list[str]:
    """Return the ids of the plates wanted, in order."""
    values = {
        name: value
        for name, value in (
            ("maker_id", wanted.maker_id),
            ("size", wanted.size),
            ("grade", wanted.grade),
        )
        if value is not None
    }
    ids = chosen_ids(
        session,
        Plate,
        Wanted(wanted.words, wanted.box, None, values, wanted.removed),
    )
    if wanted.verdict is not None:
        newest = dict(session.execute(_newest(Fix.plate_id, Fix.verdict)).all())
        ids = [one for one in ids if newest.get(one, "none") == wanted.verdict]
    dated = wanted.from_year is not None or wanted.to_year is not None
    if dated or wanted.sort == "date":
        years = _years(session, None)
        if dated:
            low = -math.inf if wanted.from_year is None else wanted.from_year
            high = math.inf if wanted.to_year is None else wanted.to_year
            ids = [
                one
                for one in ids
                if (span := years.get(one)) and span[0] <= high and span[1] >= low
            ]
        if wanted.sort == "date":
            late = (math.inf, math.inf)
            ids.sort(key=lambda one: years.get(one) or late)
    if wanted.sort == "title":
        titles = dict(session.execute(select(Plate.id, Plate.title)).all())
        ids.sort(key=lambda one: (not titles.get(one), str(titles.get(one)).casefold()))
    elif wanted.sort == "newest":
        made = dict(session.execute(_newest(Fix.plate_id, Fix.made)).all())
        ids.sort(key=lambda one: str(made.get(one, "")), reverse=True)
    return ids


def cards_of(session: Session, ids: Sequence[str]) -> list[Card]:
    """Return the cards of plates, in the order given."""
    cards: list[Card] = []
    for first in range(0, len(ids), _AT_ONCE):
        cards += _cards(session, ids[first : first + _AT_ONCE])
    return cards


def _cards(session: Session, ids: Sequence[str]) -> list[Card]:
    plates = {p.id: p for p in session.scalars(select(Plate).where(Plate.id.in_(ids)))}
    made_by = {plate.maker_id for plate in plates.values() if plate.maker_id}
    wanted = select(Maker.id, Maker.name).where(Maker.id.in_(made_by))
    makers = dict(session.execute(wanted).all())
    years = _years(session, ids)
    scans = _scans(session, ids)
    covers = _covers(session, ids)
    fixes = {row.plate_id: row for row in session.execute(fixes_told(ids))}
    decisions = _decisions(session, ids)
    cards = []
    for one in ids:
        plate, scan, fix = plates[one], scans.get(one), fixes.get(one)
        cards.append(
            Card(
                plate,
                makers.get(plate.maker_id or ""),
                years.get(one),
                scan,
                one in covers,
                covers.get(one),
                fix.id if fix else None,
                fix.verdict if fix else None,
                fix.lon_deg if fix else None,
                fix.lat_deg if fix else None,
                greater_sd_m(fix),
                fix.bearing_deg if fix else None,
                field_deg(fix, scan.width_px if scan else None),
                decisions.get(one),
            )
        )
    return cards


def _newest(*columns: Any) -> Any:
    """Select columns of the newest fix that stands of each plate."""
    later = aliased(Fix)
    newer = select(later.id).where(
        later.plate_id == Fix.plate_id, later.made > Fix.made, later.removed.is_(False)
    )
    return select(*columns).where(Fix.removed.is_(False), ~newer.exists())


def fixes_told(ids: Sequence[str] | None) -> Any:
    """Select what is told of the newest fix of each plate; of all plates if None."""
    camera = Fix.answer["camera"]
    told = _newest(
        Fix.id,
        Fix.plate_id,
        Fix.verdict,
        Fix.lon_deg,
        Fix.lat_deg,
        Fix.sd_east_m,
        Fix.sd_north_m,
        camera["sight"]["bearing_deg"].as_float().label("bearing_deg"),
        camera["principal_distance_px"].as_float().label("distance_px"),
    )
    return told if ids is None else told.where(Fix.plate_id.in_(ids))


def greater_sd_m(fix: Any) -> float | None:
    """Return the greater standard error of a fix's station [m]."""
    if fix is None:
        return None
    known = [sd for sd in (fix.sd_east_m, fix.sd_north_m) if sd is not None]
    return max(known, default=None)


def field_deg(fix: Any, width_px: int | None) -> float | None:
    """Return how wide a plate sees, by its fix and its scan's width [deg]."""
    if fix is None or not fix.distance_px or not width_px:
        return None
    return math.degrees(2.0 * math.atan(width_px / 2.0 / fix.distance_px))


def scan_order() -> tuple[Any, Any]:
    """Return by what scans are ordered, of which the main or the first is shown."""
    return func.length(Scan.key), Scan.key


def _years(
    session: Session, ids: Sequence[str] | None
) -> dict[str, tuple[float, float] | None]:
    wanted = select(Dating).where(Dating.removed.is_(False))
    if ids is not None:
        wanted = wanted.where(Dating.plate_id.in_(ids))
    by_plate: dict[str, list[Dating]] = {}
    for dating in session.scalars(wanted):
        by_plate.setdefault(dating.plate_id, []).append(dating)
    return {plate: span_of_dates(dates) for plate, dates in by_plate.items()}


def _scans(session: Session, ids: Sequence[str]) -> dict[str, Scan]:
    wanted = select(Scan).where(
        Scan.plate_id.in_(ids), Scan.removed.is_(False), Scan.withdrawn.is_(None)
    )
    found: dict[str, Scan] = {}
    # The main copy, else the first.
    for scan in session.scalars(wanted.order_by(*scan_order())):
        if scan.plate_id not in found or (scan.main and not found[scan.plate_id].main):
            found[scan.plate_id] = scan
    return found


def _covers(session: Session, ids: Sequence[str]) -> dict[str, str | None]:
    wanted = select(Restriction.plate_id, Restriction.because).where(
        Restriction.plate_id.in_(ids),
        Restriction.covered.is_(True),
        Restriction.removed.is_(False),
        Restriction.withdrawn.is_(None),
    )
    return {plate: because for plate, because in session.execute(wanted) if plate}


def _decisions(session: Session, ids: Sequence[str]) -> dict[str, str]:
    wanted = select(Decision).where(
        Decision.plate_id.in_(ids), Decision.removed.is_(False)
    )
    made = session.scalars(wanted.order_by(Decision.decided)).all()
    replaced = {one.supersedes_id for one in made}
    return {one.plate_id: one.conclusion for one in made if one.id not in replaced}
