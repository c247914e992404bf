"""Say how closely an item's place may be published, and whether it is covered."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.journal import DaybookSession, plate_of
from wherestood.daybook.tables import (
    ITEMS,
    PRECISIONS,
    Detail,
    Evidence,
    Feature,
    Item,
    Mark,
    Plan,
    Plate,
    Restriction,
    Statement,
)
from wherestood.evidence.edtf import read_edtf

__all__ = ["FREE", "Restricted", "restricted", "restricted_plates", "tied_features"]


@dataclass(frozen=True)
class Restricted:
    """Hold what holds for an item.

    Attributes
    ----------
    precision : str
        One of `wherestood.daybook.tables.PRECISIONS`.
    covered : bool
        Whether its picture is covered until a person asks to see it.
    because : tuple of str
        Why, from each restriction that gives a reason.
    words : str
        In what words its place may be published; empty where nobody said.
    title : str
        A title that may be published in place of its own; empty where nobody gave one.
    """

    precision: str = PRECISIONS[0]
    covered: bool = False
    because: tuple[str, ...] = ()
    words: str = ""
    title: str = ""

    @property
    def is_exact(self) -> bool:
        """Tell whether its place may be published as it is known."""
        return self.precision == PRECISIONS[0]


FREE = Restricted()
#: Columns that say what an item is drawn from.
_DRAWN_FROM = ("informant_id", "source_id", "plan_id", "maker_id", "request_id")
_WITHHELD = Restricted(PRECISIONS[-1])


def restricted(session: DaybookSession, item: Item) -> Restricted:
    """Return what restricts an item: its own restrictions and its plate's.

    So does a restriction of what it is drawn from: its source, its plan. The strictest
    holds; one that was only *until* a day no longer holds after it. What is withdrawn
    is withheld.
    """
    if item.withdrawn:
        return _WITHHELD
    drawn_from = (getattr(item, column, None) for column in _DRAWN_FROM)
    about = [item.id, *(one for one in drawn_from if one is not None)]
    plate = plate_of(item)
    if plate is not None:
        about.append(plate)
    chosen = select(Restriction).where(Restriction.about_id.in_(about))
    return _strictest(_holding(session, session.scalars(chosen)))


def restricted_plates(session: DaybookSession) -> dict[str, Restricted]:
    """Return what may be published of each plate that is restricted, by its id.

    A restriction of anything on a plate, or of a feature that is tied to it, holds
    for the plate: from where the camera stood, and how it looked, the thing itself
    could be found. It holds for the other plates of its panorama too, which were
    exposed from the same station. A restriction of somebody who told something, of a
    source or a plan, a maker or a request, holds for the plates and features that
    something was drawn from it for.
    """
    by_plate: dict[str, list[Restriction]] = {}
    of_features: dict[str, list[Restriction]] = {}
    of_others: dict[str, list[Restriction]] = {}
    for one in _holding(session, session.scalars(select(Restriction))):
        if one.about_table == "features":
            of_features.setdefault(one.about_id, []).append(one)
            continue
        plate = one.about_id if one.about_table == "plates" else one.plate_id
        if plate is not None:
            by_plate.setdefault(plate, []).append(one)
        else:
            of_others.setdefault(one.about_id, []).append(one)
    if of_others:
        _hand_down(session, of_others, by_plate, of_features)
    if of_features:
        for plate, feature in tied_features(session):
            if feature in of_features:
                by_plate.setdefault(plate, []).extend(of_features[feature])
    found = {plate: _strictest(rows) for plate, rows in by_plate.items()}
    for together in _panoramas(session):
        limits = [found[plate] for plate in together if plate in found]
        strictest = max(limits, key=_step, default=FREE)
        for plate in together:
            own = found.get(plate, FREE)
            if _step(own) < _step(strictest):
                # A cover hides one picture; how closely a place is told, all of them.
                found[plate] = replace(strictest, covered=own.covered)
    gone = select(Plate.id).where(Plate.withdrawn.is_not(None))
    return found | dict.fromkeys(session.scalars(gone), _WITHHELD)


def _hand_down(
    session: Session,
    of_others: dict[str, list[Restriction]],
    by_plate: dict[str, list[Restriction]],
    of_features: dict[str, list[Restriction]],
) -> None:
    """Let restrictions of what things are drawn from hold for plates and features."""
    from_source = select(Plan.id, Plan.source_id).where(Plan.source_id.in_(of_others))
    for plan, source in session.execute(from_source).all():
        of_others.setdefault(plan, []).extend(of_others[source or ""])
    for kind in ITEMS.values():
        columns = kind.__table__.c
        on = columns.id if kind in (Plate, Feature) else columns.get("plate_id")
        if on is None:
            continue
        held = of_features if kind is Feature else by_plate
        for name in _DRAWN_FROM:
            if name not in columns:
                continue
            wanted = select(on, columns[name]).where(columns[name].in_(of_others))
            for one, drawn_from in session.execute(wanted):
                if one is not None:
                    held.setdefault(one, []).extend(of_others[drawn_from])


def _step(limits: Restricted) -> int:
    return PRECISIONS.index(limits.precision)


def _panoramas(session: Session) -> Iterable[list[str]]:
    """Give the ids of the plates of each panorama."""
    named: dict[str, list[str]] = {}
    wanted = select(Plate.id, Plate.panorama).where(
        Plate.panorama.is_not(None), Plate.removed.is_(False)
    )
    for plate, panorama in session.execute(wanted):
        if panorama:
            named.setdefault(panorama, []).append(plate)
    return named.values()


def tied_features(session: Session) -> Iterable[tuple[str, str]]:
    """Give each plate's id with that of each feature that is tied to it."""
    keys = {key: one for one, key in session.execute(select(Feature.id, Feature.key))}
    for kind in (Detail, Statement):
        wanted = select(kind.plate_id, kind.feature_id).where(
            kind.feature_id.is_not(None)
        )
        for plate, feature in session.execute(wanted):
            if plate is not None and feature is not None:
                yield plate, feature
    marks = select(Mark.plate_id, Mark.features).where(Mark.features.is_not(None))
    for plate, features in session.execute(marks):
        for one in features or ():
            if one.get("feature") in keys:
                yield plate, keys[one["feature"]]
    told = select(Evidence.plate_id, Evidence.content).where(
        Evidence.content.is_not(None)
    )
    for plate, content in session.execute(told):
        for word in _words_in(content):
            if word in keys:
                yield plate, keys[word]


def _words_in(content: object) -> Iterable[str]:
    """Give every word of an item's record, however deep."""
    if isinstance(content, str):
        yield content
    elif isinstance(content, dict):
        for value in content.values():
            yield from _words_in(value)
    elif isinstance(content, list):
        for value in content:
            yield from _words_in(value)


def _holding(session: DaybookSession, rows: Iterable[Restriction]) -> list[Restriction]:
    """Return restrictions that stand, and are not over."""
    today = session.clock().date()
    return [
        one
        for one in rows
        if not one.removed and not one.withdrawn and not _over(one.until_edtf, today)
    ]


def _over(until_edtf: str | None, today: date) -> bool:
    """Tell whether a date is past in any reading; one that is open never is."""
    read = read_edtf(until_edtf) if until_edtf else None
    if read is None or read.end is None or read.end.approximate:
        return False
    return read.end.last < (today.year, today.month, today.day)


def _strictest(rows: Iterable[Restriction]) -> Restricted:
    rows = list(rows)
    steps = [PRECISIONS.index(one.precision) for one in rows if one.precision]
    strictest = max(steps, default=0)
    # Of several the words go with the strictest: others may say too much.
    telling = [one for one in rows if one.precision == PRECISIONS[strictest]]
    words = [one.published_words for one in telling if one.published_words]
    titles = [one.published_title for one in telling if one.published_title]
    return Restricted(
        PRECISIONS[strictest],
        any(one.covered for one in rows),
        tuple(dict.fromkeys(one.because for one in rows if one.because)),
        words[0] if words else "",
        titles[0] if titles else "",
    )
