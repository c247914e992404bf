"""Answer ``wherestood journeys`` and ``wherestood minutes-between``."""

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
from wherestood.cli.screen import say_json, say_page, say_written, stages, warn
from wherestood.errors import InputError

__all__ = ["journeys", "minutes_between"]


def journeys(
    maker: Annotated[str, typer.Argument(metavar="MAKER", help="The maker's key.")],
    by: Annotated[
        str,
        typer.Option(
            metavar="MODE",
            help="How the maker went: on foot, pack horse, cart, coach, railway, "
            "sailing ship or steamer.",
        ),
    ] = "cart",
    trip: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="A known trip: lines of longitude, latitude, date and a name.",
        ),
    ] = None,
    keep: Annotated[
        bool,
        typer.Option(
            "--keep",
            help="Keep that trip in the daybook, a statement a stop: it bounds the "
            "dates of the maker's plates.",
        ),
    ] = False,
    source: Annotated[
        str | None,
        typer.Option(metavar="KEY", help="The source that tells of it, kept with it."),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="Map of the plates in order to write, .geojson."
        ),
    ] = None,
    person: Person = None,
    why: Why = "",
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Lay a maker's plates in order, and say which journeys they allow."""
    from wherestood.daybook.journeys_told import journeys_form, journeys_map
    from wherestood.daybook.makers_journeys import journeys_of_maker, trip_as_written
    from wherestood.daybook.makers_whereabouts import keep_trip
    from wherestood.record.journey_words import journey_words

    written = () if trip is None else trip_as_written(_text(trip), trip.name)
    known = tuple(stop for stop, _ in written)
    if keep and not known:
        raise InputError("There is no trip to keep.", "Give its file: --trip FILE.")
    with open_daybook(daybook) as book:
        if keep:
            kept = keep_trip(
                book, maker, written, by, person_named(person), why, source
            )
            warn(f"Kept {len(kept)} stops of the trip, {kept[0]} and on.")
        found = journeys_of_maker(book, maker, by, known)
    if out is not None:
        import json as writing

        out.write_text(
            writing.dumps(journeys_map(found), ensure_ascii=False, indent=1) + "\n",
            encoding="utf-8",
        )
    if json:
        say_json(journeys_form(found))
        return
    say_page(
        journey_words(
            found.name,
            found.mode,
            [(one.stop.key, one.title, one.date, one.fits) for one in found.stops],
            found.journeys,
            found.contradict,
            found.left_out,
        )
    )
    if out is not None:
        say_written([out])


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as trouble:
        raise InputError(
            f"{path} cannot be read as text.", "Check its name, and that it is UTF-8."
        ) from trouble


def minutes_between(
    plate: PlateKey,
    second: Annotated[
        str, typer.Argument(metavar="PLATE", help="Another plate of its panorama.")
    ],
    hills: Annotated[
        bool,
        typer.Option(
            "--hills/--no-hills",
            help="Whether hills of the daybook's terrain hide the sun.",
        ),
    ] = True,
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Say how many minutes lie between two plates of a panorama, by their shadows."""
    from wherestood.daybook.hills import hills_of_book
    from wherestood.daybook.journeys_told import minutes_form
    from wherestood.daybook.minutes_apart import minutes_apart
    from wherestood.record.journey_words import minutes_words

    with open_daybook(daybook) as book, stages() as shown:
        found = minutes_apart(
            book, plate, second, hills_of_book(book, shown) if hills else None
        )
    if json:
        say_json(minutes_form(found))
        return
    say_page(minutes_words(found.first, found.second, found.found, found.notes))
