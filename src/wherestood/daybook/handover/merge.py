"""Merge another copy of a daybook into this one.

Their journal rows follow ours as they were written, by whom and when; then come rows
of the merging itself, where what both wanted differs. So the journal still tells the
whole of both stories, and rebuilds the tables.
"""

from __future__ import annotations

import uuid
from contextlib import ExitStack
from dataclasses import dataclass, replace
from datetime import UTC
from typing import Any

from sqlalchemy import Connection, delete, insert, update

from wherestood.daybook.book import Daybook
from wherestood.daybook.connection import writing_by_flush
from wherestood.daybook.handover.both import Conflict, same_scans
from wherestood.daybook.handover.diverged import AFTER, Row, Sides, read_sides
from wherestood.daybook.handover.files_along import Along, files_along, named_at
from wherestood.daybook.handover.kept_out import KeptOut, keep_out, same_files
from wherestood.daybook.handover.keys_apart import Renamed, keep_keys_apart
from wherestood.daybook.handover.noted import add_notes, count_merge
from wherestood.daybook.handover.settle import Settled, settle
from wherestood.daybook.handover.spell_new_keys import name_by_new_keys
from wherestood.daybook.handover.withdraw_too import take_out_too, withdraw_too
from wherestood.daybook.index_words import words_of
from wherestood.daybook.journal import DaybookSession
from wherestood.daybook.layer_steps import measure_what_came
from wherestood.daybook.originals.passing import Arrival, arrive, sweep, take_away
from wherestood.daybook.originals.take import named_files
from wherestood.daybook.replay import apply_row
from wherestood.daybook.seal import sealed
from wherestood.daybook.tables import ITEMS, Base, JournalRow, Words
from wherestood.daybook.trouble import told_plainly
from wherestood.daybook.withdraw import Withdrawn
from wherestood.errors import InputError
from wherestood.progress import SILENT, Progress

__all__ = ["Merged", "merge"]

Item = tuple[str, str]
_AT_ONCE = 1000


@dataclass(frozen=True)
class Merged:
    """Hold what came of a merge, or would.

    Attributes
    ----------
    acts : int
        How many acts of theirs are new here.
    added, changed : int
        How many items came, and how many that were here are different now.
    conflicts : tuple of Conflict
        What both changed, each in its own way: ours is kept, theirs is in a note.
    renamed : tuple of Renamed
        Items of either copy that have another key now.
    files : tuple of str
        Files that came along.
    withdrawn : int
        Items withdrawn here because they withdrew them.
    left_out : int
        Their changes to items that were withdrawn here, or that are about these.
    kept_out : KeptOut
        What of theirs does not come, as it was withdrawn here.
    withdrawals : tuple of Withdrawn
        What was withdrawn here because they withdrew it; empty in a dry run.
    held_here : tuple of str
        Scans here whose file is, byte for byte, one that they withdrew elsewhere.
    same_scans : tuple of (str, str)
        Scans that came, each with one here of the same file.
    outside : tuple of str
        Files that they left in place, which may not be reached from here.
    steps : tuple of str
        Steps in height between terrain layers that came and those here, in sentences.
    """

    acts: int
    added: int
    changed: int
    conflicts: tuple[Conflict, ...]
    renamed: tuple[Renamed, ...]
    files: tuple[str, ...]
    withdrawn: int
    left_out: int
    outside: tuple[str, ...]
    kept_out: KeptOut
    withdrawals: tuple[Withdrawn, ...] = ()
    held_here: tuple[str, ...] = ()
    same_scans: tuple[tuple[str, str], ...] = ()
    steps: tuple[str, ...] = ()


def merge(
    daybook: Daybook,
    other: Daybook,
    person: str,
    why: str = "",
    *,
    unrelated: bool = False,
    dry_run: bool = False,
    progress: Progress = SILENT,
) -> Merged:
    """Merge another copy into a daybook, all in one act or not at all.

    What they withdrew is withdrawn here before, so that a merge that is cut short
    leaves nothing of it, whatever else it leaves undone.

    Parameters
    ----------
    daybook : Daybook
        Where it goes.
    other : Daybook
        The other copy, which is only read.
    person, why : str
        Who merges, and why.
    unrelated : bool
        Whether the two may have nothing in common.
    dry_run : bool
        Whether only to say what would happen.
    progress : Progress
        Told how far it has come.

    Raises
    ------
    InputError
        If the other is the same folder, or no copy of this daybook.
    DaybookError
        If a file of theirs is missing or changed, or nothing can be written.

    Notes
    -----
    The order of the files of the journal's past is kept, not that of the clock: ours
    comes first. Merging the same copy again finds nothing new.
    """
    if daybook.folder.resolve() == other.folder.resolve():
        raise InputError("A daybook cannot be merged with itself.", "Name the other.")
    progress.stage("comparing the two daybooks", None)
    with other.reading() as theirs:
        if dry_run or daybook.read_only:
            with daybook.reading() as ours:
                sides = read_sides(ours, theirs, unrelated=unrelated)
            kept_out, settled, renamed = _settled(sides)
            files, outside = files_along(sides, settled)
            names = tuple(file.held.file for file in files)
            return _told(sides, kept_out, settled, renamed, names, outside)

        def has_row(file: str) -> bool:
            return file in named_files(daybook)

        with told_plainly(daybook.folder), ExitStack() as stack:
            sweep(daybook.folder, has_row)
            with daybook.reading() as ours:
                sides = read_sides(ours, theirs, unrelated=unrelated)
            wanted = settle(sides, keep_out(sides)).to_withdraw
            gone = withdraw_too(daybook, sides, wanted, person)
            if gone:
                with daybook.reading() as ours:
                    sides = read_sides(ours, theirs, unrelated=unrelated)
            more = take_out_too(daybook, sides, person)
            gone += more
            if more:
                with daybook.reading() as ours:
                    sides = read_sides(ours, theirs, unrelated=unrelated)
            # Copied before anybody is kept from writing: originals may be large.
            files, _ = files_along(sides, _settled(sides)[1])
            progress.stage("copying their files", max(len(files), 1))
            here: dict[Along, Arrival] = {}

            def copied(file: Along) -> Arrival:
                arriving = arrive(
                    daybook.folder,
                    other.path(file.held.file),
                    file.within,
                    file.name,
                    has_row,
                    expected_sha256=file.held.sha256,
                )
                return stack.enter_context(arriving)

            for file in files:
                if not _lost_by_issue(other, file):
                    here[file] = copied(file)
                progress.advance()
            told_why = why or "merged with another copy"
            with daybook.writing(person, told_why, action="merge") as ours:
                sides = read_sides(ours, theirs, unrelated=unrelated)
                kept_out, settled, renamed = _settled(sides)
                files, outside = files_along(sides, settled)
                for file in files:
                    if _lost_by_issue(other, file):
                        continue  # wherestood verify goes on naming it
                    # Somebody may have changed here meanwhile what must come along.
                    arrival = here.pop(file, None) or copied(file)
                    named_at(settled.final, file, arrival.file)
                _write(ours, sides, settled)
                add_notes(ours, settled)
                count_merge(ours, len({row["act"] for row in settled.rows}))
            for arrival in here.values():
                take_away(daybook.folder, arrival)
    names = tuple(file.held.file for file in files)
    told = _told(sides, kept_out, settled, renamed, names, outside)
    came = [
        row["key"]
        for (table, item_id), row in settled.final.items()
        if table == "terrain_layers"
        and item_id not in sides.ours.items[table]
        and not (row["removed"] or row["withdrawn"])
    ]
    steps = measure_what_came(daybook, came, person, progress)
    return replace(told, withdrawals=gone, withdrawn=len(wanted), steps=steps)


def _lost_by_issue(other: Daybook, file: Along) -> bool:
    """Tell whether an issued report of theirs lost a file: nobody can make it again."""
    return file.item[0] == "settings" and not other.path(file.held.file).is_file()


def _settled(sides: Sides) -> tuple[KeptOut, Settled, list[Renamed]]:
    kept_out = keep_out(sides)
    settled = settle(sides, kept_out)
    renamed = keep_keys_apart(sides, settled.final)
    name_by_new_keys(sides, settled)
    return kept_out, settled, renamed


def _told(
    sides: Sides,
    kept_out: KeptOut,
    settled: Settled,
    renamed: list[Renamed],
    files: tuple[str, ...],
    outside: tuple[str, ...],
) -> Merged:
    here = sides.ours.items
    known = [item for item in settled.final if item[1] in here[item[0]]]
    changed = [i for i in known if _differ(settled.final[i], here[i[0]][i[1]])]
    return Merged(
        acts=len({row["act"] for row in settled.rows}),
        added=len(settled.final) - len(known),
        changed=len(changed),
        conflicts=tuple(settled.conflicts),
        renamed=tuple(renamed),
        files=files,
        withdrawn=len(settled.to_withdraw),
        left_out=settled.left_out,
        outside=outside,
        kept_out=kept_out,
        held_here=same_files(sides.theirs, sides.ours),
        same_scans=same_scans(sides, settled.final),
    )


def _differ(one: Row, other: Row) -> bool:
    """Tell whether two rows say something else, however often each was written."""
    return any(one[c] != other[c] for c in one if c != "revision")


def _write(session: DaybookSession, sides: Sides, settled: Settled) -> None:
    """Write their journal rows, those of the merging, and the tables."""
    replayed = _after_their_rows(sides, settled)
    own_rows = _rows_of_merging(session, sides, settled, replayed)
    connection = session.connection()
    writing_by_flush(connection, True)
    try:
        theirs = [_with_its_seals(row) for row in settled.rows]
        sealed(connection, theirs)
        _insert(connection, JournalRow.__table__, theirs)
        _write_tables(connection, sides, settled)
        sealed(connection, own_rows)
        _insert(connection, JournalRow.__table__, own_rows)
        _index(connection, settled)
    finally:
        writing_by_flush(connection, False)
    session.expire_all()


def _with_its_seals(row: Row) -> Row:
    """Return a journal row of theirs to be sealed here, with the seals it had there."""
    had = None
    if row[AFTER] is not None and row["seal"]:
        had = [*(row["sealed_elsewhere"] or ()), [row[AFTER], row["seal"]]]
    plain = {k: v for k, v in row.items() if k not in ("number", AFTER)}
    return {**plain, "sealed_elsewhere": had}


def _after_their_rows(sides: Sides, settled: Settled) -> dict[Item, Row]:
    """Return items as the journal tells them once their rows follow ours."""
    tables = {
        name: {key: dict(row) for key, row in rows.items()}
        for name, rows in sides.ours.items.items()
    }
    for row in settled.rows:
        apply_row(
            tables, row["table_name"], row["item_id"], row["before"], row["after"]
        )
    return {item: tables[item[0]][item[1]] for item in settled.final}


def _rows_of_merging(
    session: DaybookSession,
    sides: Sides,
    settled: Settled,
    replayed: dict[Item, Row],
) -> list[Row]:
    """Return journal rows for what must be otherwise than their rows left it."""
    assert session.act is not None
    shared = {
        "act": session.act.id,
        "time": session.clock().astimezone(UTC).isoformat(timespec="microseconds"),
        "person": session.act.person,
        "why": session.act.why,
        "action": "merge",
        "undoes": None,
    }
    rows = []
    for item, final in settled.final.items():
        was = replayed[item]
        ours = sides.ours.items[item[0]].get(item[1])
        revisions = [was["revision"], ours["revision"] if ours else 0]
        differ = [c for c in final if c != "revision" and final[c] != was[c]]
        if not differ and was["revision"] == max(revisions):
            final["revision"] = was["revision"]
            continue
        final["revision"] = max(revisions) + 1
        columns = [*differ, "revision"]
        rows.append(
            {
                **shared,
                "uid": uuid.uuid4().hex,
                "table_name": item[0],
                "item_id": item[1],
                "plate_id": item[1] if item[0] == "plates" else final.get("plate_id"),
                "before": {c: was[c] for c in columns},
                "after": {c: final[c] for c in columns},
            }
        )
    return rows


def _write_tables(connection: Connection, sides: Sides, settled: Settled) -> None:
    """Write each item as it shall be, those referred to first."""
    for (name, item_id), row in settled.final.items():
        # No two may have one key, not even for a moment: those that change it make way.
        was = sides.ours.items[name].get(item_id, {})
        if "key" in row and was and row["key"] != was["key"]:
            making_way = f"moved {item_id}"
            table = Base.metadata.tables[name]
            by_id = update(table).where(table.c.id == item_id)
            connection.execute(by_id.values(key=making_way))
    for table in Base.metadata.sorted_tables:
        within = [
            key.parent.name for key in table.foreign_keys if key.column.table is table
        ]
        new, later = [], []
        for (name, item_id), row in settled.final.items():
            if name != table.name:
                continue
            if item_id in sides.ours.items[name]:
                later.append((item_id, row))
                continue
            # What refers to its own table is told in a second step.
            new.append({**row, **dict.fromkeys(within)})
            if any(row[column] for column in within):
                later.append((item_id, row))
        _insert(connection, table, new)
        for item_id, row in later:
            connection.execute(update(table).where(table.c.id == item_id).values(**row))


def _insert(connection: Connection, table: Any, rows: list[Row]) -> None:
    for start in range(0, len(rows), _AT_ONCE):
        connection.execute(insert(table), rows[start : start + _AT_ONCE])


def _index(connection: Connection, settled: Settled) -> None:
    words = Words.__table__
    ids = [item_id for _, item_id in settled.final]
    for start in range(0, len(ids), _AT_ONCE):
        some = ids[start : start + _AT_ONCE]
        connection.execute(delete(Words).where(words.c.item_id.in_(some)))
    index = [words_of(ITEMS[table](**row)) for (table, _), row in settled.final.items()]
    _insert(connection, words, [row for row in index if row])
