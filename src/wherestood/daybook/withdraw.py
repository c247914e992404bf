"""Take content out of a daybook for good, and leave a stub that says so.

The item stays as a stub: its key, what it belongs to, and when it was withdrawn. Its
words and numbers go from its row, from every journal row that told of it, from the
fixes that quote it, from the index and from the files taken in; what was free in the
database is overwritten (`wherestood.daybook.scrub`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC
from itertools import chain
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.act import Action
from wherestood.daybook.blank_journal import acts_that_still_hold, blank_journal
from wherestood.daybook.book import Daybook
from wherestood.daybook.falling import (
    falls_by,
    own_words,
    redacted,
    stands_without,
    stub_columns,
    stub_of,
    words_in,
)
from wherestood.daybook.files_beside import files_beside
from wherestood.daybook.files_held import (
    WITH_FILES,
    files_named,
    files_of,
    is_report,
    rows_with_files,
)
from wherestood.daybook.keys import address_of
from wherestood.daybook.may_hold import plain_runs
from wherestood.daybook.other_forms import OtherForms
from wherestood.daybook.redact import SHORTEST, STUB, Needles, is_too_short
from wherestood.daybook.scrub import Pending, finish, note_pending
from wherestood.daybook.tables import (
    ITEMS,
    About,
    Fix,
    FixInput,
    Item,
    JournalRow,
)
from wherestood.daybook.where_words_stand import (
    items_keyed_by,
    items_to_search,
    names_signed,
    parts_of_all_names,
    reports_issued,
)
from wherestood.daybook.within import lies_within
from wherestood.errors import InputError

__all__ = ["Withdrawn", "withdraw"]


@dataclass(frozen=True)
class Withdrawn:
    """Say what went, and what did not.

    Attributes
    ----------
    stubs : tuple of str
        Items that are stubs now.
    files : tuple of str
        Files of the daybook that were deleted.
    left_in_place : tuple of str
        Files outside the daybook, which a person must delete.
    redacted : tuple of str
        Items from which the same words were taken out.
    still_in : tuple of str
        Items in which the same words still stand.
    finished : bool
        False where another process still reads; the next opening finishes it.
    parts_in : tuple of str
        Other items in which a single word of a withdrawn name stands, or another
        form of a word: in capitals, inflected, within an address.
    parts : tuple of str
        These single words and forms, as they are written in items and in acts.
    beside : tuple of str
        Files in the daybook's folder that it knows nothing of: a bag, a report.
    signed : tuple of str
        Names in which the words stand, and under which acts stay in the journal.
    keys : tuple of str
        Items in whose key a form of the words stands, which stays.
    acts : tuple of str
        First letters of acts whose reason, or earlier values, hold a form of them.
    issued : tuple of str
        Reports that were issued, and whose files stay as they went out.
    """

    stubs: tuple[str, ...]
    files: tuple[str, ...]
    left_in_place: tuple[str, ...]
    redacted: tuple[str, ...]
    still_in: tuple[str, ...]
    finished: bool
    parts_in: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()
    signed: tuple[str, ...] = ()
    keys: tuple[str, ...] = ()
    acts: tuple[str, ...] = ()
    issued: tuple[str, ...] = ()


def withdraw(
    daybook: Daybook,
    kind: type[Item],
    item_id: str,
    *,
    person: str,
    why: str = "",
    everywhere: bool = False,
    words: Sequence[str] = (),
    dry_run: bool = False,
    finish_now: bool = True,
) -> Withdrawn:
    """Take the content of an item, and of all that falls with it, out for good.

    With a plate falls all that is on it or about it; with an informant what they
    said. Everything in ``out`` is deleted too, since it can be made again.

    Parameters
    ----------
    daybook : Daybook
        Where.
    kind, item_id
        The item. One that was withdrawn before may be named again to take `words`
        out of what still repeats it.
    person, why : str
        Who withdraws it, and why: this stays to be read.
    everywhere : bool
        Whether the same words are taken out of every other item too.
    words : sequence of str
        Words besides that go from everywhere: another spelling, a first name.
    dry_run : bool
        Whether only to say what would go.
    finish_now : bool
        Whether files are deleted and the database is overwritten at once; whoever
        withdraws several things calls `wherestood.daybook.scrub.finish` after the last.

    Raises
    ------
    InputError
        If there is no such item, it was withdrawn before and no words are given, or
        these are too short or stand nowhere.
    """
    also = _checked(words, everywhere=everywhere)
    if dry_run:
        with daybook.reading() as session, session.no_autoflush:
            return _found(daybook, session, kind, item_id, also, everywhere, why)[0]
    action: Action = "withdraw all" if everywhere else "withdraw"
    with daybook.writing(person, why, action=action) as session:
        item = session.get(kind, item_id)
        told, going = _found(daybook, session, kind, item_id, also, everywhere, why)
        assert session.act is not None
        # Never the same twice: an act without a row would not be finished.
        time = session.clock().astimezone(UTC).isoformat(timespec="microseconds")
        for one, columns in going.quoting.items():
            for name, value in columns.items():
                setattr(one, name, value)
        for one in going.falling:
            _blank(one, time)
        if not going.falling and item is not None:
            item.withdrawn = time
        session.flush()
        emptied = blank_journal(
            session, going.falling, going.quoting, going.needles,
            everywhere=everywhere, runs=going.runs,
        )  # fmt: skip
        if not (emptied or told.stubs or told.redacted):
            raise _stand_nowhere(also, told)
        note_pending(daybook.folder, Pending(act=session.act.id, files=told.files))
    if not finish_now:
        return replace(told, finished=False)
    return replace(told, finished=finish(daybook.folder, daybook.engine))


@dataclass(frozen=True)
class _Going:
    """Hold what is emptied, what loses words, these, and plain runs of these."""

    falling: list[Item]
    quoting: dict[Item, dict[str, Any]]
    needles: Needles
    runs: list[str] | None


def _checked(words: Sequence[str], *, everywhere: bool) -> list[str]:
    also = [" ".join(one.split()) for one in words]
    short = [one for one in also if is_too_short(one)]
    if short:
        raise InputError(
            f"The words {short[0]!r} are too short to be taken out: they would be cut "
            "out of others.",
            f"Give at least {SHORTEST} letters.",
        )
    if also and not everywhere:
        raise InputError(
            "Words to be taken out were given, and not where.",
            "Say --everywhere too.",
        )
    return also


def _found(
    daybook: Daybook,
    session: Session,
    kind: type[Item],
    item_id: str,
    also: list[str],
    everywhere: bool,
    why: str,
) -> tuple[Withdrawn, _Going]:
    """Return what would go, and what would not; nothing is changed."""
    item = session.get(kind, item_id)
    if item is None:
        raise InputError(f"There is no {kind.singular} {item_id!r} here.")
    if item.withdrawn and not also:
        raise InputError(
            f"The {_called(session, item)} was withdrawn before: nothing is left "
            "of it.",
            "Where its words still stand elsewhere, take them out with --everywhere "
            "--words WORDS.",
        )
    falling = [] if item.withdrawn else _falling_with(session, item)
    words = _words_of(session, falling)
    parts = parts_of_all_names(session, falling)
    forms = OtherForms([*parts, *also])
    others = items_to_search(
        session, [*words, *also], forms, {one.id for one in falling}
    )
    needles = Needles((words - _own_words(falling, others)) | set(also))
    taken, outside = _files(session, falling)
    searched = others if everywhere else _quoting(session, falling)
    quoting = {
        one: columns
        for one in searched
        if (columns := redacted(one.__tablename__, vars(one), needles))
    }
    still = [one for one in others if _holds(one, needles, quoting.get(one, {}))]
    maybe = {
        one: held
        for one in others
        if one not in still
        and (held := forms.found_in(list(_left(one, quoting.get(one, {})))))
    }
    issued = reports_issued(session, {one.id for one in falling})
    acts = acts_that_still_hold(
        session, falling, quoting, needles, everywhere=everywhere, forms=forms
    )
    written = set().union(*maybe.values(), *acts.values())
    told = [
        tuple(_called(session, one) for one in some)
        for some in (falling, quoting, still, maybe)
    ]
    withdrawn = Withdrawn(
        told[0], tuple(taken), outside, told[1], told[2], finished=True,
        parts_in=told[3], parts=tuple(sorted(written)),
        beside=files_beside(
            daybook, {*taken, *files_named(session), *chain(*issued.values())}
        ),
        signed=names_signed(session, needles, forms, everywhere=everywhere),
        keys=tuple(_called(session, one) for one in items_keyed_by(session, forms)),
        issued=tuple(issued),
        acts=(*(one[:8] for one in acts), *["this one"] * bool(forms.found_in(why))),
    )  # fmt: skip
    going = plain_runs([*words, *also])
    return withdrawn, _Going(falling, quoting, needles, going)


def _stand_nowhere(also: Sequence[str], told: Withdrawn) -> InputError:
    """Return the refusal of words that are nowhere, or only in another form."""
    words = ", ".join(map(repr, also))
    elsewhere = [*told.parts_in, *(f"act {one}" for one in told.acts)]
    elsewhere += [f"the key of {one}" for one in told.keys]
    if not elsewhere:
        return InputError(
            f"These words stand in no item and no row of the journal: {words}.",
            "Give them as they were written, capitals and all.",
        )
    return InputError(
        f"These words stand nowhere as they are given: {words}. Other "
        f"forms of them stand in {', '.join(elsewhere)}.",
        f"Give them as they are written there: {', '.join(told.parts)}."
        if told.parts
        else "A key stays as it is; change the key of what is no stub.",
    )


def _called(session: Session, item: Item) -> str:
    table = item.__tablename__
    kind = "issued report" if is_report(table, vars(item)) else item.singular
    return f"{kind} {address_of(session, item)!r}"


def _falling_with(session: Session, item: Item) -> list[Item]:
    """Return an item and all that cannot stay without it."""
    found: dict[str, Item] = {item.id: item}
    waiting = [item]
    while waiting:
        one = waiting.pop()
        for other in _referring(session, one):
            if other.id not in found and not other.withdrawn:
                found[other.id] = other
                waiting.append(other)
    return list(found.values())


def _referring(session: Session, item: Item) -> Iterable[Item]:
    table = item.__tablename__
    for name, kind in ITEMS.items():
        for column, meant in falls_by(name):
            if meant == table:
                wanted = select(kind).where(getattr(kind, column) == item.id)
                for one in session.scalars(wanted):
                    if not stands_without(name, vars(one), column):
                        yield one
        if issubclass(kind, About):
            yield from session.scalars(select(kind).where(kind.about_id == item.id))


def _words_of(session: Session, falling: list[Item]) -> set[str]:
    """Return every text that items hold or ever held."""
    found: set[str] = set()
    for item in falling:
        found |= words_in(item.__tablename__, vars(item))
    ids = [item.id for item in falling]
    rows = session.scalars(select(JournalRow).where(JournalRow.item_id.in_(ids)))
    for row in rows:
        for side in (row.before or {}, row.after or {}):
            found |= words_in(row.table_name, side)
    return found


def _own_words(falling: list[Item], others: list[Item]) -> set[str]:
    """Return texts that other items have as their own."""
    tables = {item.__tablename__ for item in falling}
    return own_words(tables, ((one.__tablename__, vars(one)) for one in others))


def _blank(item: Item, time: str) -> None:
    for name, stub in stub_of(item.__tablename__, vars(item)).items():
        setattr(item, name, stub)
    item.withdrawn = time


def _quoting(session: Session, falling: list[Item]) -> list[Item]:
    """Return the fixes that rest on what falls, which quote it."""
    ids = [item.id for item in falling]
    resting = select(FixInput.fix_id).where(FixInput.item_id.in_(ids))
    chosen = select(Fix).where(Fix.id.in_(resting))
    return [fix for fix in session.scalars(chosen) if fix.id not in ids]


def _holds(item: Item, needles: Needles, changed: Mapping[str, Any]) -> bool:
    """Tell whether words stand in an item, once it has lost those it will lose."""
    return any(needles.stand_in(value) for value in _left(item, changed))


def _left(item: Item, changed: Mapping[str, Any]) -> Iterable[Any]:
    """Give the content of an item, once it has lost what it will lose."""
    for name in stub_columns(item.__tablename__):
        yield changed.get(name, getattr(item, name))


def _files(session: Session, falling: list[Item]) -> tuple[list[str], tuple[str, ...]]:
    """Return the files to delete within the daybook, and those outside it."""
    ids = {item.id for item in falling}
    named: list[str] = []
    shared: set[str] = set()
    for table in WITH_FILES:
        for row in rows_with_files(session, table):
            files = [held.file for held in files_of(table, row)]
            if row["id"] in ids:
                named += files
            else:
                shared.update(files)
    inside: list[str] = []
    outside: list[str] = []
    for name in dict.fromkeys(named):
        if not name or name == STUB or name in shared:
            continue
        # By names: a person may have put originals on another disk by a link.
        (inside if lies_within(name) else outside).append(name)
    return inside, tuple(outside)
