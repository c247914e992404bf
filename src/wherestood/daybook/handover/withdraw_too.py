"""Withdraw here what the other copy withdrew, as far as it reached there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from wherestood.daybook.book import Daybook
from wherestood.daybook.handover.diverged import Side, Sides
from wherestood.daybook.handover.kept_out import leaned_on, was_everywhere
from wherestood.daybook.tables import ITEMS
from wherestood.daybook.withdraw import Withdrawn, withdraw

__all__ = ["withdraw_too"]

Item = tuple[str, str]


def withdraw_too(
    daybook: Daybook, sides: Sides, wanted: Sequence[Item], person: str
) -> tuple[Withdrawn, ...]:
    """Withdraw items, those first with which others fall; return what went."""
    done = []
    for table, item_id in _first_those_leaned_on(sides.ours, wanted):
        with daybook.reading() as session:
            item = session.get(ITEMS[table], item_id)
            if item is None or item.withdrawn:
                continue  # it fell with another one
        done.append(
            withdraw(
                daybook,
                ITEMS[table],
                item_id,
                person=person,
                why="withdrawn in the other copy",
                everywhere=was_everywhere(sides.theirs, (table, item_id)),
            )
        )
    return tuple(done)


def _first_those_leaned_on(side: Side, wanted: Sequence[Item]) -> Iterable[Item]:
    among = set(wanted)
    return sorted(wanted, key=lambda one: any(i in among for i in leaned_on(side, one)))
