"""Answer ``wherestood field-sheet``."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from wherestood.cli.book import DaybookFolder
from wherestood.cli.mapping import FixGiven, GroundFiles, PlaceNumber, open_mapping
from wherestood.cli.options import AsJson
from wherestood.cli.screen import say, say_json, say_written, warn
from wherestood.errors import InputError

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
            "of those in sight.",
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
    from wherestood.visit.field_sheet import field_sheet, pair_sentences
    from wherestood.visit.write_sheet import write_sheet

    when = _day(day)
    opened = open_mapping(fix, terrain, daybook, place=place)
    frame = opened.mapping.ground.model.terrain.frame
    known = read_map_features(features, frame) if features else []
    made = field_sheet(
        opened.form, opened.mapping, known, when, np.random.default_rng(seed),
        feature_sd_m=feature_sd,
    )  # fmt: skip
    plate = Plate.open(scan) if scan else None
    pairs = list(zip(made.pairs, made.gap_sds_rad, strict=True))
    files = write_sheet(out, made, opened.mapping, plate)
    if json:
        say_json(
            {
                "files": [path.name for path in files],
                "caution": made.caution,
                "facts": dict(made.facts),
                "pairs": [pair_sentences(pair, sd) for pair, sd in pairs],
                "notes": list(made.notes),
            }
        )
        return
    for name, words in made.facts:
        say(f"{name}: {words}.")
    for pair, sd in pairs:
        say(" ".join(pair_sentences(pair, sd)))
    for note in made.notes:
        warn(f"Note: {note}")
    say_written(files)


def _day(text: str | None) -> date:
    if text is None:
        return date.today()
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise InputError(f"{text!r} is no day.", "Write it as 2026-05-31.") from error
