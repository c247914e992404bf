"""Tell a report what a daybook knows of a plate."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import select

from wherestood.daybook.book import Daybook
from wherestood.daybook.catalogue.give import GIVEN_COLUMNS, catalogue_rows
from wherestood.daybook.date_items import gather_dates
from wherestood.daybook.decide import standing_decision
from wherestood.daybook.history import history
from wherestood.daybook.journal import DaybookSession
from wherestood.daybook.keys import address_of, find
from wherestood.daybook.records import names_of
from wherestood.daybook.report_evidence import (
    evidence_counted,
    evidence_set_aside,
    who_says,
)
from wherestood.daybook.report_provenance import (
    files_used,
    rights_recorded,
    sources_cited,
)
from wherestood.daybook.tables import (
    ITEMS,
    Decision,
    Detail,
    Feature,
    Fix,
    Lead,
    Mark,
    Plate,
    ProposedPosition,
)
from wherestood.daybook.when_exposed import Given, date_of_plate
from wherestood.errors import InputError
from wherestood.record.date_words import date_words
from wherestood.record.page import Section
from wherestood.record.report.facts import (
    ConclusionFacts,
    DoneFacts,
    PlateFacts,
    SeenFacts,
)
from wherestood.record.report.words_read import read_words

__all__ = ["PROPOSED_BY", "fix_reported", "leads_told", "plate_facts"]

UNKNOWN = "UNKNOWN"
#: Begins what a decision is about that is on somebody's answer.
PROPOSED_BY = "the position proposed by"
_BARREN = ("nothing found", "given up")


def fix_reported(session: DaybookSession, plate: Plate, key: str = "") -> Fix | None:
    """Return the fix that a report tells: the one decided on, else the newest.

    Parameters
    ----------
    session : DaybookSession
    plate : Plate
    key : str
        The fix, where a person names one.

    Raises
    ------
    InputError
        If that is a fix of another plate, or was withdrawn.
    """
    if key:
        fix = find(session, Fix, key)
        if fix.plate_id != plate.id or not fix.answer:
            raise InputError(
                f"The {key} is no fix of {plate.key} that can be told.",
                f"Choose one with wherestood fixes list --plate '{plate.key}'.",
            )
        return fix
    decided = standing_decision(session, plate.id)
    if decided is not None and decided.fix_id is not None:
        of_it = session.get(Fix, decided.fix_id)
        if of_it is not None and of_it.answer and not of_it.removed:
            return of_it
    newest = (
        select(Fix)
        .where(Fix.plate_id == plate.id, Fix.removed.is_(False))
        .where(Fix.withdrawn.is_(None))
        .order_by(Fix.made.desc())
    )
    return next((fix for fix in session.scalars(newest) if fix.answer), None)


def plate_facts(book: Daybook, key: str, fix_key: str = "") -> PlateFacts:
    """Return all that a full report tells of a plate, but for its pictures.

    Parameters
    ----------
    book : Daybook
    key : str
        The plate's.
    fix_key : str
        The fix; the one decided on unless told, else the newest.
    """
    with book.reading() as session:
        plate = find(session, Plate, key)
        dates = _dates(book, session, plate)
        fix = fix_reported(session, plate, fix_key)
        form = fix.answer if fix is not None else None
        standing = standing_decision(session, plate.id)
        return PlateFacts(
            plate.key,
            plate.title or "",
            tuple(_catalogue(session, plate)),
            form,
            fix.key if fix is not None else "",
            read_words(fix.words or "") if fix is not None else (),
            _conclusion(session, standing) if standing is not None else None,
            tuple(
                _conclusion(session, one) for one in _earlier(session, plate, standing)
            ),
            tuple(seen_on(session, plate)),
            tuple(evidence_counted(session, plate, fix)),
            tuple(evidence_set_aside(session, plate, fix)),
            tuple(leads_told(session, plate, barren=True)),
            tuple(leads_told(session, plate, barren=False)),
            tuple(sources_cited(session, plate)),
            dates,
            tuple(rights_recorded(session, plate, fix)),
            tuple(files_used(session, plate, fix)),
            tuple(
                DoneFacts(one.time, one.person, one.why, one.sentences)
                for one in history(session, plate)
            ),
        )


def _dates(book: Daybook, session: DaybookSession, plate: Plate) -> tuple[Section, ...]:
    if not gather_dates(session, plate).items:
        return ()
    told = date_of_plate(book, plate.key, Given())
    return tuple(date_words(told.whole, told.contributions, told.offers, told.left_out))


def _catalogue(session: DaybookSession, plate: Plate) -> Iterator[tuple[str, str]]:
    for row in catalogue_rows(session):
        if row["accession number"] == plate.key:
            yield from ((name, row[name]) for name in GIVEN_COLUMNS if row[name])


def _earlier(
    session: DaybookSession, plate: Plate, standing: Decision | None
) -> list[Decision]:
    chosen = select(Decision).where(
        Decision.plate_id == plate.id, Decision.withdrawn.is_(None)
    )
    made = session.scalars(chosen.order_by(Decision.decided)).all()
    return [one for one in made if standing is None or one.id != standing.id]


def _conclusion(session: DaybookSession, one: Decision) -> ConclusionFacts:
    about = ""
    if one.fix_id is not None:
        about = _called(session, "fixes", one.fix_id)
    elif one.proposed_position_id is not None:
        place = session.get(ProposedPosition, one.proposed_position_id)
        who = place.proposed_by if place is not None and place.proposed_by else UNKNOWN
        about = f"{PROPOSED_BY} {who}"
    return ConclusionFacts(
        one.conclusion, one.words, one.decided_by, one.decided, one.conditions or "",
        about,
    )  # fmt: skip


def _called(session: DaybookSession, table: str, item_id: str) -> str:
    item = session.get(ITEMS[table], item_id)
    return address_of(session, item) if item is not None else ""


def seen_on(session: DaybookSession, plate: Plate) -> Iterator[SeenFacts]:
    """Give what is lettered, each with its first mark, or its crop's middle.

    Marks of no detail are things seen too: the evidence names them by their keys.
    """
    details = select(Detail).where(
        Detail.plate_id == plate.id,
        Detail.removed.is_(False),
        Detail.withdrawn.is_(None),
    )
    rows = list(session.scalars(details))
    names = names_of(session, [one.feature_id for one in rows if one.feature_id])
    seen = []
    for one in rows:
        points, shape = _marked(session, one)
        seen.append(
            SeenFacts(
                one.key, one.what or "", names.get(one.feature_id or "", ""),
                one.identified_by or "", points, shape,
            )
        )  # fmt: skip
    lettered = {one.letter for one in seen}
    seen += [one for one in _of_no_detail(session, plate) if one.letter not in lettered]
    yield from sorted(seen, key=lambda one: (len(one.letter), one.letter))


def _of_no_detail(session: DaybookSession, plate: Plate) -> Iterator[SeenFacts]:
    marks = select(Mark).where(
        Mark.plate_id == plate.id,
        Mark.detail_id.is_(None),
        Mark.removed.is_(False),
        Mark.withdrawn.is_(None),
    )
    for mark in session.scalars(marks):
        keys = [str(one.get("feature")) for one in mark.features or ()]
        chosen = select(Feature.id).where(Feature.key.in_(keys))
        names = names_of(session, list(session.scalars(chosen)))
        yield SeenFacts(
            mark.key, mark.note or "", " or ".join(names.values()),
            who_says(session, mark),
            tuple((x, y) for x, y in mark.points_px or ()), mark.shape or "point",
        )  # fmt: skip


def _marked(
    session: DaybookSession, detail: Detail
) -> tuple[tuple[tuple[float, float], ...], str]:
    marks = select(Mark).where(
        Mark.detail_id == detail.id, Mark.removed.is_(False), Mark.withdrawn.is_(None)
    )
    for mark in session.scalars(marks.order_by(Mark.key)):
        if mark.points_px:
            points = tuple((x, y) for x, y in mark.points_px)
            return points, mark.shape or "point"
    if detail.crop_px:
        left, top, width, height = detail.crop_px
        return ((left + width / 2, top + height / 2),), "point"
    return (), "point"


def leads_told(
    session: DaybookSession, plate: Plate, *, barren: bool, of_people: bool = True
) -> Iterator[str]:
    """Give what was looked for on a plate, a sentence each.

    Parameters
    ----------
    session : DaybookSession
    plate : Plate
    barren : bool
        Whether those that ended with nothing are wanted, or those that have not ended.
    of_people : bool
        Whether those come along that somebody was asked for.
    """
    chosen = select(Lead).where(
        Lead.plate_id == plate.id, Lead.removed.is_(False), Lead.withdrawn.is_(None)
    )
    for lead in session.scalars(chosen.order_by(Lead.key)):
        if barren != (lead.state in _BARREN) or lead.state == "answered":
            continue
        if lead.informant_id is not None and not of_people:
            continue
        where = f" ({lead.where})" if lead.where else ""
        more = lead.because if lead.state == "given up" else lead.outcome
        because = " because" if lead.state == "given up" and more else ""
        told = f"{because} {more}" if because else f": {more}" if more else ""
        yield f"{lead.what}{where}: {lead.state}{told}."
