"""Add photographs made again from plates' stations to what is handed out."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.book import Daybook
from wherestood.daybook.handing_out_rights import BrokenTerm
from wherestood.daybook.keep_photograph import folder_of_photograph, photographs
from wherestood.daybook.keys import find
from wherestood.daybook.precision import FREE
from wherestood.daybook.public.rows import LeftOut
from wherestood.daybook.tables import Note, Plate, Right, Source
from wherestood.errors import InputError
from wherestood.record.export.handed import UNKNOWN, HandedPlate
from wherestood.record.export.pictures_of_fix import then_and_now_in

__all__ = [
    "KeptPhotograph",
    "kept_photographs",
    "photograph_terms",
    "with_kept_photograph",
    "with_then_and_now",
]

_WHAT = "modern photograph"


@dataclass(frozen=True)
class KeptPhotograph:
    """Name the newest photograph of a plate whose pictures are there.

    Attributes
    ----------
    plate : str
        The plate's key.
    source_id : str
        The source that it became.
    folder : Path
    rights : tuple of Right
        Recorded for that source, or for the plate as a modern photograph's.
    """

    plate: str
    source_id: str
    folder: Path
    rights: tuple[Right, ...] = ()

    @property
    def credit(self) -> str:
        """Return its credit line; UNKNOWN where nobody recorded one."""
        for one in self.rights:
            credit = one.credit or one.holder or UNKNOWN
            return f"Now: {credit}, licence {one.licence or UNKNOWN}."
        return f"Now: {UNKNOWN}, licence {UNKNOWN}."


def kept_photographs(
    book: Daybook, session: Session, plates: Sequence[Plate] | None = None
) -> dict[str, KeptPhotograph]:
    """Return the newest photograph kept of each plate, by the plate's id.

    Parameters
    ----------
    book : Daybook
    session : Session
    plates : sequence of Plate, optional
        All that stand where none is given.
    """
    noted = select(Note.about_id).where(
        Note.about_table == "plates", Note.removed.is_(False), Note.withdrawn.is_(None)
    )
    chosen = select(Plate).where(
        Plate.id.in_(noted), Plate.removed.is_(False), Plate.withdrawn.is_(None)
    )
    given = None if plates is None else {plate.id for plate in plates}
    found = {}
    for plate in session.scalars(chosen.order_by(Plate.key)):
        if given is not None and plate.id not in given:
            continue
        for kept in photographs(book, session, plate.id):
            if kept.told is None:
                continue
            source = find(session, Source, kept.source)
            folder = folder_of_photograph(book, plate.key, kept.source)
            rights = _rights(session, source.id, plate.id)
            found[plate.id] = KeptPhotograph(plate.key, source.id, folder, rights)
            break
    return found


def _rights(session: Session, source_id: str, plate_id: str) -> tuple[Right, ...]:
    chosen = select(Right).where(Right.removed.is_(False), Right.withdrawn.is_(None))
    found = list(session.scalars(chosen.order_by(Right.key)))
    own = [r for r in found if (r.about_table, r.about_id) == ("sources", source_id)]
    of_plate = [r for r in found if r.plate_id == plate_id and r.what == _WHAT]
    return (*own, *of_plate)


def photograph_terms(
    photographs_kept: Mapping[str, KeptPhotograph],
) -> tuple[BrokenTerm, ...]:
    """Return the terms that publishing kept photographs would break."""
    found = []
    for plate_id, kept in photographs_kept.items():
        for right in kept.rights:
            if right.may_be_published is False:
                said = "its modern photograph may not be published"
                if right.terms:
                    said += f" ({right.terms})"
                found.append(BrokenTerm(kept.plate, plate_id, "photograph", said))
    return tuple(dict.fromkeys(found))


def with_kept_photograph(
    plate: HandedPlate, kept: KeptPhotograph, kept_back: Collection[str]
) -> tuple[HandedPlate, tuple[LeftOut, ...]]:
    """Return a plate with a photograph that the daybook keeps, where it may go along.

    Parameters
    ----------
    plate : HandedPlate
        As closely as it may be told.
    kept : KeptPhotograph
    kept_back : collection of str
        What recorded terms keep back of this plate.
    """
    what = "the photograph made on the spot"
    if "photograph" in kept_back:
        return plate, ()  # said with the term
    if plate.precision != FREE.precision:
        return plate, (LeftOut(plate.name, what, "it shows the place"),)
    if plate.picture is None:
        return plate, (LeftOut(plate.name, what, "the plate's picture stays out"),)
    both = replace(then_and_now_in(kept.folder), credit=kept.credit)
    return replace(plate, then_and_now=both), ()


def with_then_and_now(plate: HandedPlate, folder: Path) -> HandedPlate:
    """Return a plate with the pictures of a folder of ``wherestood then-and-now``.

    Raises
    ------
    InputError
        If they are not there, or they would tell what of this plate stays out: its
        picture, or the place from which both were made.
    """
    if plate.picture is None or plate.precision != FREE.precision:
        raise InputError(
            f"The then and now of {plate.name} shows its picture, and the place from "
            "which it was taken: one of them stays out here.",
            "Leave its --then-and-now away.",
        )
    return replace(plate, then_and_now=then_and_now_in(folder))
