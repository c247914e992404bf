"""Answer ``wherestood then-and-now``."""

from __future__ import annotations

import math
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from wherestood.cli.book import DaybookFolder
from wherestood.cli.mapping import FixGiven, GroundFiles, PlaceNumber, open_mapping
from wherestood.cli.options import AsJson
from wherestood.cli.screen import say, say_json, say_written, stages, warn
from wherestood.errors import InputError

if TYPE_CHECKING:
    from wherestood.ground.mapping import Mapping
    from wherestood.plate.photograph import Photograph

__all__ = ["then_and_now"]

#: A photograph farther from the fix than this is of another place, unless told [m].
_OTHER_PLACE_M = 300.0
_METRES_A_DEGREE = 111_320.0


def then_and_now(
    fix: FixGiven,
    photograph: Annotated[
        Path, typer.Argument(metavar="PHOTOGRAPH", help="Made on the spot: JPEG, TIFF.")
    ],
    scan: Annotated[
        Path, typer.Option(metavar="FILE", help="The scan that the fix was made with.")
    ],
    out: Annotated[
        Path, typer.Option(metavar="DIR", help="Folder for the page and the pictures.")
    ] = Path(),
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
    from wherestood.visit.seen_on_both import look_at_both, mirrored_likelier
    from wherestood.visit.then_and_now import LONGEST_PX, expected_camera
    from wherestood.visit.then_and_now import then_and_now as compared
    from wherestood.visit.then_and_now_words import offset_sentences, told_sentences
    from wherestood.visit.write_then_and_now import write_then_and_now

    photo = settled_photograph(
        read_photograph(photograph), datetime.now(), place=_place(at),
        heading_deg=heading, focal_35_mm=focal_length, taken=_time(taken),
        not_known=not_known or [], mirrored=mirrored,
    )  # fmt: skip
    opened = open_mapping(fix, terrain, daybook, place=place or 1)
    mapping = opened.mapping
    plate = Plate.open(scan)
    if (plate.width_px, plate.height_px) != mapping.scan_px:
        raise InputError(
            f"The scan is {plate.width_px} x {plate.height_px} px, and the fix was "
            f"made with one of {mapping.scan_px[0]} x {mapping.scan_px[1]} px.",
            "Name the scan that the fix was made with.",
        )
    size = photo.width_px, photo.height_px
    by_hand = read_marks(marks, mapping.scan_px, size) if marks else None
    _same_place(photo, opened.form)
    pictures = (*plate.reduced(LONGEST_PX), *photo.blue(LONGEST_PX))
    turned = bool(mirrored)
    looked = look_at_both(*pictures, mirrored=turned)
    if mirrored is None and mirrored_likelier(looked, *pictures):
        raise InputError(
            "The photograph looks like the plate left for right.",
            "Say --mirrored, or --not-mirrored if it only seems so.",
        )
    expected = expected_camera(
        mapping, size, principal_distance_px=photo.principal_distance_px,
        heading_rad=_grid_heading_rad(photo, mapping), lens_m=lens_height,
    )  # fmt: skip
    with stages() as shown:
        told = compared(
            mapping, looked, size, expected, np.random.default_rng(seed),
            marks=by_hand, mirrored=turned, progress=shown,
        )  # fmt: skip
    sentences = [*offset_sentences(told), *told_sentences(told)]
    when = f"{photo.taken:%Y-%m-%d %H:%M}" if photo.taken else "day not known"
    camera = f", {photo.camera}" if photo.camera else ""
    files = write_then_and_now(
        out, told, plate, photo, opened.plate, ("the plate", f"{when}{camera}"),
        sentences, mapping.caution(),
    )  # fmt: skip
    if json:
        say_json(_form(told, sentences, mapping, files))
        return
    for sentence in sentences:
        say(sentence)
    if not told.told:
        warn("Note: where you stood is not told.")
    say_written(files)


def _form(told: Any, sentences: list[str], mapping: Mapping, files: Any) -> Any:
    import numpy as np

    sd = np.sqrt(np.diag(told.covariance_m2))
    names = ("right_m", "forward_m", "up_m")
    return {
        "files": [path.name for path in files],
        "caution": mapping.caution(),
        "told": told.told,
        "offset": dict(zip(names, map(float, told.offset_m), strict=True)),
        "sd": dict(zip(names, map(float, sd), strict=True)),
        "things": len(told.pairs),
        "near": told.near,
        "by_hand": told.by_hand,
        "left_out": told.left_out,
        "left_px": told.laying.left_px if math.isfinite(told.laying.left_px) else None,
        "sentences": sentences,
    }


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


def _same_place(photo: Photograph, form: dict[str, Any]) -> None:
    """Ask about a photograph that was made somewhere else."""
    if photo.lon_deg is None or photo.lat_deg is None:
        return
    station = form["station"]
    lat = math.radians(station["lat"])
    east = (photo.lon_deg - station["lon"] + 180.0) % 360.0 - 180.0
    away_m = _METRES_A_DEGREE * math.hypot(
        east * math.cos(lat), photo.lat_deg - station["lat"]
    )
    if away_m > _OTHER_PLACE_M + 3.0 * math.hypot(
        station["sd_east_m"], station["sd_north_m"]
    ):
        raise InputError(
            f"The photograph says that it was made {away_m:.0f} m from the camera's "
            "place.",
            "Is it the right one? If its place is wrong, say --not-known position.",
        )


def _grid_heading_rad(photo: Photograph, mapping: Mapping) -> float | None:
    """Return where the photograph looks, from grid north; of a compass by today's."""
    from wherestood.earth.magnetic_today import declination_today

    if photo.heading_deg is None:
        return None
    draws, frame = mapping.cameras.draws, mapping.ground.model.terrain.frame
    lon, lat = frame.to_lonlat(draws.east_m[:1], draws.north_m[:1])
    true_deg = photo.heading_deg
    if photo.heading_magnetic is not False:
        when = (photo.taken or datetime.now()).date()
        try:
            true_deg += declination_today(float(lon[0]), float(lat[0]), when).east_deg
        except InputError:
            warn("Note: magnetic north of that day is not known; the heading is rough.")
    return math.radians(true_deg - frame.convergence_deg(float(lon[0]), float(lat[0])))
