"""Ask before content is withdrawn, and say what went."""

from __future__ import annotations

import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from wherestood.cli.book import open_daybook
from wherestood.cli.screen import say, say_json, warn
from wherestood.errors import InputError

if TYPE_CHECKING:
    from wherestood.daybook.tables import Item
    from wherestood.daybook.withdraw import Withdrawn

__all__ = ["withdraw_item"]


def withdraw_item(
    kind: type[Item],
    address: str,
    folder: Path | None,
    person: str,
    why: str,
    *,
    yes: bool,
    everywhere: bool,
    as_json: bool,
) -> None:
    """Withdraw one item, once the person said that it is meant."""
    from wherestood.daybook.keys import find
    from wherestood.daybook.withdraw import withdraw

    with open_daybook(folder) as book:
        with book.reading() as session:
            item = find(session, kind, address)
        if not yes:
            _ask(f"{item.singular} {address}", everywhere=everywhere)
        done = withdraw(
            book, kind, item.id, person=person, why=why, everywhere=everywhere
        )
    if as_json:
        say_json(asdict(done))
    else:
        _tell(done)


def _ask(name: str, *, everywhere: bool) -> None:
    words = (
        "The same words are taken out of all else too."
        if everywhere
        else "Words elsewhere that repeat it are named, and stay: with --everywhere "
        "they go too."
    )
    question = (
        f"The content of {name}, and of all that falls with it, will be taken out for "
        f"good; this cannot be undone. {words}"
    )
    if not sys.stdin.isatty():
        raise InputError(question, "Say that it is meant, with --yes.")
    if not typer.confirm(f"{question} Go on?"):
        raise typer.Abort


def _tell(done: Withdrawn) -> None:
    say(f"Withdrew {', '.join(done.stubs)}. A stub of each is left.")
    for name in done.files:
        say(f"Deleted {name}")
    if done.redacted:
        say(f"The same words were taken out of {', '.join(done.redacted)}.")
    for name in done.left_in_place:
        warn(f"Note: {name} is outside the daybook and still there; delete it.")
    if done.still_in:
        warn(
            f"Note: the same words still stand in {', '.join(done.still_in)}. To take "
            "them out there too, withdraw each of these as well: a change would leave "
            "them in the journal."
        )
    if not done.finished:
        warn(
            "Note: another program has the daybook open. What was withdrawn is "
            "overwritten when the daybook is next opened."
        )
