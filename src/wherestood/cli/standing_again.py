"""Answer ``wherestood then-and-now``."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from wherestood.cli.book import DaybookFolder
from wherestood.cli.mapping import FixGiven, GroundFiles, PlaceNumber, open_mapping
from wherestood.cli.options import AsJson
from wherestood.cli.plate_of_fix import plate_of_fix
from wherestood.cli.screen import say, say_json, say_written, stages, warn
from wherestood.errors import InputError

__all__ = ["then_and_now"]


def then_and_now(
    fix: FixGiven,
    photograph: Annotated[
        Path, typer.Argument(metavar="PHOTOGRAPH", help="Made on the spot: JPEG, TIFF.")
    ],
    out: Annotated[
        Path, typer.Option(metavar="DIR", help="Folder for the page and the pictures.")
    ] = Path(),
    scan: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="The scan that the fix was made with; the daybook's unless told.",
        ),
    ] = None,
    marks: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="Things marked by hand on both, CSV: plate_x_px, plate_y_px, "
            "photo_x_px, photo_y_px, and distance_m where it is known.",
        ),
    ] = None,
    at: Annotated[
        str | None,
        typer.Option(
            metavar="LON,LAT", help="Where the photograph was made, if not written."
        ),
    ] = None,
    heading: Annotated[
        float | None,
        typer.Option(metavar="DEG", help="Where it looks, true, if not written."),
    ] = None,
    focal_length: Annotated[
        float | None,
        typer.Option(metavar="MM", help="Focal length for 35 mm film, if not written."),
    ] = None,
    taken: Annotated[
        str | None,
        typer.Option(metavar="TIME", help="Day and hour, as in 2026-05-31T10:20."),
    ] = None,
    lens_height: Annotated[
        float | None,
        typer.Option(
            metavar="M", help="Of its lens above the ground, measured there, m."
        ),
    ] = None,
    not_known: Annotated[
        list[str] | None,
        typer.Option(
            metavar="WHAT",
            help="What is not known of it: position, heading, lens or time. May be "
            "repeated.",
        ),
    ] = None,
    mirrored: Annotated[
        bool | None,
        typer.Option(
            "--mirrored/--not-mirrored",
            help="Whether the photograph is left for right.",
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
    """Lay a photograph made on the spot over the plate; say how far off it stood."""
    import numpy as np

    from wherestood.plate.photograph import read_photograph
    from wherestood.plate.scan import Plate
    from wherestood.visit.asked_of_photograph import settled_photograph
    from wherestood.visit.marks_file import read_marks
    from wherestood.visit.photograph_compared import compare_photograph
    from wherestood.visit.write_then_and_now import write_then_and_now

    photo = settled_photograph(
        read_photograph(photograph), datetime.now(), place=_place(at),
        heading_deg=heading, focal_35_mm=focal_length, taken=_time(taken),
        not_known=not_known or [], mirrored=mirrored,
    )  # fmt: skip
    opened = open_mapping(fix, terrain, daybook, place=place or 1)
    mapping = opened.mapping
    called, kept_scan = plate_of_fix(fix, daybook)
    plate = Plate.open(scan) if scan else kept_scan
    if plate is None:
        raise InputError(
            "There is no scan of the plate to compare with.",
            "Name it with --scan: the one that the fix was made with.",
        )
    size = photo.width_px, photo.height_px
    by_hand = read_marks(marks, mapping.scan_px, size) if marks else None
    with stages() as shown:
        found = compare_photograph(
            mapping, opened.station, plate, photo, datetime.now().date(),
            np.random.default_rng(seed), marks=by_hand, mirrored=mirrored,
            lens_m=lens_height, progress=shown,
        )  # fmt: skip
    for note in found.notes:
        warn(f"Note: {note}")
    files = write_then_and_now(
        out, found.told, plate, photo, called.get("plate") or opened.plate,
        ("the plate", found.made),
        found.sentences, mapping.caution(),
    )  # fmt: skip
    if json:
        names = [path.name for path in files]
        say_json({"files": names, "caution": mapping.caution(), **found.form()})
        return
    for sentence in found.sentences:
        say(sentence)
    if not found.told.told:
        warn("Note: where you stood is not told.")
    say_written(files)


def _place(text: str | None) -> tuple[float, float] | None:
    if text is None:
        return None
    try:
        lon, lat = (float(part) for part in text.split(","))
    except ValueError as error:
        raise InputError(
            f"{text!r} is no place.", "Give longitude and latitude, as in 8.5,46.1."
        ) from error
    if not (-180.0 <= lon <= 360.0 and -90.0 <= lat <= 90.0):
        raise InputError(
            f"{text!r} is no place on the earth.",
            "Give longitude, then latitude, in degrees.",
        )
    return lon, lat


def _time(text: str | None) -> datetime | None:
    if text is None:
        return None
    try:
        return datetime.fromisoformat(text).replace(tzinfo=None)
    except ValueError as error:
        raise InputError(
            f"{text!r} is no day and hour.", "Write them as 2026-05-31T10:20."
        ) from error
