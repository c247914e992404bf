"""Say how closely an item's place may be published, and whether it is covered."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.journal import DaybookSession, plate_of
from wherestood.daybook.tables import (
    PRECISIONS,
    Detail,
    Evidence,
    Feature,
    Item,
    Mark,
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
    """

    precision: str = PRECISIONS[0]
    covered: bool = False
    because: tuple[str, ...] = ()
    words: str = ""

    @property
    def is_exact(self) -> bool:
        """Tell whether its place may be published as it is known."""
        return self.precision == PRECISIONS[0]


FREE = Restricted()
_WITHHELD = Restricted(PRECISIONS[-1])


def restricted(session: DaybookSession, item: Item) -> Restricted:
    """Return what restricts an item: its own restrictions and its plate's.

    The strictest holds; one that was only *until* a day no longer holds after it.
    What is withdrawn is withheld.
    """
    if item.withdrawn:
        return _WITHHELD
    about = [item.id]
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
    exposed from the same station.
    """
    by_plate: dict[str, list[Restriction]] = {}
    of_features: dict[str, list[Restriction]] = {}
    for one in _holding(session, session.scalars(select(Restriction))):
        if one.about_table == "features":
            of_features.setdefault(one.about_id, []).append(one)
        else:
            plate = one.about_id if one.about_table == "plates" else one.plate_id
            if plate is not None:
                by_plate.setdefault(plate, []).append(one)
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
    words = [
        one.published_words
        for one in rows
        if one.published_words and one.precision == PRECISIONS[strictest]
    ]
    return Restricted(
        PRECISIONS[strictest],
        any(one.covered for one in rows),
        tuple(dict.fromkeys(one.because for one in rows if one.because)),
        words[0] if words else "",
    )
