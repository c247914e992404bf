"""Answer ``wherestood when``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wherestood.cli.book import (
    DaybookFolder,
    Person,
    PlateKey,
    Why,
    open_daybook,
    person_named,
)
from wherestood.cli.options import AsJson
from wherestood.cli.screen import say_json, say_page, stages, warn
from wherestood.errors import InputError

__all__ = ["when"]


def when(
    plate: PlateKey,
    period: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME",
            help='A process, print or mount, as in "wet collodion negative"; may be '
            "repeated.",
        ),
    ] = None,
    sign: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME",
            help="What the picture shows of the season: leaf, bare, snow, ...; may be "
            "repeated.",
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
            metavar="DATE/DATE", help="Months considered; 1839/1955 unless told."
        ),
    ] = None,
    shadow: Annotated[
        list[str] | None,
        typer.Option(
            metavar="X,Y:X,Y[:X,Y]",
            help="An upright thing's foot, its shadow's tip, and its top, pixels; may "
            "be repeated. Needs a fix.",
        ),
    ] = None,
    edge: Annotated[
        list[str] | None,
        typer.Option(
            metavar="X,Y:X,Y:X,Y:DEG",
            help="A wall's foot, its top above it, any point of that top edge's "
            "shadow, pixels, and the true bearing in which the wall runs; may be "
            "repeated.",
        ),
    ] = None,
    lit: Annotated[
        list[float] | None,
        typer.Option(
            metavar="DEG",
            help="True bearing that a face looks which the sun falls on; may be "
            "repeated.",
        ),
    ] = None,
    unlit: Annotated[
        list[float] | None,
        typer.Option(
            metavar="DEG", help="The same of a face in its own shade; may be repeated."
        ),
    ] = None,
    slope: Annotated[
        str | None,
        typer.Option(
            metavar="DEG,BEARING",
            help="How the ground under the shadows rises; level unless told.",
        ),
    ] = None,
    day: Annotated[
        str | None,
        typer.Option(metavar="DATE", help="The day of the shadows, where it is known."),
    ] = None,
    hour: Annotated[
        str | None,
        typer.Option(metavar="H:MM", help="The hour, where it is known."),
    ] = None,
    clock: Annotated[
        str,
        typer.Option(metavar="KIND", help="Its clock: local mean, by the sun or zone."),
    ] = "local mean",
    zone: Annotated[
        float | None,
        typer.Option(metavar="H", help="The zone's hours ahead of universal time."),
    ] = None,
    after_plate: Annotated[
        list[str] | None,
        typer.Option(
            metavar="PLATE[,TRUST]",
            help="A plate that is older: it lacks what this one shows; may be "
            "repeated.",
        ),
    ] = None,
    before_plate: Annotated[
        list[str] | None,
        typer.Option(
            metavar="PLATE[,TRUST]",
            help="A plate that is younger: it shows what this one lacks; may be "
            "repeated.",
        ),
    ] = None,
    because: Annotated[
        str,
        typer.Option(
            metavar="WORDS", help="What tells their order; kept with it (--keep)."
        ),
    ] = "",
    hills: Annotated[
        bool,
        typer.Option(
            "--hills/--no-hills",
            help="Whether hills of the daybook's terrain hide the sun.",
        ),
    ] = True,
    keep: Annotated[
        bool,
        typer.Option(
            "--keep",
            help="Keep shadows, faces, signs, the hour and orders that are given here "
            "in the daybook, as evidence of the plate.",
        ),
    ] = False,
    person: Person = None,
    why: Why = "",
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Say when a plate of the daybook was exposed, and by what."""
    from wherestood.daybook.hills import hills_of_book
    from wherestood.daybook.keep_seen import keep_given
    from wherestood.daybook.sun_told import sun_told_form, sun_told_words
    from wherestood.daybook.when_exposed import Given, date_of_plate
    from wherestood.record.date_form import date_form
    from wherestood.record.date_words import date_words

    given = Given(
        periods=tuple(period or ()),
        signs=tuple(sign or ()),
        own_periods=_text(periods),
        own_signs=_text(signs),
        between=between,
        shadows=tuple(shadow or ()),
        edges=tuple(edge or ()),
        lit=tuple(lit or ()),
        unlit=tuple(unlit or ()),
        slope=slope,
        day=day,
        hour=hour,
        clock=clock,
        zone_hours=zone,
        after_plates=tuple(after_plate or ()),
        before_plates=tuple(before_plate or ()),
    )
    with open_daybook(daybook) as book, stages() as shown:
        if keep:
            given, kept = keep_given(
                book, plate, given, person_named(person), why, because
            )
            for sentence in kept:
                warn(sentence)
        told = date_of_plate(
            book, plate, given, hills_of_book(book, shown) if hills else None
        )
    if json:
        form = date_form(told.whole, told.contributions, told.offers, told.left_out)
        sun = told.sun
        form["sun"] = None if sun is None else sun_told_form(sun)
        say_json(form)
        return
    sections = date_words(told.whole, told.contributions, told.offers, told.left_out)
    if told.sun is not None:
        sections += sun_told_words(told.sun, zone)
    say_page(sections)


def _text(path: Path | None) -> tuple[str, str] | None:
    """Read a file of the person's own: its words and its name."""
    if path is None:
        return None
    try:
        return path.read_text(encoding="utf-8"), path.name
    except (OSError, UnicodeDecodeError) as trouble:
        raise InputError(
            f"{path} cannot be read as text.", "Check its name, and that it is UTF-8."
        ) from trouble
