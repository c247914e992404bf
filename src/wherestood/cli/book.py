"""Find the daybook a command means, and who gives it."""

from __future__ import annotations

import getpass
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wherestood.cli.completing import plate_keys
from wherestood.cli.screen import warn
from wherestood.errors import InputError

if TYPE_CHECKING:
    from wherestood.daybook import Daybook

__all__ = [
    "DaybookFolder",
    "Person",
    "PlateKey",
    "Why",
    "nearest_daybook",
    "open_daybook",
    "person_named",
]

DaybookFolder = Annotated[
    Path | None,
    typer.Option(
        "--daybook",
        metavar="DIR",
        envvar="WHERESTOOD_DAYBOOK",
        help="Folder of the daybook; the nearest one upwards from here unless told.",
    ),
]
Person = Annotated[
    str | None,
    typer.Option(
        "--person",
        metavar="NAME",
        envvar="WHERESTOOD_PERSON",
        help="Who does it, for the journal; your name on this machine unless told.",
    ),
]
PlateKey = Annotated[
    str,
    typer.Argument(metavar="PLATE", help="The plate's key.", autocompletion=plate_keys),
]
Why = Annotated[
    str, typer.Option("--why", metavar="WORDS", help="Why, for the journal.")
]


def person_named(person: str | None) -> str:
    """Return who gives a command."""
    if person:
        return person
    try:
        return getpass.getuser()
    except (ImportError, KeyError, OSError) as error:
        raise InputError(
            "Nobody is named who makes this change.", "Say who, with --person."
        ) from error


@contextmanager
def open_daybook(folder: Path | None) -> Iterator[Daybook]:
    """Open the daybook named, or the nearest upwards, saying what must be known."""
    from wherestood.daybook import Daybook

    with Daybook.open(folder or nearest_daybook()) as daybook:
        for sentence in daybook.whereabouts.sentences():
            warn(sentence)
        if daybook.read_only:
            warn("Note: the folder cannot be written; the daybook is open to be read.")
        if daybook.upgraded_from is not None:
            warn("Note: the daybook was brought up to date from an older version.")
        if not daybook.finished:
            warn(
                "Note: what was withdrawn is not overwritten yet: another program has "
                "the daybook open, the disk is full, or a file in out/ cannot be "
                "deleted. The next opening tries again."
            )
        yield daybook


def nearest_daybook() -> Path:
    """Return the folder of the nearest daybook, upwards from here.

    Raises
    ------
    InputError
        If there is none.
    """
    from wherestood.daybook.book import ADDRESS_FILE, DATABASE

    here = Path.cwd()
    for folder in (here, *here.parents):
        if (folder / DATABASE).exists() or (folder / ADDRESS_FILE).exists():
            return folder
    raise InputError(
        f"There is no daybook in {str(here)!r} or above it.",
        "Name its folder with --daybook, or make one with wherestood daybook new.",
    )
