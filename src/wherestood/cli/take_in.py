"""Answer ``wherestood take-in`` and ``verify``."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from wherestood.cli.book import (
    DaybookFolder,
    Person,
    Why,
    open_daybook,
    person_named,
)
from wherestood.cli.exits import NOT_AS_LEFT
from wherestood.cli.options import AsJson
from wherestood.cli.refusals import refusals_as_json, say_refusals
from wherestood.cli.screen import say, say_json, stages, warn
from wherestood.errors import InputError

if TYPE_CHECKING:
    from wherestood.daybook.originals import TakenIn

__all__ = ["take_in", "verify"]

_SHOWN = 20  # names of files


def take_in(
    scans: Annotated[
        list[Path], typer.Argument(metavar="SCAN...", help="Files, or one folder.")
    ],
    plate: Annotated[
        str | None,
        typer.Option(
            metavar="KEY",
            help="The plate; unless told, the number inside a file, else its name.",
        ),
    ] = None,
    new: Annotated[
        bool, typer.Option("--new", help="Add the plate if there is none of that key.")
    ] = False,
    what: Annotated[
        str | None,
        typer.Option(metavar="WORDS", help="What was scanned: negative, piece ..."),
    ] = None,
    accession: Annotated[
        str | None,
        typer.Option(metavar="NUMBER", help="Accession number of this copy."),
    ] = None,
    note: Annotated[
        str | None, typer.Option(metavar="WORDS", help="Anything else.")
    ] = None,
    leave: Annotated[
        bool, typer.Option("--leave", help="Leave files in place, and watch them.")
    ] = False,
    again: Annotated[
        bool, typer.Option("--again", help="Though every byte is there already.")
    ] = False,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Say what would happen to a folder.")
    ] = False,
    person: Person = None,
    why: Why = "",
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Take scans in as they are, or leave them where they are and watch them."""
    from wherestood.daybook.catalogue import take_folder
    from wherestood.daybook.originals import ScanDetails
    from wherestood.daybook.originals import take_in as take_one

    named = person_named(person)
    if plate is None:
        if len(scans) != 1 or not scans[0].is_dir():
            raise InputError(
                "No plate is named for these files.",
                "Say which, with --plate, or name one folder of scans.",
            )
        with open_daybook(daybook) as book, stages() as shown:
            found = take_folder(
                book,
                scans[0],
                named,
                why=why,
                leave=leave,
                dry_run=dry_run,
                progress=shown,
            )
        if json:
            say_json(
                {
                    "taken": [_as_json(one) for one in found.taken],
                    "would_take": [list(pair) for pair in found.would_take],
                    "refused": refusals_as_json(found.refused),
                    "passed_over": list(found.passed_over),
                    "new_plates": list(found.new_plates),
                }
            )
            return
        for file, key in found.would_take if dry_run else ():
            is_new = ", a new one" if key in found.new_plates else ""
            say(f"{file} would go to plate {key}{is_new}")
        _say_taken(found.taken)
        if found.new_plates and not dry_run:
            keys = ", ".join(found.new_plates[:_SHOWN])
            more = "" if len(found.new_plates) <= _SHOWN else " ..."
            say(f"New plates, made with them: {keys}{more}")
        say_refusals(found.refused)
        if found.passed_over:
            names = ", ".join(found.passed_over[:_SHOWN])
            more = "" if len(found.passed_over) <= _SHOWN else " ..."
            warn(f"Note: passed over, as no scans: {names}{more}")
        return
    details = ScanDetails(what, accession, None, note)
    taken = []
    with open_daybook(daybook) as book, stages() as shown:
        for scan in scans:
            taken.append(
                take_one(
                    book,
                    plate,
                    scan,
                    named,
                    why=why,
                    details=details,
                    leave=leave,
                    again=again,
                    new_plate={} if new else None,
                    progress=shown,
                )
            )
    if json:
        say_json({"taken": [_as_json(one) for one in taken]})
    else:
        _say_taken(tuple(taken))


def _as_json(one: TakenIn) -> dict[str, Any]:
    return {**asdict(one), "notes": list(one.notes)}


def _say_taken(taken: tuple[TakenIn, ...]) -> None:
    for one in taken:
        say(f"{one.address}: {one.file}")
        for note in one.notes:
            warn(f"Note: {one.address}: {note}")
    count = sum(not one.put_back for one in taken)
    if count:
        say(f"Took {count} scan{'s' if count != 1 else ''} in.")


def verify(
    *,
    mend_words: Annotated[
        bool,
        typer.Option(
            "--mend-words", help="Write the index for searches anew where it is wrong."
        ),
    ] = False,
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Check every file by its checksum, the database, references and journal."""
    from wherestood.daybook.originals import verify as look
    from wherestood.daybook.seal import last_seal
    from wherestood.daybook.words_astray import mend_words as mend

    with open_daybook(daybook) as book, stages() as shown:
        if mend_words:
            mend(book)
        findings = look(book, shown)
        with book.reading() as session:
            seal = last_seal(session.connection())
    serious = [finding for finding in findings if finding.is_serious]
    if json:
        say_json(
            {
                "sound": not serious,
                "seal": seal,
                "findings": [
                    {**asdict(one), "serious": one.is_serious} for one in findings
                ],
            }
        )
    else:
        for finding in findings:
            say(finding.sentence)
        if seal:
            say(f"The journal's last seal: {seal}")
        if not findings:
            say("Every file is what it was, and tables and journal agree.")
        elif not serious:
            say("Nothing is lost.")
    if serious:
        raise typer.Exit(NOT_AS_LEFT)
