"""Keep where a maker was and when, as statements, and hold them against a plate.

Such a statement is about the maker, belongs to no plate, and tells beside its words
which maker it is of, where, and how the maker went.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.dating.items import Item
from wherestood.dating.itinerary import Stop
from wherestood.dating.whereabouts import elsewhere
from wherestood.daybook.book import Daybook
from wherestood.daybook.camera_of_fix import last_fix
from wherestood.daybook.keys import find
from wherestood.daybook.tables import Maker, Plate, Source, Statement
from wherestood.errors import WherestoodError
from wherestood.evidence.edtf import has_number, read_edtf

__all__ = ["Whereabout", "items_by_whereabouts", "keep_trip", "whereabouts_of"]

TRUST = 0.9


@dataclass(frozen=True)
class Whereabout:
    """Be one place at which a maker was.

    Attributes
    ----------
    stop : Stop
        The statement's key, the place, first and last day.
    stayed : bool
        Whether the maker was there on all these days, or on some one.
    words : str
        As said.
    mode : str
        How the maker went.
    trust : float
        How probable it is right.
    source : str
        Who says so.
    """

    stop: Stop
    stayed: bool
    words: str
    mode: str
    trust: float
    source: str


def keep_trip(
    book: Daybook,
    key: str,
    stops: Sequence[tuple[Stop, str]],
    mode: str,
    person: str,
    why: str = "",
    source: str | None = None,
) -> tuple[str, ...]:
    """Keep a known trip of a maker: a statement a stop, all in one act.

    Parameters
    ----------
    book : Daybook
    key : str
        The maker's.
    stops : sequence of (Stop, str)
        Places and days, and the date as written: of ``1874-06`` some day is meant, of
        ``1874-06-01/1874-06-09`` all.
    mode : str
        How the maker went.
    person, why : str
        Who keeps it, and why.
    source : str, optional
        Key of the source that tells of it.

    Returns
    -------
    tuple of str
        Keys of the statements.
    """
    with book.writing(person, why) as session:
        maker = find(session, Maker, key)
        source_id = None if source is None else find(session, Source, source).id
        kept = []
        for stop, edtf in stops:
            said = Statement(
                about="maker", words=f"{maker.name} at {stop.key}", means_edtf=edtf,
                source_id=source_id,
                more={"maker_id": maker.id, "lon_deg": stop.lon_deg,
                      "lat_deg": stop.lat_deg, "by": mode},
            )  # fmt: skip
            session.add(said)
            session.flush()
            kept.append(said.key)
    return tuple(kept)


def whereabouts_of(
    session: Session, maker: Maker, left_out: list[str] | None = None
) -> tuple[Whereabout, ...]:
    """Return where a maker was, in order of first days; tell what cannot be read."""
    wanted = select(Statement).where(
        Statement.about == "maker", Statement.removed.is_(False),
        Statement.withdrawn.is_(None), Statement.more.is_not(None),
    )  # fmt: skip
    found = []
    for said in session.scalars(wanted.order_by(Statement.key)):
        more = said.more or {}
        if more.get("maker_id") != maker.id:
            continue
        read = _read(session, said, more)
        if read is None:
            if left_out is not None:
                left_out.append(
                    f"{said.key} is left out: it does not say where {maker.name} was "
                    "and between which days."
                )
            continue
        found.append(read)
    return tuple(sorted(found, key=lambda one: one.stop.first_day))


def items_by_whereabouts(
    session: Session, plate: Plate, left_out: list[str]
) -> list[Item]:
    """Make items of where a plate's maker was; they need the plate's place."""
    maker = None if plate.maker_id is None else session.get(Maker, plate.maker_id)
    if maker is None or maker.removed:
        return []
    known = whereabouts_of(session, maker, left_out)
    fix = last_fix(session, plate) if known else None
    if known and (fix is None or fix.lon_deg is None or fix.lat_deg is None):
        left_out.append(
            f"Where {maker.name} was waits for a fix: the way from there is not known."
        )
        return []
    items: list[Item] = []
    for one in known:
        assert fix is not None
        assert fix.lon_deg is not None
        assert fix.lat_deg is not None
        here = Stop(plate.key, fix.lon_deg, fix.lat_deg, 1, 1)
        try:
            item = elsewhere(
                one.stop.key, f"“{one.words}”, {_days(one.stop)}", here, one.stop,
                stayed=one.stayed, mode=one.mode, trust=one.trust, source=one.source,
            )  # fmt: skip
        except WherestoodError as trouble:
            left_out.append(f"{one.stop.key} is left out: {trouble.problem}")
            continue
        items += [] if item is None else [item]
    return items


def _read(session: Session, said: Statement, more: dict[str, Any]) -> Whereabout | None:
    read = read_edtf(said.means_edtf) if said.means_edtf else None
    begin = None if read is None else read.begin
    end = begin if read is None or not read.is_span else read.end
    lon, lat = more.get("lon_deg"), more.get("lat_deg")
    numbers = all(isinstance(one, int | float) for one in (lon, lat))
    if read is None or begin is None or end is None or not numbers:
        return None
    if not (has_number(begin.first) and has_number(end.last)):
        return None
    if begin.first > end.last:
        return None
    source = None if said.source_id is None else session.get(Source, said.source_id)
    first, last = (date(*day).toordinal() for day in (begin.first, end.last))
    return Whereabout(
        Stop(said.key, float(lon or 0.0), float(lat or 0.0), first, last),
        read.is_span, said.words, str(more.get("by", "cart")),
        TRUST if said.weight is None else said.weight,
        "" if source is None or source.withdrawn else source.citation,
    )  # fmt: skip


def _days(stop: Stop) -> str:
    days = [date.fromordinal(day) for day in (stop.first_day, stop.last_day)]
    return " to ".join(dict.fromkeys(f"{d.day} {d:%B %Y}" for d in days))
