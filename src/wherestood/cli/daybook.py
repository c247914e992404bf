"""Answer ``wherestood daybook``, ``history``, ``undo`` and ``redo``."""

from __future__ import annotations

from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from rich.text import Text

from wherestood.cli.book import (
    DaybookFolder,
    Person,
    Why,
    open_daybook,
    person_named,
)
from wherestood.cli.options import AsJson
from wherestood.cli.screen import say, say_json, warn
from wherestood.errors import InputError

if TYPE_CHECKING:
    from wherestood.daybook.book import Daybook
    from wherestood.daybook.history import Entry
    from wherestood.daybook.undo import TakenBack

__all__ = ["about", "books", "history", "new", "rebuild", "redo", "region", "undo"]


def new(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Where to make it.")],
    url: Annotated[
        str | None,
        typer.Option(
            metavar="URL",
            help="A PostgreSQL database, as in postgresql+psycopg://ada@host/valley.",
        ),
    ] = None,
    json: AsJson = False,
) -> None:
    """Make a daybook in a new folder."""
    from wherestood.daybook import Daybook

    with Daybook.create(folder, url=url) as book:
        for sentence in book.whereabouts.sentences():
            warn(sentence)
    if json:
        say_json({"daybook": str(folder)})
    else:
        say(f"Made a daybook in {folder}.")
        say("Work in that folder, or name it with --daybook.")


def about(daybook: DaybookFolder = None, json: AsJson = False) -> None:
    """Say what a daybook holds, and whether tables and journal agree."""
    from wherestood.daybook.choose import Wanted, count
    from wherestood.daybook.history import tally
    from wherestood.daybook.replay import disagreements
    from wherestood.daybook.schema import newest_schema
    from wherestood.daybook.tables import ITEMS

    with open_daybook(daybook) as book, book.reading() as session:
        counts = {
            name: number
            for name, kind in ITEMS.items()
            if (number := count(session, kind, Wanted()))
        }
        done = tally(session)
        wrong = disagreements(session)
        told: dict[str, Any] = {
            "daybook": str(book.folder),
            "database": book.engine.dialect.name,
            "schema": newest_schema(),
            "items": counts,
            "done": asdict(done),
            "disagreements": wrong,
        }
    if json:
        say_json(told)
        return
    say(Text(f"Daybook {told['daybook']}", style="bold"))
    say(f"  {told['database']} database, schema {told['schema']}")
    for name, number in counts.items():
        say(f"  {name.replace('_', ' ')}: {number}")
    say(f"  {done.sentence()}")
    for sentence in wrong:
        warn(f"Warning: {sentence}")
    if not wrong:
        say("  Tables and journal agree.")


def region(
    calendar: Annotated[
        str | None,
        typer.Option(
            metavar="KIND",
            help="julian where that was kept until 1918 or later, so that days are "
            "asked about; or gregorian.",
        ),
    ] = None,
    periods: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Periods of your own region, TOML."),
    ] = None,
    signs: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Signs of your own region, TOML."),
    ] = None,
    between: Annotated[
        str | None,
        typer.Option(
            metavar="DATE/DATE",
            help="Months that are seriously possible there, as in 1860/1900; .. for "
            "all years of plates.",
        ),
    ] = None,
    no_periods: Annotated[
        bool, typer.Option("--no-periods", help="Take its own periods away.")
    ] = False,
    no_signs: Annotated[
        bool, typer.Option("--no-signs", help="Take its own signs away.")
    ] = False,
    person: Person = None,
    why: Why = "",
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Say, or keep, what holds for dates in a daybook's country."""
    from wherestood.daybook.region import OwnTable, Region, keep_region, region_of

    if calendar not in (None, "julian", "gregorian"):
        raise InputError(
            f"No calendar is called {calendar!r}.", "Write julian or gregorian."
        )
    own = {
        name: OwnTable(path.name, _text(path))
        for name, path in (("periods", periods), ("signs", signs))
        if path is not None
    }
    gone = {
        name: None
        for name, away in (("periods", no_periods), ("signs", no_signs))
        if away
    }

    def change(before: Region) -> Region:
        kept = calendar == "julian" if calendar else before.julian
        range_ = before.between if between is None else between.strip()
        range_ = None if range_ in ("", "..", "../..") else range_
        return replace(before, julian=kept, between=range_, **(own | gone))

    with open_daybook(daybook) as book:
        if calendar or own or gone or between is not None:
            keep_region(book, change, person_named(person), why)
        with book.reading() as session:
            told = region_of(session)
    if json:
        say_json(asdict(told))
        return
    say(
        "The Julian calendar was kept there until 1918 or later: days are asked about."
        if told.julian
        else "Days are taken as of the Gregorian calendar."
    )
    say(f"Months considered: {told.between or 'all years of plates, 1839 to 1955'}.")
    for what, table in (("periods", told.periods), ("signs", told.signs)):
        none = f"No {what} of its own are kept."
        say(none if table is None else f"Its own {what}: {table.name}.")


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as trouble:
        raise InputError(
            f"{path} cannot be read as text.", "Check its name, and that it is UTF-8."
        ) from trouble


def rebuild(
    out: Annotated[
        Path, typer.Argument(metavar="DIR", help="Folder of the new daybook.")
    ],
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Make a new daybook from the journal alone; files are not copied."""
    from wherestood.daybook import Daybook
    from wherestood.daybook.replay import rebuild_into

    with open_daybook(daybook) as book, Daybook.create(out) as made:
        items = rebuild_into(book, made)
    if json:
        say_json({"daybook": str(out), "items": items})
    else:
        say(f"Made {out} with {items} items, from the journal alone.")


def history(
    plate: Annotated[
        str | None, typer.Argument(metavar="PLATE", help="All of it unless told.")
    ] = None,
    last: Annotated[
        int | None, typer.Option(metavar="N", min=1, help="The last so many acts.")
    ] = None,
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Tell what was done, by whom, when and why, as a diary."""
    from wherestood.daybook.history import history as told_by
    from wherestood.daybook.history import tally
    from wherestood.daybook.keys import find
    from wherestood.daybook.tables import Plate

    with open_daybook(daybook) as book, book.reading() as session:
        one = find(session, Plate, plate) if plate else None
        entries = told_by(session, one, last=last)
        done = tally(session, one)
    if json:
        say_json({"entries": [asdict(e) for e in entries], "done": asdict(done)})
        return
    _say_diary(entries)
    say(f"In all: {done.sentence()}")


def _say_diary(entries: list[Entry]) -> None:
    """Write a heading for each day, and a paragraph for each act."""
    day = ""
    for entry in entries:
        if entry.time[:10] != day:
            day = entry.time[:10]
            say(Text(day, style="bold"))
        why = f": {entry.why}" if entry.why else ""
        say(Text.assemble(f"  {entry.time[11:16]} UTC, {entry.person}{why} ",
                          (f"({entry.act[:8]})", "dim")))  # fmt: skip
        for sentence in entry.sentences:
            say(f"    {sentence}")
    if entries:
        say("")


def undo(
    act: Annotated[
        str, typer.Argument(metavar="[ACT]", help="As history shows it; the last one.")
    ] = "",
    person: Person = None,
    why: Why = "",
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Take back the last act, or another; the journal keeps both."""
    from wherestood.daybook.undo import undo as take_back

    with open_daybook(daybook) as book:
        done = take_back(book, person_named(person), why, act)
        did = _did(book, done.act)
    _say_taken(done, "Took back", did, as_json=json)


def redo(
    act: Annotated[
        str, typer.Argument(metavar="[ACT]", help="The undo to take back; the last.")
    ] = "",
    person: Person = None,
    why: Why = "",
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Do again what was last taken back."""
    from wherestood.daybook.undo import redo as do_again

    with open_daybook(daybook) as book:
        done = do_again(book, person_named(person), why, act)
        did = _did(book, done.act)
    _say_taken(done, "Took back the undo:", did, as_json=json)


def _did(book: Daybook, act: str) -> Entry | None:
    """Return what was taken back: an act, or the one that an undo had taken back."""
    from sqlalchemy import select

    from wherestood.daybook.history import entry_of
    from wherestood.daybook.tables import JournalRow

    with book.reading() as session:
        undoes = select(JournalRow.undoes).where(JournalRow.act == act).limit(1)
        while undone := session.scalar(undoes):
            act = undone
            undoes = select(JournalRow.undoes).where(JournalRow.act == act).limit(1)
        return entry_of(session, act)


def _say_taken(done: TakenBack, verb: str, did: Entry | None, *, as_json: bool) -> None:
    if as_json:
        did_what = list(did.sentences) if did is not None else []
        say_json({**asdict(done), "did": did_what})
        return
    many = "1 change" if done.changes == 1 else f"{done.changes} changes"
    why = f" ({done.why})" if done.why else ""
    when = f"{done.time[:10]} {done.time[11:16]} UTC"
    say(f"{verb} {many} by {done.person} of {when}{why}.")
    if did is not None:
        if did.act != done.act:
            time = f"{did.time[:10]} {did.time[11:16]} UTC"
            say(f"  Done again, of {time} by {did.person}:")
        for sentence in did.sentences:
            say(f"  {sentence}")


books = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    help="Make a daybook, and say what one holds.",
)
for _command in (new, about, region, rebuild):
    books.command()(_command)
