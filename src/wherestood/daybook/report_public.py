"""Leave out of a report what may not be published of a plate."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sqlalchemy import select

from wherestood.daybook.catalogue.give import GIVEN_COLUMNS
from wherestood.daybook.decide import standing_decision
from wherestood.daybook.handing_out_rights import BrokenTerm, broken_terms
from wherestood.daybook.journal import DaybookSession
from wherestood.daybook.keys import find
from wherestood.daybook.precision import (
    FREE,
    Restricted,
    restricted_plates,
    tied_features,
)
from wherestood.daybook.public.coarse import coarse_place
from wherestood.daybook.public.naming import Naming, naming_of_restricted
from wherestood.daybook.public.people import unnamed_people
from wherestood.daybook.public.pictures import forbidden_pictures
from wherestood.daybook.public.rows import public_names, public_rows_by_plate
from wherestood.daybook.records import names_of
from wherestood.daybook.redact import Needles
from wherestood.daybook.report_facts import fix_reported, leads_told
from wherestood.daybook.report_provenance import layers_used, sources_cited
from wherestood.daybook.tables import Feature, Informant, Plate, Statement
from wherestood.record.page import Section
from wherestood.record.report.facts import (
    ConclusionFacts,
    PlateFacts,
)
from wherestood.record.report.plain_answer import CONDITION

__all__ = ["picture_may_go", "published_facts", "terms_of_reports"]

_ACCEPTED = ("accepted", "accepted with conditions")
#: Pictures that are drawn of the elevation itself.
_SHADED = ("map", "view")
_KEPT_BACK = "what may not be published"


def terms_of_reports(
    session: DaybookSession, plates: Sequence[Plate], fix_key: str = ""
) -> tuple[BrokenTerm, ...]:
    """Return the terms that publishing reports of plates would break.

    Those of the plates, and of what their reports show: the elevation that their fixes
    rest on, things on the ground that they are tied to, plans these were traced from.
    """
    limits = restricted_plates(session)
    about = {plate.id for plate in plates}
    for plate in plates:
        if limits.get(plate.id, FREE).is_exact:
            about |= _shown_by(session, plate, fix_key)
    return tuple(one for one in broken_terms(session, plates) if one.about_id in about)


def _shown_by(session: DaybookSession, plate: Plate, fix_key: str) -> set[str]:
    """Return the ids of elevation, features and plans that a plate's report shows."""
    fix = fix_reported(session, plate, fix_key)
    features = {feature for on, feature in tied_features(session) if on == plate.id}
    plans = session.scalars(select(Feature.plan_id).where(Feature.id.in_(features)))
    layers = {layer.id for layer in layers_used(session, fix)}
    return layers | features | {one for one in plans if one}


def picture_may_go(session: DaybookSession, key: str) -> str:
    """Return why a plate's picture may not be published; empty where it may."""
    plate = find(session, Plate, key)
    for one in forbidden_pictures(session):
        if one.plate == plate.key:
            return one.why
    covered = restricted_plates(session).get(plate.id, FREE).covered
    return "it is covered" if covered else ""


def published_facts(
    session: DaybookSession, plate: PlateFacts, fix_key: str = ""
) -> PlateFacts:
    """Return what of a plate may be told to anybody, and say what may not.

    Parameters
    ----------
    session : DaybookSession
    plate : PlateFacts
        All that a full report tells.
    fix_key : str
        The fix, as `report_facts.fix_reported` takes it.

    Notes
    -----
    Of a plate whose place may not be told as it is known everything goes from which
    it could be worked out again, and all free words. Of others only what people told
    in confidence, the names of files, and the journal.
    """
    row = find(session, Plate, plate.key)
    limits = restricted_plates(session).get(row.id, FREE)
    why_not = picture_may_go(session, plate.key)
    pictures = () if why_not else plate.pictures
    withheld = [f"The picture ({why_not})."] if why_not else []
    if limits.is_exact:
        told = _exact(
            session, row, replace(plate, pictures=pictures), withheld, fix_key
        )
    else:
        told = _restricted(session, row, plate, limits, withheld, fix_key)
    return unnamed_people(session).taken_out_of(told)


def _exact(
    session: DaybookSession,
    row: Plate,
    plate: PlateFacts,
    withheld: list[str],
    fix_key: str,
) -> PlateFacts:
    """Take out what people did not agree to have published, file names, the journal."""
    silent = _silent(session, row)
    if any(one.id in silent for one in plate.evidence):
        withheld.append("Words of people who did not agree to have them published.")
    not_found = tuple(leads_told(session, row, barren=True, of_people=False))
    sources = tuple(sources_cited(session, row, oral=False))
    if (not_found, sources) != (plate.not_found, plate.sources):
        withheld.append("What was told by word of mouth, and what people were asked.")
    plate = _without_kept_back(session, row, plate, withheld, fix_key)
    files = tuple(
        (what, "not told" if what == "scan" else name, how, checksum)
        for what, name, how, checksum in plate.files
    )
    withheld.append("Names of scans' files, and the journal of who did what.")
    catalogue = _catalogue(session, row)
    return replace(
        plate,
        key=public_names(session)[row.id],
        title=dict(catalogue).get("title", ""),
        evidence=tuple(one for one in plate.evidence if one.id not in silent),
        set_aside=tuple(one for one in plate.set_aside if one.id not in silent),
        not_found=not_found,
        still_open=(),
        sources=sources,
        files=files,
        history=(),
        catalogue=catalogue,
        withheld=tuple(withheld),
    )


def _silent(session: DaybookSession, plate: Plate) -> set[str]:
    """Return the keys of statements whose words may not be published."""
    chosen = select(Statement, Informant).join(
        Informant, Informant.id == Statement.informant_id
    )
    return {
        said.key
        for said, person in session.execute(
            chosen.where(Statement.plate_id == plate.id)
        )
        if person.may_be_published != "all"
    }


def _without_kept_back(
    session: DaybookSession,
    row: Plate,
    plate: PlateFacts,
    withheld: list[str],
    fix_key: str,
) -> PlateFacts:
    """Take out what is drawn of elevation, and names of things, that must stay in."""
    shown = _shown_by(session, row, fix_key)
    kept_back = [one for one in broken_terms(session, ()) if one.about_id in shown]
    if any(one.what == "hill-shade" for one in kept_back):
        kept = tuple(one for one in plate.pictures if one.name not in _SHADED)
        plate = replace(plate, pictures=kept)
        withheld.append("Pictures of the elevation, which may not be published.")
    about = {one.about_id for one in kept_back if one.what != "hill-shade"}
    things = select(Feature).where(Feature.id.in_(about) | Feature.plan_id.in_(about))
    called = {one.id: one.key for one in session.scalars(things)}
    if not called:
        return plate
    withheld.append("Things on the ground that may not be published, by name.")
    names = (*names_of(session, list(called)).values(), *called.values())
    needles = Needles(names, _KEPT_BACK)
    return replace(
        plate,
        seen=tuple(
            replace(one, taken_to_be=needles.taken_out_of(one.taken_to_be))
            for one in plate.seen
        ),
        evidence=tuple(
            replace(one, says=needles.taken_out_of(one.says)) for one in plate.evidence
        ),
        set_aside=tuple(
            replace(one, says=needles.taken_out_of(one.says)) for one in plate.set_aside
        ),
    )


def _catalogue(session: DaybookSession, plate: Plate) -> tuple[tuple[str, str], ...]:
    # By its id: what it is called in public may be another name than its key.
    row, _ = public_rows_by_plate(session).get(plate.id, ({}, ()))
    return tuple((name, row[name]) for name in GIVEN_COLUMNS[:-1] if row.get(name))


def _restricted(
    session: DaybookSession,
    row: Plate,
    plate: PlateFacts,
    limits: Restricted,
    withheld: list[str],
    fix_key: str,
) -> PlateFacts:
    catalogue = _catalogue(session, row)
    told = dict(catalogue)
    withheld.append(
        "Where the camera stood, but for what is told below; how it looked, its lens, "
        "lines, letters and marks, hills and their distances, evidence, days and "
        "hours, files, free words and the journal, from which the place could be "
        f"worked out again (place published: {limits.precision})."
    )
    one = plate.conclusion
    conclusion = (
        ConclusionFacts(one.conclusion, "", one.decided_by, one.decided)
        if one is not None
        else None
    )
    when = told.get("date", "")
    dates = (Section("When", (f"Years told: {when}.",)),) if when else ()
    pictures = tuple(
        replace(each, caption="The plate.", alt="The plate.")
        for each in plate.pictures
        if each.name == "plate" and not withheld[0].startswith("The picture")
    )
    naming = naming_of_restricted(session)[row.id]
    return PlateFacts(
        public_names(session)[row.id],
        told.get("title", ""),
        catalogue,
        conclusion=conclusion,
        dates=dates,
        rights=tuple(
            (
                what,
                _unless(naming, holder),
                _unless(naming, licence),
                _unless(naming, credit),
                "",
            )
            for what, holder, licence, credit, _ in plate.rights
            if what == "image"
        ),
        pictures=pictures,
        published=_published(session, row, limits, fix_key),
        withheld=tuple(withheld),
    )


def _unless(naming: Naming, words: str) -> str:
    return "withheld" if naming.found_in(words) else words


def _published(
    session: DaybookSession,
    row: Plate,
    limits: Restricted,
    fix_key: str,
) -> str:
    """Say where it was as closely as it may be told: only what somebody accepted."""
    words = f" Told of the place: {limits.words}." if limits.words else ""
    fix = fix_reported(session, row, fix_key)
    standing = standing_decision(session, row.id)
    accepted = (
        standing is not None
        and fix is not None
        and standing.conclusion in _ACCEPTED
        and standing.fix_id == fix.id
    )
    if not accepted or fix is None or fix.lon_deg is None or fix.lat_deg is None:
        return f"Where the camera stood is not told in this copy.{words}"
    place = coarse_place(fix.lon_deg, fix.lat_deg, limits.precision)
    if place is None or place.side_m is None:
        return f"Where the camera stood is known, and withheld.{words}"
    north = "N" if place.lat_deg >= 0 else "S"
    east = "E" if place.lon_deg >= 0 else "W"
    return (
        f"The camera stood somewhere in a square of {limits.precision} about "
        f"{abs(place.lat_deg)}° {north}, {abs(place.lon_deg)}° {east}, if somebody's "
        f"accepted answer is right, {CONDITION}; more is withheld.{words}"
    )
