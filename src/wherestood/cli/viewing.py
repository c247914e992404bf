"""Answer ``wherestood ground view``."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wherestood.cli.arguments import read_lonlat
from wherestood.cli.book import DaybookFolder, open_daybook
from wherestood.cli.mapping import FixGiven, GroundFiles, PlaceNumber, open_mapping
from wherestood.cli.options import AsJson
from wherestood.cli.screen import say_json, say_written
from wherestood.errors import InputError, TerrainError

if TYPE_CHECKING:
    from wherestood.earth.frame import Frame
    from wherestood.ground.cameras import PlateCameras
    from wherestood.ground.mapping import Mapping
    from wherestood.plans.laid import LaidPicture

__all__ = ["view"]

_LEAST_PX, _MOST_PX = 100, 20_000


def view(
    fix: FixGiven,
    out: Annotated[
        Path, typer.Option(metavar="FILE", help="Picture to write, .png or .tif.")
    ] = Path("view.png"),
    at: Annotated[
        str | None,
        typer.Option(
            "--at",
            metavar="LON,LAT",
            help="Stand there, and not where the fix has the camera.",
        ),
    ] = None,
    lens_height: Annotated[
        float | None,
        typer.Option(
            metavar="M", help="Of the lens above the ground; the fix's unless told, m."
        ),
    ] = None,
    drape: Annotated[
        str | None,
        typer.Option(
            metavar="FILE",
            help="Lay a picture over the ground: a raster with its place, or a plan of "
            "the daybook as in plan-1.",
        ),
    ] = None,
    width: Annotated[
        int | None,
        typer.Option(metavar="PX", help="Of the picture; the scan's own unless told."),
    ] = None,
    haze: Annotated[
        float,
        typer.Option(
            metavar="KM",
            help="Distance at which air hides two thirds of a hill, km; 0 for none.",
        ),
    ] = 9.0,
    ridge_lines: Annotated[
        bool,
        typer.Option(
            "--ridge-lines/--no-ridge-lines", help="Draw the edges of ridges."
        ),
    ] = True,
    terrain: GroundFiles = None,
    place: PlaceNumber = 0,
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Draw the terrain as the plate's camera shows it, from its place or another."""
    from PIL import Image

    from wherestood.ground.rendering import ViewLook, render_view
    from wherestood.ground.standing import central_standing
    from wherestood.record.atomic import write_bytes_atomically

    if out.suffix.lower() not in (".png", ".tif", ".tiff"):
        raise InputError(
            f"A view is written as .png or .tif, not as {out.suffix or out.name!r}.",
            "Give --out such a name.",
        )
    if haze < 0.0:
        raise InputError(f"A haze of {haze:g} km cannot be.", "Give 0 for clear air.")
    opened = open_mapping(fix, terrain, daybook, place=place)
    mapping = central_standing(opened.mapping)
    wide, high = mapping.scan_px
    wanted = width or wide
    if not _LEAST_PX <= wanted <= min(_MOST_PX, wide):
        raise InputError(
            f"A view of {wanted} px cannot be drawn: the scan is {wide} px across.",
            f"Give --width a number from {_LEAST_PX} to {min(_MOST_PX, wide)}.",
        )
    camera = mapping.cameras
    if at is not None or lens_height is not None:
        camera = _stood(mapping, camera, at, lens_height)
    frame = mapping.ground.model.terrain.frame
    draped = _laid(drape, frame, daybook) if drape else None
    picture = render_view(
        mapping.ground, camera, mapping.scan_px,
        round(wanted * max(wide, high) / wide),
        ViewLook(1000.0 * haze if haze else None, ridge_lines, draped),
        farthest_m=mapping.doubts.farthest_m,
    )  # fmt: skip
    held = io.BytesIO()
    form = "PNG" if out.suffix.lower() == ".png" else "TIFF"
    Image.fromarray(picture).save(held, format=form)
    write_bytes_atomically(out, held.getvalue())
    if json:
        size = picture.shape[1], picture.shape[0]
        say_json({"files": [out.name], "size_px": size, "caution": mapping.caution()})
        return
    say_written([out])


def _stood(
    mapping: Mapping, camera: PlateCameras, at: str | None, lens_height: float | None
) -> PlateCameras:
    """Stand the camera somewhere else, as high above the ground as before."""
    import numpy as np

    from wherestood.terrain.ground import height_m

    land, draws = mapping.ground.model.terrain, camera.draws
    east, north = draws.east_m, draws.north_m
    under = height_m(land, east, north).astype(np.float64)
    above = float(draws.lens_m[0] - under[0]) if lens_height is None else lens_height
    if at is not None:
        lon, lat = read_lonlat(at)
        east, north = land.frame.from_lonlat(np.array([lon]), np.array([lat]))
        under = height_m(land, east, north).astype(np.float64)
    if not np.isfinite(under[0]):
        raise TerrainError(
            "The height of the ground there is not known.",
            "Choose a place on the terrain, or add terrain that covers it.",
        )
    moved = replace(draws, east_m=east, north_m=north, lens_m=under + max(above, 0.1))
    return replace(camera, draws=moved)


def _laid(drape: str, frame: Frame, daybook: Path | None) -> LaidPicture:
    """Open what is to be draped: a file, or a plan of the daybook."""
    from wherestood.daybook.keys import find
    from wherestood.daybook.plan_place import raster_driver
    from wherestood.daybook.tables import Plan
    from wherestood.plans.laid import LaidPicture
    from wherestood.server.plan_tiles import plan_copy

    path = Path(drape)
    if not path.is_file():
        if path.suffix:
            raise InputError(f"There is no file {drape!r}.", "Name one that is there.")
        with open_daybook(daybook) as book:
            with book.reading() as session:
                plan = find(session, Plan, drape)
            return LaidPicture.open(plan_copy(book, plan), "GTiff", frame)
    driver = raster_driver(path)
    if driver is None:
        raise InputError(
            f"{path.name!r} is no picture that can be laid on the ground.",
            "Give a GeoTIFF, or another raster with its place.",
        )
    return LaidPicture.open(path, driver, frame)
