"""Answer ``wherestood made`` and ``wherestood emulsion``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wherestood.cli.book import DaybookFolder, PlateKey, open_daybook
from wherestood.cli.options import AsJson
from wherestood.cli.screen import say_json, say_page, say_written

__all__ = ["emulsion", "made"]


def made(
    plate: PlateKey,
    sides: Annotated[
        str | None,
        typer.Option(
            metavar="MMxMM",
            help="Sides measured on the object, as in 216x165; by its corners on the "
            "scan unless told.",
        ),
    ] = None,
    sides_sd: Annotated[
        float,
        typer.Option(metavar="MM", help="How far each of them may be off, mm."),
    ] = 1.0,
    cut: Annotated[
        str | None,
        typer.Option(
            metavar="HOW",
            help="By hand or by machine: glass of wet plates was cut by hand.",
        ),
    ] = None,
    clue: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME",
            help='What glass and coat show, as in "rough edges"; may be repeated.',
        ),
    ] = None,
    reads: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME",
            help='What tells left from right, as in "writing reads"; may be repeated.',
        ),
    ] = None,
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Say how a plate was made: size, lens, exposure, glass, left and right."""
    from wherestood.daybook.how_made import AskedMaking, how_made
    from wherestood.daybook.made_told import made_form, made_words
    from wherestood.errors import InputError

    if cut not in (None, "by hand", "by machine", "hand", "machine"):
        raise InputError(
            f"No glass is cut {cut!r}.", "Write --cut hand or --cut machine."
        )
    asked = AskedMaking(
        sides,
        sides_sd,
        None if cut is None else cut.endswith("hand"),
        tuple(clue or ()),
        tuple(reads or ()),
    )
    with open_daybook(daybook) as book:
        found = how_made(book, plate, asked)
    say_json(made_form(found)) if json else say_page(made_words(found))


def emulsion(
    photograph: Annotated[
        Path, typer.Argument(metavar="FILE", help="A modern colour photograph.")
    ],
    out: Annotated[Path, typer.Option(metavar="FILE", help="Picture to write.")],
    kind: Annotated[
        str,
        typer.Option(
            "--as", metavar="KIND", help="collodion, gelatin or orthochromatic."
        ),
    ] = "collodion",
) -> None:
    """Show a modern photograph as an early emulsion would have recorded it."""
    from wherestood.record.emulsion_picture import write_as_recorded

    write_as_recorded(photograph, kind, out)
    say_written([out])
