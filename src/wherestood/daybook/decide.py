"""Complete a decision: who, when, and which decision it replaces."""

from __future__ import annotations

from datetime import UTC
from typing import TYPE_CHECKING

from sqlalchemy import select

from wherestood.daybook.tables import Decision, Item

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from wherestood.daybook.journal import DaybookSession

__all__ = ["complete_decision", "standing_decision", "standing_decisions"]


def standing_decision(session: Session, plate_id: str) -> Decision | None:
    """Return the decision on a plate that no other replaced; None if there is none."""
    chosen = select(Decision).where(
        Decision.plate_id == plate_id, Decision.removed.is_(False)
    )
    made = session.scalars(chosen.order_by(Decision.decided)).all()
    replaced = {one.supersedes_id for one in made}
    standing = [one for one in made if one.id not in replaced]
    return standing[-1] if standing else None


def standing_decisions(session: Session) -> dict[str, Decision]:
    """Return the decision that stands on each plate that has one, by the plate's id."""
    chosen = select(Decision).where(
        Decision.removed.is_(False), Decision.withdrawn.is_(None)
    )
    made = session.scalars(chosen.order_by(Decision.decided)).all()
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
