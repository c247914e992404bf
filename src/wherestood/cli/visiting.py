"""Answer ``wherestood field-sheet``."""

from __future__ import annotations

import math
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from wherestood.cli.book import DaybookFolder, open_daybook
from wherestood.cli.mapping import FixGiven, GroundFiles, PlaceNumber, open_mapping
from wherestood.cli.options import AsJson
from wherestood.cli.plate_of_fix import fitting_scan, plate_of_fix
from wherestood.cli.screen import say, say_json, say_written, warn
from wherestood.errors import InputError

if TYPE_CHECKING:
    from wherestood.earth.frame import Frame
    from wherestood.record.mapped_features import MapFeature
    from wherestood.visit.field_sheet import FieldSheet
    from wherestood.visit.parallax import Move

__all__ = ["sheet"]


def sheet(
    fix: FixGiven,
    out: Annotated[
        Path, typer.Option(metavar="DIR", help="Folder for the sheet.")
    ] = Path(),
    scan: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="The scan, to show what lines up on it."),
    ] = None,
    features: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="Named points that stand there still, near and far: pairs are chosen "
            "of those in sight. Of a daybook's fix, its named features unless told.",
        ),
    ] = None,
    feature_sd: Annotated[
        float, typer.Option(metavar="M", help="How far these points may be off, m.")
    ] = 3.0,
    day: Annotated[
        str | None,
        typer.Option(
            metavar="DATE", help="Day of the visit, for the compass; today unless told."
        ),
    ] = None,
    light: Annotated[
        str | None,
        typer.Option(
            metavar="TIME|DEG,DEG",
            help="When the plate was exposed, by the sun's mean time there, as in "
            "1874-06-03T09:40, or its sun's bearing and elevation: says when the light "
            "is the same again.",
        ),
    ] = None,
    plate_year: Annotated[
        float | None,
        typer.Option(
            metavar="YEAR", help="The plate's year: what a compass of its day read."
        ),
    ] = None,
    gap: Annotated[
        list[str] | None,
        typer.Option(
            metavar="N=DEG",
            help="A pair's number and its gap as read there, far right of near "
            "positive, degrees: says which way to go. May be repeated.",
        ),
    ] = None,
    terrain: GroundFiles = None,
    place: PlaceNumber = 0,
    seed: Annotated[
        int, typer.Option(metavar="N", help="Seed of every random draw.")
    ] = 1,
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Write a field sheet: where to stand, which way to look, which way to move."""
    import numpy as np

    from wherestood.plate.scan import Plate
    from wherestood.record.mapped_features import read_map_features
    from wherestood.visit.field_sheet import field_sheet
    from wherestood.visit.pair_words import pair_sentences
    from wherestood.visit.sheet_page import places_told
    from wherestood.visit.write_sheet import write_sheet

    when = _day(day)
    read = [_gap(text) for text in gap or []]
    called, kept_scan = plate_of_fix(fix, daybook)
    opened = open_mapping(fix, terrain, daybook, place=place)
    frame = opened.mapping.ground.model.terrain.frame
    known = (
        read_map_features(features, frame)
        if features
        else _of_daybook(fix, daybook, frame, opened.station)
    )
    made = field_sheet(
        opened.form, opened.mapping, known, when, np.random.default_rng(seed),
        feature_sd_m=feature_sd, sun_deg=_sun(light, opened.form),
        plate_year=plate_year, visits=_tripods(fix, daybook), **called,
    )  # fmt: skip
    move, by_picture = _move(made, read)
    plate = Plate.open(scan) if scan else fitting_scan(kept_scan, opened.mapping)
    pairs = list(zip(made.pairs, made.gap_sds_rad, strict=True))
    files = write_sheet(out, made, opened.mapping, plate)
    if json:
        say_json(
            {
                "files": [path.name for path in files],
                "caution": made.caution,
                "places": [asdict(one) for one in made.places],
                "facts": dict(made.facts),
                "pairs": [pair_sentences(pair, sd) for pair, sd in pairs],
                "light": list(made.light),
                "visits": list(made.visits),
                "notes": list(made.notes),
                "move": {**asdict(move), "by_picture": by_picture} if move else None,
            }
        )
        return
    for name, lines in places_told(made):
        say(f"{name}: {'; '.join(lines)}.")
    for name, words in made.facts:
        say(f"{name}: {words}.")
    for pair, sd in pairs:
        say(" ".join(pair_sentences(pair, sd)))
    if move:
        say(_move_words(move, by_picture))
    for sentence in (*made.light, *made.visits):
        say(sentence)
    for note in made.notes:
        warn(f"Note: {note}")
    say_written(files)


def _sun(text: str | None, form: dict[str, Any]) -> tuple[float, float] | None:
    from wherestood.visit.like_light import sun_said

    station = form["station"]
    return None if text is None else sun_said(text, station["lon"], station["lat"])


def _of_daybook(
    fix: str, daybook: Path | None, frame: Frame, station: dict[str, Any]
) -> list[MapFeature]:
    """Return what the daybook of a fix has by name near its place."""
    from wherestood.daybook.keys import find
    from wherestood.daybook.near_things import near_things
    from wherestood.daybook.tables import Fix

    if Path(fix).suffix == ".json" or Path(fix).exists():
        return []
    with open_daybook(daybook) as book:
        with book.reading() as session:
            plate_id = find(session, Fix, fix).plate_id
        return near_things(book, frame, station, plate_id)


def _tripods(fix: str, daybook: Path | None) -> tuple[str, ...]:
    """Return how tripods of visits lie to the likeliest spot, of a daybook's fix."""
    from wherestood.daybook.keys import find
    from wherestood.daybook.tables import Fix
    from wherestood.daybook.visits_kept import tripods_told

    if Path(fix).suffix == ".json" or Path(fix).exists():
        return ()
    with open_daybook(daybook) as book, book.reading() as session:
        return tripods_told(session, find(session, Fix, fix))


def _gap(text: str) -> tuple[int, float]:
    number, _, degrees = text.partition("=")
    try:
        return int(number), math.radians(float(degrees))
    except ValueError as error:
        raise InputError(
            f"{text!r} is no gap of a pair.",
            "Write the pair's number and degrees, as in 1=-3.2.",
        ) from error


def _move(made: FieldSheet, read: list[tuple[int, float]]) -> tuple[Move | None, bool]:
    """Return the step to the spot by gaps read, and whether the picture tells it.

    Where it does not tell enough it is the step to the likeliest spot by the fix.
    """
    from wherestood.visit.parallax import READING_SD_DEG, way_to_go, way_to_picture

    if not read:
        return None, False
    count = len(made.pairs)
    for number, _ in read:
        if not 1 <= number <= count:
            raise InputError(
                f"There is no pair {number}: the sheet has {count}.",
                "Give gaps of the pairs that stand on the sheet, with its features.",
            )
    pairs = [made.pairs[number - 1] for number, _ in read]
    gaps, sd = [gap for _, gap in read], math.radians(READING_SD_DEG)
    here = made.places[0].east_m, made.places[0].north_m
    by_picture = way_to_picture(pairs, gaps, sd, here)
    if by_picture is not None:
        return by_picture, True
    return way_to_go(pairs, gaps, sd), False


def _move_words(move: Move, by_picture: bool) -> str:
    from wherestood.record.doubt import give_or_take, way_in_words

    away_m = math.hypot(move.east_m, move.north_m)
    spot = (
        "By the gaps read and the picture's own, the camera stood"
        if by_picture
        else "By the gaps read, the likeliest spot lies"
    )
    return (
        f"{spot} "
        f"{way_in_words(move.east_m, move.north_m)} of where they were read, by "
        f"{give_or_take(away_m, move.sd_along_m, ' m')}; to either side of that it is "
        f"known to {move.sd_across_m:.2g} m."
    )


def _day(text: str | None) -> date:
    if text is None:
        return date.today()
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise InputError(f"{text!r} is no day.", "Write it as 2026-05-31.") from error
