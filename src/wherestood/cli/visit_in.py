"""Answer ``wherestood visit-in``."""

from __future__ import annotations

import shlex
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

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
from wherestood.cli.screen import say, say_json, warn
from wherestood.errors import InputError

if TYPE_CHECKING:
    from wherestood.visit.read_on_spot import Reading

__all__ = ["visit_in"]

_Several = list[str] | None


def visit_in(
    plate: PlateKey,
    file: Annotated[
        Path | None,
        typer.Argument(metavar="FILE", help="The filled sheet: CSV, or GPX waypoints."),
    ] = None,
    day: Annotated[
        str | None, typer.Option(metavar="DATE", help="Day of the visit: 2026-05-31.")
    ] = None,
    who: Annotated[
        str,
        typer.Option(metavar="NAMES", help="Who was there; the person unless told."),
    ] = "",
    stood: Annotated[
        _Several,
        typer.Option(
            metavar="LON,LAT[,M]",
            help="Where the tripod stood by phone or receiver, and how sure that is: 8 "
            "m unless told. May be repeated.",
        ),
    ] = None,
    matches: Annotated[
        float | None,
        typer.Option(
            metavar="M",
            help="The view from there matches the picture, to within so many metres.",
        ),
    ] = None,
    gap: Annotated[
        _Several,
        typer.Option(
            metavar="FAR,NEAR=DEG[,SD]",
            help="A gap read there, far thing right of near positive; the picture's is "
            "taken from the plate's marks. May be repeated.",
        ),
    ] = None,
    gap_on_plate: Annotated[
        _Several,
        typer.Option(
            metavar="FAR,NEAR=DEG[,SD]",
            help="The same gap as the picture has it, where things are not marked.",
        ),
    ] = None,
    tape: Annotated[
        _Several,
        typer.Option(
            metavar="THING=M[,SD]",
            help="Distance from the tripod to a thing, measured. May be repeated.",
        ),
    ] = None,
    height: Annotated[
        _Several,
        typer.Option(metavar="THING=M[,SD]", help="How tall a thing is, measured."),
    ] = None,
    compass: Annotated[
        float | None,
        typer.Option(metavar="DEG", help="Compass towards the middle of the picture."),
    ] = None,
    not_here: Annotated[
        _Several,
        typer.Option(
            metavar="LON,LAT,M:WHY",
            help="The camera cannot have stood within so many metres of there, why.",
        ),
    ] = None,
    photograph: Annotated[
        _Several,
        typer.Option(
            metavar="NUMBER", help="A photograph made there. May be repeated."
        ),
    ] = None,
    note: Annotated[
        _Several, typer.Option(metavar="WORDS", help="Anything else. May be repeated.")
    ] = None,
    person: Person = None,
    why: Why = "",
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Take in what was read on a visit: evidence for the next fix, and notes."""
    from wherestood.daybook.keep_visit import keep_visit
    from wherestood.visit.filled_sheet import read_filled
    from wherestood.visit.read_on_spot import Reading, Visit, checked_reading

    by = person_named(person)
    read: list[Reading] = []
    if file is not None:
        read, passed_over = read_filled(file)
        for sentence in passed_over:
            warn(f"Note: {sentence}")
    given: list[Reading] = [_placed("stood", one) for one in stood or ()]
    if matches is not None:
        given.append(Reading("matches", value=matches))
    given += [_of_two("gap", one) for one in gap or ()]
    given += [_of_two("gap on plate", one) for one in gap_on_plate or ()]
    given += [_of_one("tape", one) for one in tape or ()]
    given += [_of_one("height", one) for one in height or ()]
    if compass is not None:
        given.append(Reading("compass", value=compass))
    given += [_not_here(one) for one in not_here or ()]
    given += [Reading("photograph", words=one) for one in photograph or ()]
    given += [Reading("note", words=one) for one in note or ()]
    read += [checked_reading(one) for one in given]
    visit = Visit.of(read, _day(day), who or by)
    with open_daybook(daybook) as book:
        kept = keep_visit(book, plate, visit, by, why)
    if json:
        say_json(asdict(kept))
        return
    say(f"Kept as {kept.source}: visit of {visit.day}.")
    for sentence in kept.sentences:
        say(sentence)
    for sentence in kept.left:
        warn(f"Note: {sentence}")
    if kept.counts:
        say(f"To let it count: wherestood fix {shlex.quote(plate)}")


def _values(text: str, most: int) -> list[float]:
    try:
        values = [float(part) for part in text.split(",")]
    except ValueError as error:
        raise InputError(
            f"{text!r} are no numbers.", "Write them as in 8.51,46.1 or 12.3,0.1."
        ) from error
    if len(values) > most:
        raise InputError(
            f"{text!r} are {len(values)} numbers.", f"Give {most} at most."
        )
    return values


def _placed(what: str, text: str) -> Reading:
    from wherestood.visit.read_on_spot import Reading

    values = _values(text, 3)
    if len(values) < 2:
        raise InputError(
            f"{text!r} is no place.", "Give longitude and latitude, as in 8.51,46.1."
        )
    sd = values[2] if len(values) == 3 else None
    return Reading(what, lon_deg=values[0], lat_deg=values[1], sd=sd)


def _of_one(what: str, text: str) -> Reading:
    from wherestood.visit.read_on_spot import Reading

    thing, equals, rest = text.rpartition("=")
    if not equals:
        raise InputError(
            f"{text!r} says nothing of a thing.", "Write it as in 'gate post=12.3'."
        )
    value, *sd = _values(rest, 2)
    return Reading(what, thing=thing.strip(), value=value, sd=sd[0] if sd else None)


def _of_two(what: str, text: str) -> Reading:
    from dataclasses import replace

    read = _of_one(what, text)
    far, comma, near = read.thing.partition(",")
    if not comma:
        raise InputError(
            f"{text!r} names one thing.",
            "Name the far thing, then the near one, as in 'church,gate post=-3.2'.",
        )
    return replace(read, thing=far.strip(), other=near.strip())


def _not_here(text: str) -> Reading:
    from wherestood.visit.read_on_spot import Reading

    numbers, _, words = text.partition(":")
    values = _values(numbers, 3)
    if len(values) != 3 or not words.strip():
        raise InputError(
            f"{text!r} does not say where the camera cannot have stood, and why.",
            "Write it as in '8.51,46.1,20:a wall hides the shore'.",
        )
    return Reading(
        "not here", lon_deg=values[0], lat_deg=values[1], value=values[2],
        words=words.strip(),
    )  # fmt: skip


def _day(text: str | None) -> date | None:
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise InputError(f"{text!r} is no day.", "Write it as 2026-05-31.") from error
