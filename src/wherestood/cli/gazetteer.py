"""Answer ``wherestood gazetteer-in`` and ``offer``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wherestood.cli.book import (
    DaybookFolder,
    Person,
    Why,
    open_daybook,
    person_named,
)
from wherestood.cli.catalogue import (
    ColumnsTold,
    Delimiter,
    Encoding,
    Report,
    columns_told,
)
from wherestood.cli.options import AsJson
from wherestood.cli.refusals import refusals_as_json, say_refusals, write_refusals
from wherestood.cli.screen import say, say_json, stages, warn

__all__ = ["gazetteer_in", "offer"]

_SHOWN = 20


def gazetteer_in(
    file: Annotated[
        Path,
        typer.Argument(
            metavar="FILE", help="GeoJSON, GeoPackage, KML, shapefile, CSV or XLSX."
        ),
    ],
    citation: Annotated[
        str | None,
        typer.Option(
            metavar="WORDS", help="How the file is cited; its name unless told."
        ),
    ] = None,
    column: ColumnsTold = None,
    crs: Annotated[
        str | None,
        typer.Option(
            metavar="CODE",
            help="Reference system of its numbers, as EPSG:27700, if it does not say.",
        ),
    ] = None,
    layer: Annotated[
        str | None, typer.Option(metavar="NAME", help="Which layer, or sheet.")
    ] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Say what would happen.")
    ] = False,
    report: Report = None,
    encoding: Encoding = None,
    delimiter: Delimiter = None,
    person: Person = None,
    why: Why = "",
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Take features of the ground in, with every name and when they stood."""
    from wherestood.daybook.gazetteer import read_gazetteer, take_gazetteer

    with open_daybook(daybook) as book, stages() as shown:
        gazetteer = read_gazetteer(
            file,
            told=columns_told(column),
            crs=crs,
            layer=layer,
            encoding=encoding,
            delimiter=delimiter,
            progress=shown,
        )
        taken = take_gazetteer(
            book,
            gazetteer,
            person_named(person),
            citation=citation or file.name,
            why=why,
            dry_run=dry_run,
            progress=shown,
        )
    if json:
        say_json(
            {
                "file": file.name,
                "read": list(gazetteer.notes),
                "columns": gazetteer.meanings,
                "dry_run": dry_run,
                "add": taken.would_add,
                "already_there": taken.already_there,
                "added": list(taken.added),
                "undated": [s for one in gazetteer.entries for s in one.unread],
                "refused": refusals_as_json(taken.refused),
            }
        )
        if report is not None:
            write_refusals(report, taken.refused)
        return
    for note in gazetteer.notes:
        say(f"{file.name}: {note}")
    for name, meaning in gazetteer.meanings.items():
        say(f"  {name} -> {meaning}")
    would = "would be " if dry_run else ""
    say(
        f"Features {would}added: {taken.would_add}, there already: "
        f"{taken.already_there}."
    )
    _say_undated([s for one in gazetteer.entries for s in one.unread])
    say_refusals(taken.refused, report)


def _say_undated(sentences: list[str]) -> None:
    for sentence in sentences[:_SHOWN]:
        warn(f"Note: {sentence}")
    if len(sentences) > _SHOWN:
        warn(f"Note: ... and {len(sentences) - _SHOWN} more such dates.")


def offer(
    plate: Annotated[
        str | None, typer.Argument(metavar="PLATE", help="By whose dates.")
    ] = None,
    years: Annotated[
        str | None,
        typer.Option(metavar="DATE", help="Instead of a plate's: 1871, 1870/1880."),
    ] = None,
    all_of_them: Annotated[
        bool, typer.Option("--all", help="Those that did not stand then too.")
    ] = False,
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """List the features that stood, or may have stood, when a plate was exposed."""
    from wherestood.daybook.gazetteer import offered_features
    from wherestood.daybook.gazetteer.offer import years_of_plate
    from wherestood.daybook.keys import find
    from wherestood.daybook.tables import Plate
    from wherestood.evidence.edtf import check_edtf
    from wherestood.evidence.years import years_of

    with open_daybook(daybook) as book, book.reading() as session:
        span, written = None, None
        if years is not None:
            check_edtf(years, "the date")
            span = years_of(years)
        elif plate is not None:
            found = find(session, Plate, plate)
            span, written = years_of_plate(session, found), found.date_words
        offers = list(offered_features(session, span, all_of_them=all_of_them))
    if json:
        say_json(
            {
                "years": None if span is None else [_year(one) for one in span],
                "features": [
                    {
                        "key": one.key,
                        "names": list(one.names),
                        "what": one.what,
                        "standing": one.standing,
                        "from": one.from_edtf,
                        "to": one.to_edtf,
                    }
                    for one in offers
                ],
            }
        )
        return
    if span is None:
        say("No date bounds the plate, so every feature is offered.")
        if written:
            say(
                f"Its catalogue has {written!r}: what that means is said with "
                f"wherestood dates add --plate {plate}."
            )
    for one in offers:
        names = " / ".join(one.names) or "(no name)"
        what = f", {one.what}" if one.what else ""
        say(f"{one.key}  {names}{what}: {one.sentence}")
    say(f"{len(offers)} feature{'s' if len(offers) != 1 else ''}.")


def _year(year: float) -> int | None:
    return int(year) if abs(year) < 1e6 else None
