"""Answer ``wherestood ground``: from a plate to the map, and back."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wherestood.cli.book import DaybookFolder
from wherestood.cli.mapping import (
    FixGiven,
    GroundDoubt,
    GroundFiles,
    LeastAngle,
    PlaceNumber,
    ReadingDoubt,
    open_mapping,
    read_pixel,
)
from wherestood.cli.measuring import raster, seen, size, worth
from wherestood.cli.options import AsJson
from wherestood.cli.screen import say, say_json, say_written
from wherestood.cli.viewing import view

__all__ = ["drawn", "onto_plate", "points", "whereabouts"]

Seed = Annotated[int, typer.Option(metavar="N", help="Seed of every random draw.")]


def points(
    fix: FixGiven,
    at: Annotated[
        list[str],
        typer.Option("--at", metavar="X,Y", help="Pixel of the scan; may be repeated."),
    ],
    terrain: GroundFiles = None,
    place: PlaceNumber = 0,
    terrain_sd: GroundDoubt = 5.0,
    reading_sd: ReadingDoubt = 1.5,
    least_angle: LeastAngle = 2.0,
    seed: Seed = 1,
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Say where on the ground points of a plate are, and how sure that is."""
    import numpy as np

    from wherestood.ground.points import ground_points
    from wherestood.record.mapped_words import point_forms, point_sentences

    wanted = [read_pixel(text) for text in at]
    opened = open_mapping(
        fix, terrain, daybook, place=place, terrain_sd_m=terrain_sd,
        reading_sd_px=reading_sd, least_angle_deg=least_angle,
    )  # fmt: skip
    x, y = np.array(wanted).T
    found = ground_points(opened.mapping, x, y, np.random.default_rng(seed))
    if json:
        say_json(
            {
                "plate": opened.plate,
                "caution": opened.mapping.caution(),
                "points": point_forms(opened.mapping, found),
            }
        )
        return
    for sentence in point_sentences(opened.mapping, found):
        say(sentence)


def drawn(
    fix: FixGiven,
    shapes: Annotated[
        Path,
        typer.Option(metavar="FILE", help="GeoJSON of what was drawn, in scan pixels."),
    ],
    out: Annotated[
        Path, typer.Option(metavar="FILE", help="Map to write, .geojson or .gpkg.")
    ],
    terrain: GroundFiles = None,
    place: PlaceNumber = 0,
    terrain_sd: GroundDoubt = 5.0,
    reading_sd: ReadingDoubt = 1.5,
    least_angle: LeastAngle = 2.0,
    seed: Seed = 1,
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Carry lines and outlines drawn on a plate to the map."""
    import numpy as np

    from wherestood.ground.drawn import map_shape
    from wherestood.record.mapped_features import (
        feature_form,
        read_drawn,
        write_map_features,
    )

    given = read_drawn(shapes)
    opened = open_mapping(
        fix, terrain, daybook, place=place, terrain_sd_m=terrain_sd,
        reading_sd_px=reading_sd, least_angle_deg=least_angle,
    )  # fmt: skip
    rng = np.random.default_rng(seed)
    features = [
        feature_form(
            one, map_shape(opened.mapping, one.shape, rng), opened.mapping, opened.plate
        )
        for one in given
    ]
    write_map_features(out, features)
    if json:
        say_json({"files": [out.name], "features": [f["properties"] for f in features]})
        return
    for number, feature in enumerate(features, start=1):
        say(_carried(number, feature["properties"]))
    say_written([out])


def _carried(number: int, told: dict[str, object]) -> str:
    name = told["name"] or f"shape {number}"
    flagged = f" Not placed: {told['flagged']}." if told["flagged"] else ""
    hidden = (
        f" Ground that the camera does not see lies across it {told['hidden_between']} "
        "times." if told["hidden_between"] else ""
    )  # fmt: skip
    if told["doubt_m"] is None:
        return f"{name}: nothing of it can be told.{flagged}"
    return (
        f"{name}: {told['nearest_m']:.0f} to {told['farthest_m']:.0f} m off; nine "
        f"times in ten within {told['doubt_m']:.0f} m, at its worst point "
        f"{told['most_doubt_m']:.0f} m.{flagged}{hidden}"
    )


def onto_plate(
    fix: FixGiven,
    features: Annotated[
        Path, typer.Option(metavar="FILE", help="Features of the map.")
    ],
    out: Annotated[
        Path, typer.Option(metavar="DIR", help="Folder for on-plate.json and .png.")
    ] = Path(),
    scan: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="The scan, to draw them over it."),
    ] = None,
    above: Annotated[
        float, typer.Option(metavar="M", help="How high above the ground to draw, m.")
    ] = 0.0,
    feature_sd: Annotated[
        float, typer.Option(metavar="M", help="How far the map may be off, m.")
    ] = 0.0,
    terrain: GroundFiles = None,
    place: PlaceNumber = 0,
    terrain_sd: GroundDoubt = 5.0,
    seed: Seed = 1,
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Draw features of the map on a plate, the hidden told from the seen."""
    import numpy as np

    from wherestood.ground.on_plate import shown_on_plate
    from wherestood.record.mapped_features import read_map_features
    from wherestood.record.on_plate import shown_form, write_on_plate

    opened = open_mapping(fix, terrain, daybook, place=place, terrain_sd_m=terrain_sd)
    frame = opened.mapping.ground.model.terrain.frame
    rng = np.random.default_rng(seed)
    shown = [
        (
            one.name,
            shown_on_plate(
                opened.mapping, one.shape, rng, above_m=above, sd_m=feature_sd
            ),
        )
        for one in read_map_features(features, frame)
    ]
    files = write_on_plate(out, opened.mapping, shown, scan)
    if json:
        form = shown_form(opened.mapping, shown)
        say_json({"files": [path.name for path in files], **form})
        return
    for number, (name, pieces) in enumerate(shown, start=1):
        say(_on_plate_words(name or f"feature {number}", pieces))
    say_written(files)


def _on_plate_words(name: str, pieces: list) -> str:  # type: ignore[type-arg]
    if not pieces:
        return f"{name}: not in the picture."
    seen = [piece for piece in pieces if piece.seen]
    sd_px = max(piece.sd_px for piece in pieces)
    if not seen:
        return f"{name}: in the picture's direction, but hidden by ground before it."
    part = "partly hidden" if len(seen) < len(pieces) else "in sight"
    return f"{name}: {part}, give or take {sd_px:.0f} px."


whereabouts = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    help="Go from a plate to the map, and back.",
)
whereabouts.command("points")(points)
whereabouts.command("drawn")(drawn)
whereabouts.command("onto-plate")(onto_plate)
whereabouts.command("size")(size)
whereabouts.command("worth")(worth)
whereabouts.command("seen")(seen)
whereabouts.command("raster")(raster)
whereabouts.command("view")(view)
