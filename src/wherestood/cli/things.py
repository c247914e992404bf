"""Make the commands by which items of every kind are listed, shown and changed.

All have one grammar: ``wherestood THINGS VERB ADDRESS --field value``. Fields are the
columns of the table, so that a new column is an option at once.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from wherestood.cli.book import (
    DaybookFolder,
    Person,
    Why,
    open_daybook,
    person_named,
)
from wherestood.cli.evidence_taken import take
from wherestood.cli.fields_typed import (
    COMMANDS,
    SUMMARIES,
    Command,
    addressed,
    many,
)
from wherestood.cli.fix import again
from wherestood.cli.options import AsJson
from wherestood.cli.plan_pinning import pin
from wherestood.cli.plans import picture, trace
from wherestood.cli.plans import take as take_plan
from wherestood.cli.screen import say, say_json, warn
from wherestood.cli.things_added import adder, changer
from wherestood.cli.things_listed import lister
from wherestood.cli.things_shown import say_item
from wherestood.errors import InputError

if TYPE_CHECKING:
    from wherestood.daybook.tables import Item

__all__ = ["COMMANDS", "commands_of"]

#: Kinds that only the program adds.
_MADE_BY_PROGRAM = ("fixes",)
_NOT_ADDED = (
    "A fix is made by the program, and not added by hand.",
    "Make one: wherestood fix PLATE. Somebody's answer is a proposed position: "
    "wherestood proposals add.",
)


def commands_of(table: str) -> typer.Typer:
    """Return the commands for the items of one table."""
    from wherestood.daybook.tables import ITEMS

    kind = ITEMS[table]
    group = typer.Typer(
        add_completion=False,
        no_args_is_help=True,
        rich_markup_mode=None,
        help=SUMMARIES[COMMANDS[table]],
    )
    verbs: list[tuple[str, Command]] = [
        ("list", lister(kind)),
        ("show", _shower(kind)),
    ]
    if table not in _MADE_BY_PROGRAM:
        verbs.append(("add", adder(kind)))
    else:
        _refuse(group, "add", *_NOT_ADDED)
    if not kind.kept_as_added:
        verbs.append(("change", changer(kind)))
    else:
        _refuse(group, "change", *_kept(kind))
    verbs += [
        ("remove", _remover(kind, aside=True)),
        ("restore", _remover(kind, aside=False)),
        ("withdraw", _withdrawer(kind)),
    ]
    if table == "fixes":
        verbs.append(("again", again))
    if table == "evidence":
        verbs.append(("take", take))
    if table == "plans":
        verbs += [
            ("take", take_plan), ("picture", picture), ("pin", pin), ("trace", trace),
        ]  # fmt: skip
    for name, command in verbs:
        group.command(name)(command)
    return group


def _kept(kind: type[Item]) -> tuple[str, str]:
    from wherestood.daybook.counted import an

    return (
        f"{an(kind.singular).capitalize()} is kept as it was added and cannot be "
        "changed.",
        "Make another one; both stay."
        if kind.__tablename__ in _MADE_BY_PROGRAM
        else "Add a later one, which takes its place; both stay.",
    )


def _refuse(group: typer.Typer, verb: str, problem: str, remedy: str) -> None:
    """Say why there is no such verb, to whoever types it."""

    def command(_words: Annotated[list[str] | None, typer.Argument()] = None) -> None:
        raise InputError(problem, remedy)

    anything = {"ignore_unknown_options": True, "allow_extra_args": True}
    group.command(verb, hidden=True, context_settings=anything)(command)


def _shower(kind: type[Item]) -> Command:
    def command(
        address: Any,
        daybook: DaybookFolder = None,
        json: AsJson = False,
    ) -> None:
        from wherestood.daybook.keys import find

        with open_daybook(daybook) as book, book.reading() as session:
            say_item(session, book.folder, find(session, kind, address), as_json=json)

    command.__doc__ = f"Show all that is kept of one of the {many(kind)}."
    return addressed(command, kind)


def _remover(kind: type[Item], *, aside: bool) -> Command:
    def command(
        address: Any,
        person: Person = None,
        why: Why = "",
        daybook: DaybookFolder = None,
        json: AsJson = False,
    ) -> None:
        from wherestood.daybook.change_items import bring_back, set_aside
        from wherestood.daybook.keys import find

        put = set_aside if aside else bring_back
        with open_daybook(daybook) as book:
            with book.reading() as session:
                item = find(session, kind, address)
                already, number = item.removed is aside, item.id
            record = put(book, kind.__tablename__, number, person_named(person), why)
        told = "Set aside" if aside else "Brought back"
        if json:
            say_json(record)
        elif already:
            done = "set aside already" if aside else "not set aside"
            warn(f"The {item.singular} {record['address']} was {done}.")
        else:
            more = "; nothing of it is lost" if aside else ""
            say(f"{told} {item.singular} {record['address']}{more}.")

    verb = "Set aside" if aside else "Bring back"
    command.__doc__ = f"{verb} one of the {many(kind)}."
    return addressed(command, kind)


def _withdrawer(kind: type[Item]) -> Command:
    def command(
        address: Any,
        yes: Annotated[
            bool, typer.Option("--yes", help="Do not ask whether it is meant.")
        ] = False,
        everywhere: Annotated[
            bool,
            typer.Option(
                "--everywhere", help="Take the same words out of all else, too."
            ),
        ] = False,
        words: Annotated[
            list[str] | None,
            typer.Option(
                metavar="WORDS",
                help="Words besides that go from everywhere, as another spelling of a "
                "name; also of what was withdrawn before. Repeatable.",
            ),
        ] = None,
        dry_run: Annotated[
            bool, typer.Option("--dry-run", help="Say what would go, and from where.")
        ] = False,
        person: Person = None,
        why: Why = "",
        daybook: DaybookFolder = None,
        json: AsJson = False,
    ) -> None:
        from wherestood.cli.withdrawing import withdraw_item

        withdraw_item(
            kind, address, daybook, person_named(person), why,
            yes=yes, everywhere=everywhere, words=words or (), dry_run=dry_run,
            as_json=json,
        )  # fmt: skip

    command.__doc__ = (
        f"Take the content of one of the {many(kind)} out for good, leaving a stub."
    )
    return addressed(command, kind)
