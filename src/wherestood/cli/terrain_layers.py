"""Answer ``wherestood terrain-in`` and ``terrain-needed``."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from wherestood.cli.book import (
    DaybookFolder,
    Person,
    Why,
    open_daybook,
    person_named,
)
from wherestood.cli.options import AsJson, FarthestKm, SurfaceName
from wherestood.cli.screen import say, say_json, stages, warn
from wherestood.errors import InputError, WherestoodError

if TYPE_CHECKING:
    import shapely

    from wherestood.fix.area import Area
    from wherestood.fix.terrain_needed import Rectangle

__all__ = ["terrain_in", "terrain_needed"]

_WORTH_TELLING = 0.001


def terrain_in(
    path: Annotated[
        Path, typer.Argument(metavar="FILE", help="A raster, a folder or a zip.")
    ],
    title: Annotated[str | None, typer.Option(metavar="WORDS")] = None,
    provenance: Annotated[
        str | None, typer.Option(metavar="WORDS", help="Who made it, how and when.")
    ] = None,
    licence: Annotated[str | None, typer.Option(metavar="WORDS")] = None,
    credit: Annotated[
        str | None, typer.Option(metavar="WORDS", help="The credit line it asks for.")
    ] = None,
    surface: SurfaceName = "unknown",
    vertical_datum: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="Of its heights, if its files do not say."),
    ] = None,
    leave: Annotated[
        bool, typer.Option("--leave", help="Leave files in place, and watch them.")
    ] = False,
    person: Person = None,
    why: Why = "",
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Take an elevation model in whole, and measure the step to those it overlaps."""
    from wherestood.daybook.terrain_layers import LayerDetails, take_terrain

    if surface not in ("ground", "top", "unknown"):
        raise InputError(
            f"The surface {surface!r} is not known.",
            "Choose one of: ground, top, unknown.",
        )
    details = LayerDetails(title, provenance, licence, credit, surface, vertical_datum)
    with open_daybook(daybook) as book, stages() as shown:
        taken = take_terrain(
            book,
            path,
            person_named(person),
            why=why,
            details=details,
            leave=leave,
            progress=shown,
        )
    if json:
        say_json(asdict(taken))
        return
    west, south, east, north = taken.box_deg
    say(
        f"{taken.key}: {taken.rasters} raster{'s' if taken.rasters != 1 else ''}, cell "
        f"{taken.cell_m:.1f} m, {west:.4f} to {east:.4f} E, {south:.4f} to {north:.4f} "
        f"N, vertical datum {taken.vertical_datum}."
    )
    for sentence in taken.steps:
        (warn if sentence.startswith("Warning:") else say)(sentence)
    for note in taken.notes:
        warn(note)
    if licence is None:
        warn("Note: its licence is not recorded; it counts as UNKNOWN.")


def terrain_needed(
    within: Annotated[
        str | None,
        typer.Argument(
            metavar="[AREA]",
            help="Ground searched: GeoJSON file, W,S,E,N, or LON,LAT,3km.",
        ),
    ] = None,
    plate: Annotated[
        str | None,
        typer.Option(metavar="KEY", help="A plate, whose ground searched is meant."),
    ] = None,
    near_enough: Annotated[
        float | None,
        typer.Option(
            metavar="M",
            help="How close the answer must be, metres; the plate's, or 125.",
        ),
    ] = None,
    horizon_radius: FarthestKm = 30.0,
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Say which elevation data a ground searched needs, and how fine."""
    from wherestood.fix.terrain_needed import terrain_needed as needed_for

    if plate is None and within is not None and _is_plate(within, daybook):
        within, plate = None, within
    area, near_m = _asked(within, plate, daybook)
    needed = needed_for(area, near_enough or near_m, 1000.0 * horizon_radius)
    told: dict[str, Any] = {
        "near": needed.near.as_json(),
        "near_cell_m": needed.near_cell_m,
        "near_megabytes": round(needed.near_bytes / 1e6, 1),
        "far": needed.far.as_json(),
        "far_cell_m": needed.far_cell_m,
        "far_megabytes": round(needed.far_bytes / 1e6, 1),
        "degree_squares": list(needed.degree_squares),
    }
    hidden: list[str] = []
    if daybook is not None or plate is not None:
        hidden = _hidden_in(daybook, needed.near, plate)
        told["restricted_plates"] = hidden
        layers = _layers(daybook)
        # A cell of 1 second of arc is called 30 m and is up to 31.
        fine = [x for x in layers if x.cell_m <= 1.1 * needed.near_cell_m]
        serving = [x for x in layers if x.cell_m <= 3.5 * needed.far_cell_m]
        told["near_missing"] = _missing(needed.near, fine)
        told["near_missing_of_any_cell"] = _missing(needed.near, layers)
        told["far_missing"] = _missing(needed.far, serving)
    if json:
        say_json(told)
        return
    say("About the camera, and what surrounds it:")
    _say_rectangle(needed.near, needed.near_cell_m, told["near_megabytes"])
    say("All hills that may show:")
    _say_rectangle(needed.far, needed.far_cell_m, told["far_megabytes"])
    say(f"  squares of a degree: {', '.join(needed.degree_squares)}")
    if "far_missing" in told:
        _say_missing(told, needed.near_cell_m)
    if hidden:
        warn(
            "Note: these rectangles tell roughly where plates were taken whose places "
            f"may not be published as they are known: {', '.join(hidden)}. Ask for "
            "whole squares of a degree."
        )


def _is_plate(named: str, folder: Path | None) -> bool:
    """Tell whether what was named as an area is none, but a plate's key."""
    from wherestood.daybook.keys import find
    from wherestood.daybook.tables import Plate
    from wherestood.fix.area import read_area

    try:
        read_area(named)
    except InputError:
        pass
    else:
        return False
    try:
        with open_daybook(folder) as book, book.reading() as session:
            find(session, Plate, named)
    except WherestoodError:  # no daybook here, or no such plate
        return False
    return True


def _asked(
    within: str | None, key: str | None, folder: Path | None
) -> tuple[Area, float]:
    """Return the ground meant, and how close its answer must be [m]."""
    from wherestood.fix.area import read_area
    from wherestood.fix.settings import LocateSettings

    near_m = LocateSettings.near_enough_m
    if key is None:
        if within is None:
            raise InputError(
                "No ground is named.",
                "Give it, as in 8.5,46.1,3km, or a plate with --plate.",
            )
        return read_area(within), near_m
    from wherestood.daybook.ask_fix import ground_searched
    from wherestood.daybook.keys import find
    from wherestood.daybook.tables import Plate

    with open_daybook(folder) as book, book.reading() as session:
        row = find(session, Plate, key)
    return ground_searched(row, within), row.near_enough_m or near_m


def _hidden_in(folder: Path | None, near: Rectangle, key: str | None) -> list[str]:
    """Return keys of plates with restricted places that a rectangle tells of."""
    from wherestood.daybook.choose import Wanted, choose
    from wherestood.daybook.precision import restricted_plates
    from wherestood.daybook.tables import Plate

    box = (near.west_deg, near.south_deg, near.east_deg, near.north_deg)
    with open_daybook(folder) as book, book.reading() as session:
        limits = restricted_plates(session)
        strict = {one for one, limit in limits.items() if not limit.is_exact}
        within = {
            plate.key: plate.id for plate in choose(session, Plate, Wanted(box=box))
        }
        if key is not None:
            within |= {
                p.key: p.id for p in choose(session, Plate, Wanted(values={"key": key}))
            }
    return sorted(name for name, number in within.items() if number in strict)


def _say_rectangle(one: Rectangle, cell_m: float, megabytes: float) -> None:
    say(
        f"  {one.west_deg:.3f} to {one.east_deg:.3f} E, {one.south_deg:.3f} to "
        f"{one.north_deg:.3f} N (WGS 84)"
    )
    say(
        f"  {one.grid}: east {one.west_m:.0f} to {one.east_m:.0f}, north "
        f"{one.south_m:.0f} to {one.north_m:.0f} m"
    )
    say(
        f"  {one.width_m / 1000:.1f} x {one.height_m / 1000:.1f} km; cells of at most "
        f"{cell_m:g} m, some {megabytes:.0f} MB"
    )


@dataclass(frozen=True)
class _Layer:
    """Hold where a terrain layer lies, and its cell."""

    box: shapely.Polygon
    cell_m: float


def _layers(folder: Path | None) -> list[_Layer]:
    """Return the terrain layers of a daybook."""
    import shapely

    from wherestood.daybook.choose import Wanted, choose
    from wherestood.daybook.tables import TerrainLayer

    found = []
    with open_daybook(folder) as book, book.reading() as session:
        for layer in choose(session, TerrainLayer, Wanted()):
            edges = (layer.west_deg, layer.south_deg, layer.east_deg, layer.north_deg)
            if None not in edges:
                found.append(_Layer(shapely.box(*edges), layer.cell_m or 0.0))
    return found


def _missing(needed: Rectangle, layers: list[_Layer]) -> float:
    from wherestood.fix.terrain_needed import uncovered

    return round(uncovered(needed, [layer.box for layer in layers]), 4)


def _say_missing(told: dict[str, Any], near_cell_m: float) -> None:
    """Say how much of the ground the daybook has, and where it is too coarse."""
    if told["near_missing"] <= _WORTH_TELLING:
        say("The daybook has what is needed about the camera.")
    elif told["near_missing_of_any_cell"] <= _WORTH_TELLING:
        warn(
            f"About the camera the daybook has larger cells than {near_cell_m:g} m, "
            "which serve less well."
        )
    else:
        share = 100 * told["near_missing_of_any_cell"]
        warn(f"The daybook lacks {share:.0f}% of the ground about the camera.")
    if told["far_missing"] <= _WORTH_TELLING:
        say("The daybook has all hills that may show.")
    else:
        share = 100 * told["far_missing"]
        warn(f"The daybook lacks {share:.0f}% of the ground whose hills may show.")
