"""Gather what dates a plate out of a daybook.

Its dates, each by the event that was dated; statements about its date that no date was
read from; its maker's working years and whereabouts; features that
its details are taken to be, which stand in the picture.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.dating.advice import Standing
from wherestood.dating.events import EVENTS, dated_item
from wherestood.dating.items import Exposed, InUse, Item
from wherestood.dating.months import Span, span_of
from wherestood.dating.signs import season_of_date
from wherestood.dating.written import YEAR_UNTOLD, years_meant
from wherestood.daybook.makers_whereabouts import items_by_whereabouts
from wherestood.daybook.tables import (
    Dating,
    Detail,
    Feature,
    FeatureName,
    Fix,
    Maker,
    Plate,
    Source,
    Statement,
)
from wherestood.errors import EvidenceError, WherestoodError
from wherestood.evidence.edtf import Day, read_edtf

__all__ = ["Gathered", "exact_days", "gather_dates"]

#: Trust where nobody said any: of a source and of an identification, and of a date that
#: is questioned. Ours, and told with the date.
TRUST, QUESTIONED_TRUST = 0.9, 0.75
IN_USE = "in use"
#: Items, and why there are none.
Made = tuple[list[Item], str]


@dataclass(frozen=True)
class Gathered:
    """Hold what dates a plate.

    Attributes
    ----------
    items : tuple of Item
    left_out : tuple of str
        What counts nothing, and why, a sentence each.
    standing : tuple of Standing
        Features with known years that no detail of the plate is taken to be.
    lat_deg : float or None
        Latitude of the plate's last fix [deg].
    """

    items: tuple[Item, ...]
    left_out: tuple[str, ...]
    standing: tuple[Standing, ...]
    lat_deg: float | None


def gather_dates(session: Session, plate: Plate) -> Gathered:
    """Gather what dates a plate.

    Parameters
    ----------
    session : Session
        Of the daybook.
    plate : Plate
        The plate.

    Returns
    -------
    Gathered
        What cannot be used is left out with a sentence, never silently.
    """
    lat_deg = session.scalars(
        select(Fix.lat_deg)
        .where(Fix.plate_id == plate.id, Fix.removed.is_(False))
        .order_by(Fix.made.desc())
        .limit(1)
    ).first()
    items: list[Item] = []
    left_out: list[str] = []
    read_from: set[str] = set()
    dates = session.scalars(
        select(Dating)
        .where(Dating.plate_id == plate.id, Dating.removed.is_(False))
        .order_by(Dating.key)
    )
    for dating in dates:
        if dating.statement_id is not None:
            read_from.add(dating.statement_id)
        made = partial(_of_date, session, dating, lat_deg)
        _attempt(items, left_out, dating.key, made)
    items += _statements(session, plate, read_from, left_out)
    items += _maker(session, plate, left_out)
    items += items_by_whereabouts(session, plate, left_out)
    left_out += _attributed(session, plate)
    shown = _shown(session, plate)
    for feature, name in shown:
        _attempt(items, left_out, feature.key, partial(_of_feature, feature, name))
    standing = _not_yet_looked_for(session, {feature.id for feature, _ in shown})
    return Gathered(tuple(items), tuple(left_out), tuple(standing), lat_deg)


def exact_days(session: Session, plate: Plate) -> list[tuple[Day, float]]:
    """Return the days that dates name as the exposure's, each with its trust."""
    wanted = select(Dating).where(
        Dating.plate_id == plate.id, Dating.removed.is_(False)
    )
    found = []
    for dating in session.scalars(wanted.order_by(Dating.key)):
        read = read_edtf(dating.edtf) if dating.of in (None, "exposed") else None
        if read is None or read.is_span or read.begin is None:
            continue
        if read.begin.first == read.begin.last:
            found.append((read.begin.first, _trust(dating.trust, dating.edtf)))
    return found


def _attempt(
    items: list[Item], left_out: list[str], key: str, make: Callable[[], Made]
) -> None:
    """Add what can be made; tell what cannot."""
    try:
        made, why_not = make()
    except WherestoodError as trouble:
        left_out.append(f"{key} is left out: {trouble.problem} {trouble.remedy}")
        return
    items += made
    if why_not:
        left_out.append(f"{key} says nothing of the exposure: {why_not}.")


def _trust(given: float | None, edtf: str) -> float:
    if given is not None:
        return given
    read = read_edtf(edtf)
    ends = () if read is None else (read.begin, read.end)
    doubted = any(end is not None and end.uncertain for end in ends)
    return QUESTIONED_TRUST if doubted else TRUST


def _source(session: Session, source_id: str | None) -> str:
    source = None if source_id is None else session.get(Source, source_id)
    return "" if source is None or source.withdrawn else source.citation


def _of_date(session: Session, dating: Dating, lat_deg: float | None) -> Made:
    """Make items of a date: its event's, and its season's."""
    of = dating.of or "exposed"
    if dating.edtf == YEAR_UNTOLD and (years := years_meant(dating.words or "")):
        asked = " or ".join(map(str, years))
        raise EvidenceError(
            f"the year of “{dating.words}” has two digits.",
            f"Is it {asked}? Write all four.",
        )
    trust = _trust(dating.trust, dating.edtf)
    source = _source(session, dating.source_id)
    words = f" ({dating.words})" if dating.words else ""
    what = f"{of} {dating.edtf}{words}"
    together = dating.statement_id or ""
    if of == IN_USE:
        when = span_of(dating.edtf, f"the date {dating.key}")
        return [InUse(dating.key, what, when, trust=trust, source=source)], ""
    event = EVENTS[of]
    item = dated_item(
        dating.key, event, dating.edtf, what, trust=trust, source=source,
        stands_with=together,
    )  # fmt: skip
    if item is None:
        return [], event.because
    made = [item]
    if event.says == "exposed":
        season = season_of_date(f"{dating.key} season", dating.edtf, lat_deg, trust)
        made += [] if season is None else [season]
    return made, ""


def _statements(
    session: Session, plate: Plate, read_from: set[str], left_out: list[str]
) -> list[Item]:
    """Make items of statements that nobody read a date from."""
    wanted = (
        select(Statement)
        .where(
            Statement.plate_id == plate.id,
            Statement.removed.is_(False),
            Statement.about == "date",
        )
        .order_by(Statement.key)
    )
    items: list[Item] = []
    for said in session.scalars(wanted):
        if said.id in read_from:
            continue
        if said.means_edtf is None:
            left_out.append(
                f"{said.key} is left out: nobody said which date its words mean."
            )
            continue
        edtf, repeats = said.means_edtf, tuple(said.derived_from or ())
        items.append(
            Exposed(
                said.key,
                f"“{said.words}”, taken to mean {edtf}",
                span_of(edtf, f"the date of {said.key}"),
                trust=_trust(said.weight, edtf),
                source=_source(session, said.source_id),
                stands_with=said.stands_with or "",
                derived_from=repeats,
            )
        )
    return items


def _maker(session: Session, plate: Plate, left_out: list[str]) -> list[Item]:
    maker = None if plate.maker_id is None else session.get(Maker, plate.maker_id)
    if maker is None or maker.removed:
        return []
    begun, gone = maker.working_from_edtf, maker.working_to_edtf
    if begun is None and gone is None:
        left_out.append(f"{maker.key} is left out: no working years are known.")
        return []
    open_end = Span(None, None, None, None)
    first = open_end if begun is None else span_of(begun, "the maker's first year")
    last = open_end if gone is None else span_of(gone, "the maker's last year")
    # In the years in which work began or ended it may or may not have been at work.
    when = Span(first.rise_from, first.fall_to, last.rise_from, last.fall_to)
    what = f"{maker.name} at work, {begun or '..'} to {gone or '..'}"
    source = _source(session, maker.source_id)
    return [InUse(maker.key, what, when, trust=TRUST, source=source)]


def _attributed(session: Session, plate: Plate) -> list[str]:
    """Say that a maker who was named counts nothing until a person decides."""
    if plate.maker_id is not None:
        return []
    wanted = select(Statement).where(
        Statement.plate_id == plate.id, Statement.about == "maker",
        Statement.removed.is_(False), Statement.withdrawn.is_(None),
    )  # fmt: skip
    return [
        f"{said.key} (“{said.words}”) says who made it; the maker's years and ways "
        "count once somebody decides and names the plate's maker."
        for said in session.scalars(wanted.order_by(Statement.key))
    ]


def _shown(session: Session, plate: Plate) -> list[tuple[Feature, str]]:
    """Return the features that details of the plate are taken to be, with names."""
    # PostgreSQL cannot tell rows apart that hold JSON: no distinct over whole features.
    shown = select(Detail.feature_id).where(
        Detail.plate_id == plate.id, Detail.removed.is_(False)
    )
    wanted = (
        select(Feature)
        .where(Feature.id.in_(shown), Feature.removed.is_(False))
        .order_by(Feature.key)
    )
    return [(feature, _name(session, feature)) for feature in session.scalars(wanted)]


def _name(session: Session, feature: Feature) -> str:
    wanted = select(FeatureName.name).where(
        FeatureName.feature_id == feature.id, FeatureName.removed.is_(False)
    )
    name = session.scalars(wanted.order_by(FeatureName.key)).first()
    return name or feature.what or feature.key


def _of_feature(feature: Feature, name: str) -> Made:
    """Make the bounds of a thing that stands in the picture."""
    made: list[Item] = []
    for edtf, event, words in (
        (feature.existed_from_edtf, "shown, built", "since"),
        (feature.existed_to_edtf, "shown, gone", "until"),
    ):
        if edtf is None:
            continue
        item = dated_item(
            f"{feature.key} {words}", EVENTS[event], edtf,
            f"{name} stands in the picture, and stood {words} {edtf}",
            trust=_trust(None, edtf), source=feature.source_words or "",
        )  # fmt: skip
        made += [] if item is None else [item]
    return made, ""


def _not_yet_looked_for(session: Session, shown: set[str]) -> Iterable[Standing]:
    """Return features with known years of which it is not said whether they show."""
    wanted = select(Feature).where(
        Feature.removed.is_(False),
        (Feature.existed_from_edtf.is_not(None))
        | (Feature.existed_to_edtf.is_not(None)),
    )
    for feature in session.scalars(wanted.order_by(Feature.key)):
        if feature.id in shown:
            continue
        begun, gone = feature.existed_from_edtf, feature.existed_to_edtf
        try:
            yield Standing(
                _name(session, feature),
                None if begun is None else span_of(begun),
                None if gone is None else span_of(gone),
            )
        except WherestoodError:
            continue  # told where the feature itself is checked
