"""Complete a decision: who, when, and which decision it replaces."""

from __future__ import annotations

from datetime import UTC
from typing import TYPE_CHECKING

from sqlalchemy import ColumnElement, select, true

from wherestood.daybook.tables import Decision, Item

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from wherestood.daybook.journal import DaybookSession

__all__ = ["complete_decision", "standing_decision", "standing_decisions"]


def standing_decision(session: Session, plate_id: str) -> Decision | None:
    """Return the decision on a plate that no other replaced; None if there is none.

    One that was withdrawn goes on replacing what it replaced, and stands as a stub.
    """
    return _standing(session, Decision.plate_id == plate_id).get(plate_id)


def standing_decisions(session: Session) -> dict[str, Decision]:
    """Return the decision that stands on each plate that has one, by the plate's id.

    None stands where the one that did was withdrawn.
    """
    standing = _standing(session, true())
    return {plate: one for plate, one in standing.items() if not one.withdrawn}


def _standing(session: Session, wanted: ColumnElement[bool]) -> dict[str, Decision]:
    chosen = select(Decision).where(Decision.removed.is_(False), wanted)
    made = session.scalars(chosen.order_by(Decision.decided)).all()
    # When a stub was decided is no more told: it comes before what has a date.
    made = sorted(made, key=lambda one: (not one.withdrawn, one.decided))
    replaced = {one.supersedes_id for one in made}
    return {one.plate_id: one for one in made if one.id not in replaced}


def complete_decision(session: DaybookSession, item: Item, person: str) -> None:
    """Say who decided and when, and what is replaced, where that was left out.

    Items of other kinds are left as they are.
    """
    if not isinstance(item, Decision):
        return
    if item.decided_by is None:
        item.decided_by = person
    if item.decided is None:
        item.decided = session.clock().astimezone(UTC).isoformat(timespec="seconds")
    if item.supersedes_id is None and item.plate_id is not None:
        standing = standing_decision(session, item.plate_id)
        item.supersedes_id = standing.id if standing else None
