"""Answer ``wherestood ground size``, ``worth``, ``seen`` and ``raster``."""

from __future__ import annotations

import math
from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Any

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
from wherestood.cli.options import AsJson
from wherestood.cli.screen import say, say_json, say_written, stages
from wherestood.errors import InputError

__all__ = ["raster", "seen", "size", "worth"]

Seed = Annotated[int, typer.Option(metavar="N", help="Seed of every random draw.")]


def size(
    fix: FixGiven,
    foot: Annotated[
        str | None,
        typer.Option(metavar="X,Y", help="Foot of an upright thing, on the ground."),
    ] = None,
    top: Annotated[str | None, typer.Option(metavar="X,Y", help="Its top.")] = None,
    at: Annotated[
        list[str] | None,
        typer.Option(
            "--at",
            metavar="X,Y",
            help="Point on the ground: one for the size of a pixel there, several for "
            "the length from one to the next.",
        ),
    ] = None,
    terrain: GroundFiles = None,
    place: PlaceNumber = 0,
    terrain_sd: GroundDoubt = 5.0,
    reading_sd: ReadingDoubt = 1.5,
    least_angle: LeastAngle = 2.0,
    seed: Seed = 1,
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Measure on a plate: a height from foot and top, a length over the ground."""
    import numpy as np

    from wherestood.ground.sizes import height_above, length_between, pixel_at
    from wherestood.record.size_words import measured_words, pixel_words

    if (foot is None) != (top is None) or not (foot or at):
        raise InputError(
            "There is nothing to measure between.",
            "Give --foot and --top for a height, or --at once or more often.",
        )
    points = [read_pixel(text) for text in at or []]
    ends = [read_pixel(text) for text in (foot, top) if text is not None]
    opened = open_mapping(
        fix, terrain, daybook, place=place, terrain_sd_m=terrain_sd,
        reading_sd_px=reading_sd, least_angle_deg=least_angle,
    )  # fmt: skip
    rng = np.random.default_rng(seed)
    told: dict[str, Any] = {"caution": opened.mapping.caution()}
    words = []
    if ends:
        tall = height_above(opened.mapping, ends[0], ends[1], rng)
        told["height"] = _plain(asdict(tall))
        words.append(measured_words("Height", tall))
    if len(points) > 1:
        long = length_between(opened.mapping, points, rng)
        told["length"] = _plain(asdict(long))
        words.append(measured_words("Length over the ground", long))
    for x, y in ends[:1] + points[:1]:
        pixel = pixel_at(opened.mapping, x, y, rng)
        told["pixel"] = _plain(asdict(pixel))
        words.append(pixel_words(pixel))
        break
    if json:
        say_json(told)
        return
    for sentence in words:
        say(sentence)


def worth(
    fix: FixGiven,
    terrain: GroundFiles = None,
    place: PlaceNumber = 0,
    terrain_sd: GroundDoubt = 5.0,
    reading_sd: ReadingDoubt = 1.5,
    least_angle: LeastAngle = 2.0,
    scan: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="The scan: would a finer one show more?"),
    ] = None,
    seed: Seed = 1,
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Say what of a plate can be carried to the map, before anyone draws on it."""
    import numpy as np

    from wherestood.ground.worth import mapping_worth
    from wherestood.plate.finer_scan import finer_scan
    from wherestood.plate.scan import Plate
    from wherestood.record.size_words import worth_sentences

    opened = open_mapping(
        fix, terrain, daybook, place=place, terrain_sd_m=terrain_sd,
        reading_sd_px=reading_sd, least_angle_deg=least_angle,
    )  # fmt: skip
    found = mapping_worth(opened.mapping, np.random.default_rng(seed))
    finer = finer_scan(Plate.open(scan)) if scan else None
    if json:
        told = {"caution": opened.mapping.caution(), **_plain(asdict(found))}
        say_json({**told, "finer_scan": asdict(finer) if finer else None})
        return
    for sentence in worth_sentences(found):
        say(sentence)
    if finer:
        say(finer.sentence())
    elif scan:
        say("The scan is too small to tell whether a finer one would show more.")


def seen(
    fix: FixGiven,
    out: Annotated[Path, typer.Option(metavar="FILE", help="GeoTIFF to write.")] = Path(
        "in-sight.tif"
    ),
    above: Annotated[
        float,
        typer.Option(metavar="M", help="Height above ground of what is looked at, m."),
    ] = 0.0,
    terrain: GroundFiles = None,
    place: PlaceNumber = 0,
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Map how probably each piece of ground is in sight of the camera."""
    import numpy as np

    from wherestood.ground.viewshed import viewshed
    from wherestood.record.ground_raster import write_ground_raster

    opened = open_mapping(fix, terrain, daybook, place=place)
    with stages() as shown:
        found = viewshed(opened.mapping, above_m=above, progress=shown)
    land = opened.mapping.ground.model.terrain
    notes = {
        "plate": opened.plate,
        "caution": opened.mapping.caution(),
        "height_looked_at_m": f"{above:g}",
        "refraction": f"{land.refraction:g}",
    }
    bands = {
        "probability that it is in sight of the camera": found.seen,
        "probability that it is in sight and within the frame": found.in_frame,
    }
    write_ground_raster(out, land, bands, notes)
    likely = float(np.nansum(found.seen) * land.cell_m**2)
    framed = float(np.nansum(found.in_frame) * land.cell_m**2)
    if json:
        say_json(
            {
                "files": [out.name],
                "caution": opened.mapping.caution(),
                "in_sight_m2": round(likely),
                "in_frame_m2": round(framed),
            }
        )
        return
    from wherestood.record.doubt import area_in_words

    say(
        f"In sight of the camera: {area_in_words(likely)}; within the plate's frame "
        f"too: {area_in_words(framed)}."
    )
    say_written([out])


def raster(
    fix: FixGiven,
    out: Annotated[
        Path, typer.Option(metavar="DIR", help="Folder for the rasters.")
    ] = Path(),
    scan: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="The scan, to lay it on the map too."),
    ] = None,
    cell: Annotated[
        float | None,
        typer.Option(
            metavar="M",
            help="Cell of the map, m; a tenth of the terrain's unless told.",
        ),
    ] = None,
    farthest: Annotated[
        float | None,
        typer.Option(metavar="KM", help="How far the map goes from the camera, km."),
    ] = None,
    positions: Annotated[
        bool,
        typer.Option("--positions", help="Write the place of every pixel too."),
    ] = False,
    terrain: GroundFiles = None,
    place: PlaceNumber = 0,
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Follow every pixel of the plate to the ground, and lay the scan on the map."""
    from wherestood.plate.scan import Plate
    from wherestood.record.plate_rasters import write_distances, write_rectified

    if cell is not None and not cell > 0.0:
        raise InputError(
            f"A cell of the map must be above 0 m, not {cell:g} m.",
            "Give a length such as 1.",
        )
    opened = open_mapping(fix, terrain, daybook, place=place)
    out.mkdir(parents=True, exist_ok=True)
    files = [out / "distance.tif"]
    used_m = None
    with stages() as shown:
        write_distances(files[0], opened.mapping, positions=positions, progress=shown)
        if scan is not None:
            files.append(out / "on-the-map.tif")
            used_m = write_rectified(
                files[1],
                opened.mapping,
                Plate.open(scan),
                cell_m=cell,
                farthest_m=1000.0 * farthest if farthest else None,
                progress=shown,
            )
    if json:
        say_json(
            {
                "files": [path.name for path in files],
                "cell_m": used_m,
                "caution": opened.mapping.caution(),
            }
        )
        return
    if used_m is not None:
        say(f"The map's cells are {used_m:.3g} m.")
    say_written(files)


def _plain(told: dict[str, Any]) -> dict[str, Any]:
    return {
        key: None if isinstance(value, float) and not math.isfinite(value) else value
        for key, value in told.items()
    }
