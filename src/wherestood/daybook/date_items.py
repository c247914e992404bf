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
from wherestood.dating.signs import in_season
from wherestood.dating.written import (
    COUNTS_NOTHING,
    YEAR_UNTOLD,
    years_meant,
)
from wherestood.daybook.camera_of_fix import last_fix
from wherestood.daybook.makers_whereabouts import items_by_whereabouts
from wherestood.daybook.tables import (
    Dating,
    Detail,
    Feature,
    FeatureName,
    Maker,
    Plate,
    Source,
    Statement,
)
from wherestood.errors import EvidenceError, WherestoodError
from wherestood.evidence.edtf import Day, has_number, read_edtf

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
    fix = last_fix(session, plate)
    lat_deg = None if fix is None else fix.lat_deg
    items: list[Item] = []
    left_out: list[str] = []
    dates = session.scalars(
        select(Dating)
        .where(
            Dating.plate_id == plate.id, Dating.removed.is_(False),
            Dating.withdrawn.is_(None),
        )
        .order_by(Dating.key)
    ).all()  # fmt: skip
    said = _Said.of(session, plate, dates)
    for dating in dates:
        made = partial(_of_date, session, dating, lat_deg, said, left_out)
        _attempt(items, left_out, dating.key, made)
    for statement in said.not_read_from(dates):
        if statement.means_edtf is None:
            left_out.append(
                f"{statement.key} is left out: nobody said which date its words mean."
            )
            continue
        made = partial(_of_statement, session, statement, said)
        _attempt(items, left_out, statement.key, made)
    _attempt(items, left_out, "The maker", partial(_maker, session, plate, left_out))
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
        if has_number(read.begin.first) and read.begin.first == read.begin.last:
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


@dataclass(frozen=True)
class _Said:
    """Hold a plate's statements about its date, and the dates read from each.

    Attributes
    ----------
    statements : tuple of Statement
        In order of their keys.
    read : dict of str to tuple of str
        Keys of dates by the key of the statement that they were read from.
    """

    statements: tuple[Statement, ...]
    read: dict[str, tuple[str, ...]]

    @staticmethod
    def of(session: Session, plate: Plate, dates: Iterable[Dating]) -> _Said:
        """Gather them."""
        wanted = select(Statement).where(
            Statement.plate_id == plate.id, Statement.removed.is_(False),
            Statement.withdrawn.is_(None), Statement.about == "date",
        )  # fmt: skip
        found = tuple(session.scalars(wanted.order_by(Statement.key)))
        read: dict[str, tuple[str, ...]] = {}
        for dating in dates:
            said = _statement_of(session, dating)
            if said is not None:
                read[said.key] = (*read.get(said.key, ()), dating.key)
        return _Said(found, read)

    def not_read_from(self, dates: Iterable[Dating]) -> list[Statement]:
        """Return the statements that nobody read a date from."""
        read_from = {dating.statement_id for dating in dates}
        return [said for said in self.statements if said.id not in read_from]

    def repeats(self, said: Statement | None) -> tuple[str, ...]:
        """Return keys of the items that a statement repeats."""
        repeated = () if said is None else said.derived_from or ()
        return tuple(key for one in repeated for key in self.read.get(one, (one,)))


def _statement_of(session: Session, dating: Dating) -> Statement | None:
    said = dating.statement_id
    return None if said is None else session.get(Statement, said)


def _of_date(
    session: Session,
    dating: Dating,
    lat_deg: float | None,
    said: _Said,
    left_out: list[str],
) -> Made:
    """Make an item of a date: its event's, within its season."""
    of = dating.of or "exposed"
    if dating.edtf == YEAR_UNTOLD:
        _refuse_untold(dating)
    statement = _statement_of(session, dating)
    given = dating.trust
    if given is None and statement is not None:
        given = statement.weight
    trust = _trust(given, dating.edtf)
    source = _source(session, dating.source_id)
    words = f" ({dating.words})" if dating.words else ""
    what = f"{of} {dating.edtf}{words}"
    together = (statement and statement.stands_with) or dating.statement_id or ""
    repeats = said.repeats(statement)
    if of == IN_USE:
        when = span_of(dating.edtf, f"the date {dating.key}")
        in_use = InUse(
            dating.key, what, when, trust=trust, source=source, derived_from=repeats
        )
        return [in_use], ""
    event = EVENTS[of]
    item = dated_item(
        dating.key, event, dating.edtf, what, trust=trust, source=source,
        stands_with=together, derived_from=repeats,
    )  # fmt: skip
    if item is None:
        return [], event.because
    if isinstance(item, Exposed):
        try:
            item = in_season(item, dating.edtf, lat_deg)
        except EvidenceError as trouble:
            left_out.append(
                f"The season of {dating.key} is left out, its year counts: "
                f"{trouble.problem} {trouble.remedy}"
            )
    return [item], ""


def _refuse_untold(dating: Dating) -> None:
    """Refuse a date of which somebody must still tell what is meant."""
    words, note = dating.words or "", dating.note or ""
    if years := years_meant(words):
        asked = " or ".join(map(str, years))
        raise EvidenceError(
            f"the year of “{words}” has two digits.",
            f"Is it {asked}? Write all four.",
        )
    if COUNTS_NOTHING in note:
        raise EvidenceError(f"“{words}” is kept as written.", note)


def _of_statement(session: Session, said: Statement, all_said: _Said) -> Made:
    """Make an item of a statement that nobody read a date from."""
    edtf = said.means_edtf or ""
    item = Exposed(
        said.key,
        f"“{said.words}”, taken to mean {edtf}",
        span_of(edtf, f"the date of {said.key}"),
        trust=_trust(said.weight, edtf),
        source=_source(session, said.source_id),
        stands_with=said.stands_with or "",
        derived_from=all_said.repeats(said),
    )
    return [item], ""


def _maker(session: Session, plate: Plate, left_out: list[str]) -> Made:
    maker = None if plate.maker_id is None else session.get(Maker, plate.maker_id)
    if maker is None or maker.removed:
        return [], ""
    begun, gone = maker.working_from_edtf, maker.working_to_edtf
    if begun is None and gone is None:
        left_out.append(f"{maker.key} is left out: no working years are known.")
        return [], ""
    open_end = Span(None, None, None, None)
    first = open_end if begun is None else span_of(begun, "the maker's first year")
    last = open_end if gone is None else span_of(gone, "the maker's last year")
    # In the years in which work began or ended it may or may not have been at work.
    when = Span(first.rise_from, first.fall_to, last.rise_from, last.fall_to)
    what = f"{maker.name} at work, {begun or '..'} to {gone or '..'}"
    source = _source(session, maker.source_id)
    return [InUse(maker.key, what, when, trust=TRUST, source=source)], ""


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
