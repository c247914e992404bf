"""Gather what a daybook hands out of its plates, no closer than may be told.

*Full* is everything as it is known. *Public* tells what a person accepted, and of a
plate whose place may not be published as it is known nothing from which this program
could find it again: not where the camera stood, or all but a square; not how it looked,
its lens, regions, marks, nor what it shows; no days and hours; no words that name it.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC
from importlib.metadata import version
from pathlib import Path

from sqlalchemy import select

from wherestood.daybook.book import Daybook
from wherestood.daybook.catalogue import catalogue_rows
from wherestood.daybook.decide import standing_decisions
from wherestood.daybook.handing_out_ground import drawn_of_fix
from wherestood.daybook.handing_out_rights import (
    BrokenTerm,
    broken_terms,
    common_credits,
    credits_naming_none,
    credits_of,
    plans_kept_back,
    rights_by_plate,
)
from wherestood.daybook.handing_out_then_and_now import (
    KeptPhotograph,
    kept_photographs,
    photograph_terms,
    with_kept_photograph,
    with_then_and_now,
)
from wherestood.daybook.handing_out_things import (
    date_handed,
    feature_keys,
    features_handed,
    marks_handed,
    picture_handed,
)
from wherestood.daybook.journal import DaybookSession
from wherestood.daybook.keys import find
from wherestood.daybook.precision import FREE, Restricted, restricted_plates
from wherestood.daybook.public.coarse import coarse_place
from wherestood.daybook.public.naming import naming_of_restricted
from wherestood.daybook.public.near import near_hidden
from wherestood.daybook.public.people import unnamed_people
from wherestood.daybook.public.rows import LeftOut, public_rows_by_plate, years_of
from wherestood.daybook.tables import (
    Decision,
    Fix,
    Plate,
    ProposedPosition,
)
from wherestood.record.export.handed import (
    Answer,
    Decided,
    HandedOut,
    HandedPlate,
    Kind,
    Place,
)
from wherestood.record.export.of_fix import answer_of

__all__ = ["Gathered", "Wanted", "gather"]

_HOW = "how the camera looked, its lens, lines, marks and what it shows"
_HOURS = "days and hours"


@dataclass(frozen=True)
class Wanted:
    """Say what is to be handed out.

    Attributes
    ----------
    kind : str
        ``full`` or ``public``.
    plates : tuple of str
        Keys; all plates where none is named.
    title : str
        Of the whole; the daybook's folder, or the plate, where empty.
    pictures : bool
        Whether pictures go along.
    address : str
        Where all of it will be found on the web.
    then_and_now : mapping of str to Path
        Folders in which a photograph was laid over a plate, by the plate's key.
    photographs : bool
        Whether the newest photograph kept of each plate goes along, on the page.
    """

    kind: Kind = "public"
    plates: tuple[str, ...] = ()
    title: str = ""
    pictures: bool = True
    address: str = ""
    then_and_now: Mapping[str, Path] = field(default_factory=dict)
    photographs: bool = False


@dataclass(frozen=True)
class Gathered:
    """Hold what goes out, and what stays.

    Attributes
    ----------
    handed : HandedOut
        Without what `broken` names.
    left_out : tuple of LeftOut
        What of single plates stays out.
    broken : tuple of BrokenTerm
        Recorded terms that would be broken if it went out.
    cautions : tuple of str
        What a person should look at: places told as they are known that stand by one
        that may not be.
    """

    handed: HandedOut
    left_out: tuple[LeftOut, ...]
    broken: tuple[BrokenTerm, ...]
    cautions: tuple[str, ...] = ()


def gather(book: Daybook, wanted: Wanted) -> Gathered:
    """Gather what may go out, as of one moment.

    Raises
    ------
    InputError
        If a plate is not there.
    """
    with book.reading() as session:
        plates = _plates(session, wanted.plates)
        public = wanted.kind == "public"
        kept = kept_photographs(book, session, plates) if wanted.photographs else {}
        broken = broken_terms(session, plates, pictures=wanted.pictures)
        broken += photograph_terms(kept)
        kept_back = broken if public else ()
        told = _told(session, book, plates, wanted, kept_back, kept)
        handed = [one for one, _ in told]
        shown = [
            plate.id
            for plate, one in zip(plates, handed, strict=True)
            if not public or one.precision == FREE.precision
        ]
        features = features_handed(
            session,
            shown,
            whole=not public and not wanted.plates,
            public=public,
            without=plans_kept_back(kept_back),
        )
        known = {one.key for one in features}
        whole = HandedOut(
            title=_title(book, wanted, handed),
            kind=wanted.kind,
            plates=tuple(
                replace(one, features=tuple(k for k in one.features if k in known))
                for one in handed
            ),
            features=features,
            credits=_common(session, handed, any_exact=bool(shown), public=public),
            made=book.clock().astimezone(UTC).isoformat(timespec="seconds"),
            version=version("wherestood"),
            address=wanted.address,
        )
        if public:
            whole = unnamed_people(session).taken_out_of(whole)
        near = near_hidden(session, plates) if public else ()
    left = tuple(one for _, out in told for one in out)
    return Gathered(whole, left, broken, near)


def _common(
    session: DaybookSession,
    handed: Sequence[HandedPlate],
    *,
    any_exact: bool,
    public: bool,
) -> tuple[str, ...]:
    """Return credit lines of elevation and plans, naming no place that is not told.

    Of no restricted plate, handed out or not: models and plans are all plates'.
    """
    any_told = any_exact or any(one.places for one in handed)
    lines = common_credits(session, any_told=any_told, any_exact=any_exact)
    if public:
        for naming in naming_of_restricted(session).values():
            lines = credits_naming_none(lines, naming)
    return tuple(dict.fromkeys(lines))


def _plates(session: DaybookSession, keys: Sequence[str]) -> list[Plate]:
    if keys:
        return [find(session, Plate, key) for key in dict.fromkeys(keys)]
    chosen = select(Plate).where(Plate.removed.is_(False), Plate.withdrawn.is_(None))
    return list(session.scalars(chosen.order_by(Plate.key)))


def _title(book: Daybook, wanted: Wanted, handed: Sequence[HandedPlate]) -> str:
    if wanted.title:
        return wanted.title
    if len(handed) == 1:
        return handed[0].title
    if wanted.kind == "full":
        return book.folder.resolve().name
    # A folder is named by a person, and may name the place.
    return "Plates"


def _told(
    session: DaybookSession,
    book: Daybook,
    plates: Sequence[Plate],
    wanted: Wanted,
    kept_back: Collection[BrokenTerm],
    photographs: Mapping[str, KeptPhotograph],
) -> list[tuple[HandedPlate, tuple[LeftOut, ...]]]:
    public = wanted.kind == "public"
    limits = restricted_plates(session)
    decided = standing_decisions(session)
    keys, rights = feature_keys(session), rights_by_plate(session)
    namings = naming_of_restricted(session)
    rows: dict[str, tuple[dict[str, str], tuple[LeftOut, ...]]] = {}
    if public:
        rows = public_rows_by_plate(session)
    else:
        by_key = {row["accession number"]: row for row in catalogue_rows(session)}
        rows = {p.id: (by_key[p.key], ()) for p in plates if p.key in by_key}
    told = []
    for plate in plates:
        if plate.id not in rows:  # withdrawn
            continue
        row, out = rows[plate.id]
        held_back = {one.what for one in kept_back if one.about_id == plate.id}
        if "words" in held_back:
            row = {**row, **dict.fromkeys(("description", "inscription", "note"), "")}
        one = _plate(session, plate, row, decided.get(plate.id), keys)
        credits = credits_of(rights.get(plate.id, ()))
        if public and (naming := namings.get(plate.id)) is not None:
            credits = credits_naming_none(credits, naming)
        one = replace(one, credits=credits)
        limit = limits.get(plate.id, FREE)
        if public:
            one = _in_public(one, limit, out)
        if wanted.pictures and not (
            public and (limit.covered or "picture" in held_back)
        ):
            one = replace(one, picture=picture_handed(session, book, plate))
            # It shows the whole plate, and how the camera looked.
            if one.precision == FREE.precision and one.answer is not None:
                drawn = drawn_of_fix(book, plate.key, one.answer.key, public=public)
                one = replace(one, comparisons=drawn)
        if plate.key in wanted.then_and_now:
            one = with_then_and_now(one, wanted.then_and_now[plate.key])
        elif plate.id in photographs:
            one, more = with_kept_photograph(one, photographs[plate.id], held_back)
            out = (*out, *more)
        told.append((one, out))
    return told


def _plate(
    session: DaybookSession,
    plate: Plate,
    row: dict[str, str],
    decision: Decision | None,
    keys: dict[str, str],
) -> HandedPlate:
    """Return all that is known of a plate."""
    marks, features = marks_handed(session, plate, keys)
    date_edtf, basis = date_handed(session, plate)
    return HandedPlate(
        name=row["accession number"],
        row=row,
        place_words=row["place"],
        date_edtf=date_edtf,
        date_basis=basis,
        answer=_answer(session, plate, decision),
        marks=marks,
        features=features,
    )


def _in_public(
    plate: HandedPlate, limits: Restricted, out: Sequence[LeftOut]
) -> HandedPlate:
    """Return a plate as closely as it may be told."""
    answer = plate.answer
    if answer is not None and (
        answer.decided is None or not answer.decided.is_accepted
    ):
        answer = None  # what no person accepted is nobody's answer yet
    if answer is not None and answer.decided is not None:
        # Who decided, and in what words, is between them and the record.
        anonymous = Decided(answer.decided.conclusion, decided=answer.decided.decided)
        answer = replace(answer, decided=anonymous)
    if limits.is_exact:
        return replace(plate, answer=answer)
    withheld = [_HOW, _HOURS, *(one.what for one in out)]
    places: tuple[Place, ...] = ()
    if answer is not None and answer.places:
        best = answer.places[0]
        square = coarse_place(best.lon_deg, best.lat_deg, limits.precision)
        if square is None:
            withheld.insert(0, "where the camera stood")
        else:
            places = (Place(square.lon_deg, square.lat_deg, side_m=square.side_m),)
            withheld.insert(0, f"where in a square of {square.side_m:g} m it stood")
    coarse = None
    if answer is not None:
        coarse = Answer(places=places, decided=answer.decided)
    return replace(
        plate,
        precision=limits.precision,
        place_words=limits.words,
        date_edtf=years_of(plate.date_edtf) or years_of(plate.row.get("date", "")),
        date_basis="",
        answer=coarse,
        marks=(),
        features=(),
        withheld=tuple(dict.fromkeys(withheld)),
    )


def _answer(
    session: DaybookSession, plate: Plate, decision: Decision | None
) -> Answer | None:
    """Return the answer that was decided on, else the newest."""
    decided = None
    if decision is not None:
        decided = Decided(
            decision.conclusion, decision.decided_by, decision.decided,
            decision.words, decision.conditions or "",
        )  # fmt: skip
        if decision.fix_id is None and decision.proposed_position_id is not None:
            return _proposed(session, decision.proposed_position_id, decided)
    fix = None
    if decision is not None and decision.fix_id is not None:
        fix = session.get(Fix, decision.fix_id)
    if fix is None or fix.removed or fix.withdrawn:
        decided = None
        fix = session.scalars(
            select(Fix)
            .where(
                Fix.plate_id == plate.id, Fix.removed.is_(False),
                Fix.withdrawn.is_(None),
            )
            .order_by(Fix.made.desc())
            .limit(1)
        ).first()  # fmt: skip
    if fix is None or not fix.answer:
        return None
    if "camera" in fix.answer and "regions" in fix.answer:
        return answer_of(fix.answer, key=fix.key, decided=decided)
    return _without_form(fix, decided)


def _without_form(fix: Fix, decided: Decided | None) -> Answer | None:
    """Return an answer of which only the station was kept."""
    if fix.lon_deg is None or fix.lat_deg is None:
        return None
    place = Place(
        fix.lon_deg, fix.lat_deg, height_m=fix.height_m,
        sd_east_m=fix.sd_east_m, sd_north_m=fix.sd_north_m,
    )  # fmt: skip
    return Answer(
        fix.verdict, fix.near_enough_m, fix.elsewhere, (place,),
        decided=decided, key=fix.key, made=fix.made, version=fix.version or "",
    )  # fmt: skip


def _proposed(
    session: DaybookSession, proposed_id: str, decided: Decided
) -> Answer | None:
    """Return somebody's answer that a person decided on."""
    said = session.get(ProposedPosition, proposed_id)
    if said is None or said.removed or said.withdrawn:
        return None
    if said.lon_deg is None or said.lat_deg is None:
        return None
    place = Place(
        said.lon_deg, said.lat_deg, sd_east_m=said.doubt_m, sd_north_m=said.doubt_m
    )
    return Answer("somebody's answer", places=(place,), decided=decided, key=said.key)
