"""Withdraw here what the other copy withdrew, as far as it reached there.

Words that they took out later, by name, go here too (`words_gone`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from wherestood.daybook.book import Daybook
from wherestood.daybook.handover.diverged import Side, Sides
from wherestood.daybook.handover.kept_out import leaned_on, was_everywhere
from wherestood.daybook.handover.words_gone import words_gone
from wherestood.daybook.scrub import finish
from wherestood.daybook.tables import ITEMS
from wherestood.daybook.withdraw import Withdrawn, withdraw

__all__ = ["take_out_too", "withdraw_too"]

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
                finish_now=False,
            )
        )
    # Once for all of them: the whole database is written anew.
    finished = bool(done) and finish(daybook.folder, daybook.engine)
    return tuple(replace(one, finished=finished) for one in done)


def take_out_too(daybook: Daybook, sides: Sides, person: str) -> tuple[Withdrawn, ...]:
    """Take out everywhere here the words that they took out everywhere there."""
    table, item_id = _withdrawn_everywhere_there(sides)
    words = sorted(words_gone(sides.ours, sides.theirs)) if item_id else []
    if not words:
        return ()
    return (
        withdraw(
            daybook,
            ITEMS[table],
            item_id,
            person=person,
            why="words withdrawn in the other copy",
            everywhere=True,
            words=words,
        ),
    )


def _withdrawn_everywhere_there(sides: Sides) -> Item:
    """Return the last item that they withdrew everywhere and that is a stub here."""
    gone = sides.ours.withdrawn()
    for row in reversed(sides.theirs.since):
        item = (row["table_name"], row["item_id"])
        if row["action"] == "withdraw all" and item in gone:
            return item
    return "", ""


def _first_those_leaned_on(side: Side, wanted: Sequence[Item]) -> Iterable[Item]:
    among = set(wanted)
    return sorted(wanted, key=lambda one: any(i in among for i in leaned_on(side, one)))
