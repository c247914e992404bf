"""Ask before content is withdrawn, and say what went."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from wherestood.cli.book import open_daybook
from wherestood.cli.screen import say, say_json, warn
from wherestood.errors import InputError

if TYPE_CHECKING:
    from wherestood.daybook import Daybook
    from wherestood.daybook.tables import Item
    from wherestood.daybook.withdraw import Withdrawn

__all__ = ["ask_first", "tell_withdrawn", "withdraw_item"]


def withdraw_item(
    kind: type[Item],
    address: str,
    folder: Path | None,
    person: str,
    why: str,
    *,
    yes: bool,
    everywhere: bool,
    words: Sequence[str],
    dry_run: bool,
    as_json: bool,
) -> None:
    """Withdraw one item, once the person said that it is meant."""
    from wherestood.daybook.keys import find
    from wherestood.daybook.withdraw import withdraw

    def done(book: Daybook, *, dry_run: bool) -> Withdrawn:
        return withdraw(
            book, kind, item.id, person=person, why=why, everywhere=everywhere,
            words=words, dry_run=dry_run,
        )  # fmt: skip

    with open_daybook(folder) as book:
        with book.reading() as session:
            item = find(session, kind, address)
        if not (yes or dry_run):
            ask_first(done(book, dry_run=True), everywhere=everywhere)
        told = done(book, dry_run=dry_run)
    if as_json:
        say_json({**asdict(told), "dry_run": dry_run})
    else:
        tell_withdrawn(told, everywhere=everywhere, dry_run=dry_run)


def ask_first(would: Withdrawn, *, everywhere: bool) -> None:
    """Ask whether it is meant, and stop where it is not."""
    parts = []
    if would.stubs:
        parts.append(f"The content of {', '.join(would.stubs)}")
    if would.redacted or not parts:
        of = "the same words" if parts else "The words given"
        elsewhere = ["the journal", *would.redacted] if everywhere else would.redacted
        parts.append(f"{of} in {', '.join(elsewhere)}")
    question = (
        f"{', and '.join(parts)} will be taken out for good; this cannot be undone."
    )
    if would.still_in and not everywhere:
        question += (
            f" They stay in {', '.join(would.still_in)}: with --everywhere they go "
            "there too."
        )
    if not sys.stdin.isatty():
        raise InputError(question, "Say that it is meant, with --yes.")
    if not typer.confirm(f"{question} Go on?"):
        raise typer.Abort


def tell_withdrawn(done: Withdrawn, *, everywhere: bool, dry_run: bool) -> None:
    """Say what went, or would, and what a person should look at."""
    from wherestood.daybook.withdrawn_in_words import withdrawn_in_words

    told = withdrawn_in_words(done, everywhere=everywhere, dry_run=dry_run)
    for sentence in told.said:
        say(sentence)
    for sentence in told.warned:
        warn(sentence)
