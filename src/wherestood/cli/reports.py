"""Answer ``wherestood reports``: issues that were frozen, and who received them."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wherestood.cli.book import DaybookFolder, Person, Why, open_daybook, person_named
from wherestood.cli.options import AsJson
from wherestood.cli.screen import say, say_json, say_written

if TYPE_CHECKING:
    from wherestood.daybook.report_issues import Issue

__all__ = ["issued"]

IssueKey = Annotated[str, typer.Argument(metavar="REPORT", help="As in report-1.")]


def _list(daybook: DaybookFolder = None, json: AsJson = False) -> None:
    """List all issues."""
    from wherestood.daybook.report_issues import issues

    with open_daybook(daybook) as book, book.reading() as session:
        found = issues(session)
    if json:
        say_json([asdict(one) for one in found])
        return
    for one in found:
        say(_line(one))
    say("No report was issued yet." if not found else f"{len(found)} in all.")


def _line(one: Issue) -> str:
    from wherestood.daybook.counted import counted

    kind = "public copy" if one.public else "full, restricted"
    errata = f", {counted(len(one.errata), 'erratum slip')}" if one.errata else ""
    if one.withdrawn:
        errata = f", withdrawn on {one.withdrawn[:10]}"
    return (
        f"{one.key}  {one.made[:10]}, {kind}: {', '.join(one.plates)}; received by "
        f"{len(one.received)}{errata}"
    )


def _show(key: IssueKey, daybook: DaybookFolder = None, json: AsJson = False) -> None:
    """Show an issue: its files with checksums, who received it, what is wrong in it."""
    from wherestood.daybook.report_issues import issue_of

    with open_daybook(daybook) as book, book.reading() as session:
        one = issue_of(session, key)
    if json:
        say_json(asdict(one))
        return
    say(_line(one))
    if not one.withdrawn:
        say(f"  {one.title}, by {one.author or 'UNKNOWN'}")
    for record in one.files:
        say(f"  {record['sha256']}  {record['file']}")
    for told in one.received:
        how = f", {told['how']}" if told["how"] else ""
        say(f"  Received by {told['by']}, {told['when']}{how}.")
    for told in one.errata:
        say(f"  Erratum, {told['when']}, {told['by']}: {told['words']}")


def _received(
    key: IssueKey,
    by: Annotated[str, typer.Option(metavar="WHO", help="Who received it.")],
    how: Annotated[
        str, typer.Option(metavar="WORDS", help="How it was sent, or handed over.")
    ] = "",
    person: Person = None,
    why: Why = "",
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Note who received an issue."""
    from wherestood.daybook.report_issues import note_recipient

    with open_daybook(daybook) as book:
        one = note_recipient(book, key, by, how, person_named(person), why)
    if json:
        say_json(asdict(one))
    else:
        say(f"Noted: {key} was received by {by}.")


def _erratum(
    key: IssueKey,
    words: Annotated[
        str, typer.Option(metavar="WORDS", help="What is wrong, and what is right.")
    ],
    out: Annotated[
        Path, typer.Option(metavar="DIR", help="Folder for the slip.")
    ] = Path("erratum"),
    person: Person = None,
    why: Why = "",
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Note what an issue has wrong, and write the slip to lay into its copies."""
    from datetime import UTC
    from importlib.metadata import version

    from wherestood.daybook.report_issues import note_erratum
    from wherestood.record.atomic import check_folder
    from wherestood.record.report.slip import erratum_slip
    from wherestood.record.report.write import write_report

    check_folder(out)
    with open_daybook(daybook) as book:
        one = note_erratum(book, key, words, person_named(person), why)
        made = book.clock().astimezone(UTC).replace(microsecond=0).isoformat()
    slip = erratum_slip(
        one.key, one.title, one.made, one.errata, made, version("wherestood")
    )
    files = write_report(out, slip, name="erratum")
    if json:
        say_json({**asdict(one), "slip": [str(path) for path in files]})
        return
    say_written(files)
    for told in one.received:
        say(f"Send it to {told['by']}, who received {key} on {told['when']}.")


def _withdraw(
    key: IssueKey,
    yes: Annotated[
        bool, typer.Option("--yes", help="Do not ask whether it is meant.")
    ] = False,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Say what would go.")
    ] = False,
    person: Person = None,
    why: Why = "",
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Take an issue back for good: its files go, its number stays."""
    from wherestood.cli.withdrawing import ask_first, tell_withdrawn
    from wherestood.daybook.report_issues import withdraw_issue

    named = person_named(person)
    with open_daybook(daybook) as book:
        one, told = withdraw_issue(book, key, named, why, dry_run=True)
        if not (yes or dry_run):
            ask_first(told, everywhere=False)
        if not dry_run:
            one, told = withdraw_issue(book, key, named, why)
    if json:
        say_json({**asdict(one), **asdict(told), "dry_run": dry_run})
        return
    tell_withdrawn(told, everywhere=False, dry_run=dry_run)
    for received in one.received:
        say(f"Tell {received['by']}, who received {key} on {received['when']}.")


issued = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    help="Frozen issues of reports: who received them, what they have wrong.",
)
for _name, _command in (
    ("list", _list), ("show", _show), ("received", _received), ("erratum", _erratum),
    ("withdraw", _withdraw),
):  # fmt: skip
    issued.command(_name)(_command)
