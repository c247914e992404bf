"""Say how closely an item's place may be published, and whether it is covered."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.journal import plate_of
from wherestood.daybook.tables import PRECISIONS, Item, Restriction

__all__ = ["Restricted", "restricted"]


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
    """

    precision: str = PRECISIONS[0]
    covered: bool = False
    because: tuple[str, ...] = ()


def restricted(session: Session, item: Item) -> Restricted:
    """Return what restricts an item: its own restrictions and its plate's.

    The strictest holds. What is withdrawn is withheld.
    """
    about = [item.id]
    plate = plate_of(item)
    if plate is not None:
        about.append(plate)
    chosen = select(Restriction).where(
        Restriction.about_id.in_(about), Restriction.removed.is_(False)
    )
    rows = [one for one in session.scalars(chosen) if not one.withdrawn]
    strictest = max(
        (PRECISIONS.index(one.precision) for one in rows if one.precision), default=0
    )
    if item.withdrawn:
        strictest = len(PRECISIONS) - 1
    return Restricted(
        PRECISIONS[strictest],
        any(one.covered for one in rows),
        tuple(one.because for one in rows if one.because),
    )
