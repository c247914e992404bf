"""Answer ``wherestood together``."""

from __future__ import annotations

import json as json_text
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from rich.console import Console
from rich.table import Table

from wherestood.cli.book import (
    DaybookFolder,
    Person,
    Why,
    open_daybook,
    person_named,
)
from wherestood.cli.options import AsJson
from wherestood.cli.screen import say, say_json, stages, warn
from wherestood.errors import InputError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from wherestood.daybook.plates_together import PlatesTogether

__all__ = ["together"]

#: A mark more likely of another thing than of its own is named.
_NAMED = 0.5
#: A station moves so many standard errors of its own fix once in ninety by chance:
#: exp(-9/2).
_FAR_SDS = 3.0


def together(
    plates: Annotated[
        list[str], typer.Argument(metavar="PLATE...", help="Keys of two or more.")
    ],
    same: Annotated[
        list[str] | None,
        typer.Option(
            metavar="ADDRESS,ADDRESS",
            help="Details that are one thing: 1987.12/A,1987.13/C; it is kept.",
        ),
    ] = None,
    one_lens: Annotated[
        bool, typer.Option("--one-lens", help="One maker's, by one lens.")
    ] = False,
    one_habit: Annotated[
        bool, typer.Option("--one-habit", help="One maker's, with one habit of rise.")
    ] = False,
    walk: Annotated[
        float | None,
        typer.Option(
            metavar="M", help="Exposed in the order given, about so far apart, metres."
        ),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(metavar="FILE.geojson", help="Write places and regions there."),
    ] = None,
    person: Person = None,
    why: Why = "",
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Solve plates that show the same things together: stations, cameras and things."""
    from wherestood.daybook.plates_together import say_same, solve_plates
    from wherestood.record.atomic import write_text_atomically

    with open_daybook(daybook) as book, stages() as shown:
        for one in same or []:
            addresses = [part.strip() for part in one.split(",") if part.strip()]
            say_same(book, addresses, person_named(person), why)
        solved = solve_plates(
            book, plates, one_lens=one_lens, one_habit=one_habit, walk_m=walk,
            progress=shown,
        )  # fmt: skip
    if not solved.answer.sound:
        raise InputError(
            f"The {len(solved.answer.plates)} plates were not brought together: what "
            "they show and their own fixes leave far more over than chance does "
            f"({solved.answer.left_over:.0f} where {solved.answer.freedom:.0f} is "
            "usual), so that no region of it could be believed.",
            "Solve fewer at a time, those first that show most of the same things, and "
            "look at each plate's own fix.",
        )
    form = _form(solved)
    if out is not None:
        write_text_atomically(out, json_text.dumps(form, indent=1) + "\n")
    if json:
        say_json(form)
        return
    _say(solved, form)
    if out is not None:
        say(f"Wrote {out}")


def _form(solved: PlatesTogether) -> dict[str, Any]:
    """Return places and regions as GeoJSON (RFC 7946)."""
    features = []
    for plate in solved.answer.plates:
        region = _ring(solved, plate.mean[:2], plate.covariance[:2, :2])
        told = {
            "plate": plate.own.name,
            "region_m2": round(plate.area90_m2, 1),
            "own_region_m2": round(plate.own_area90_m2, 1),
            "within90_m": round(_radius_m(plate.area90_m2), 2),
            "moved_m": round(plate.moved_m, 2),
            "moved_standard_errors": round(plate.moved_sds, 2),
        }
        features.append(_feature("Point", _place(solved, plate.mean[:2]), told))
        features.append(_feature("Polygon", [region], {**told, "probability": 0.9}))
    for feature, thing in zip(solved.things, solved.answer.things, strict=True):
        region = _ring(solved, thing.place_m[:2], thing.covariance_m2[:2, :2])
        told = {
            "thing": feature.key,
            "what": feature.what,
            "height_m": round(float(thing.place_m[2]), 2),
            "height_sd_m": round(float(thing.covariance_m2[2, 2]) ** 0.5, 2),
            "within90_m": round(_radius_m(thing.area90_m2), 2),
            "plates": [solved.answer.plates[i].own.name for i in thing.plates],
        }
        features.append(_feature("Point", _place(solved, thing.place_m[:2]), told))
        features.append(_feature("Polygon", [region], {**told, "probability": 0.9}))
    return {
        "type": "FeatureCollection",
        "features": features,
        "settled": solved.answer.settled,
        "rounds": solved.answer.rounds,
        "cautions": list(solved.cautions),
    }


def _feature(kind: str, at: list[Any], told: dict[str, Any]) -> dict[str, Any]:
    return {
        "type": "Feature",
        "geometry": {"type": kind, "coordinates": at},
        "properties": told,
    }


def _radius_m(area_m2: float) -> float:
    return float((area_m2 / 3.141592653589793) ** 0.5)


def _place(solved: PlatesTogether, at: NDArray[np.float64]) -> list[float]:
    lon, lat = solved.frame.to_lonlat(at[:1], at[1:2])
    return [round(float(lon[0]), 7), round(float(lat[0]), 7)]


def _ring(
    solved: PlatesTogether,
    middle: NDArray[np.float64],
    covariance_m2: NDArray[np.float64],
) -> list[list[float]]:
    import numpy as np

    turn = np.linspace(0.0, 2.0 * np.pi, 49)
    circle = np.sqrt(-2.0 * np.log(0.1)) * np.column_stack((np.cos(turn), np.sin(turn)))
    ring = middle + circle @ np.linalg.cholesky(covariance_m2).T
    lon, lat = solved.frame.to_lonlat(ring[:, 0], ring[:, 1])
    return [
        [round(float(e), 7), round(float(n), 7)] for e, n in zip(lon, lat, strict=True)
    ]


def _say(solved: PlatesTogether, form: dict[str, Any]) -> None:
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("Plate")
    for heading in ("Longitude, latitude", "9 in 10 within", "by itself", "moved"):
        table.add_column(heading, justify="right", no_wrap=True)
    for plate in solved.answer.plates:
        lon, lat = _place(solved, plate.mean[:2])
        table.add_row(
            plate.own.name, f"{lon:.6f}, {lat:.6f}",
            f"{_radius_m(plate.area90_m2):.1f} m",
            f"{_radius_m(plate.own_area90_m2):.1f} m", f"{plate.moved_m:.1f} m",
        )  # fmt: skip
    Console(soft_wrap=True).print(table)
    say("")
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("Thing")
    for heading in ("Longitude, latitude", "9 in 10 within", "height", "on plates"):
        table.add_column(heading, justify="right", no_wrap=True)
    for feature, thing in zip(solved.things, solved.answer.things, strict=True):
        lon, lat = _place(solved, thing.place_m[:2])
        sd = float(thing.covariance_m2[2, 2]) ** 0.5
        table.add_row(
            feature.what or feature.key, f"{lon:.6f}, {lat:.6f}",
            f"{_radius_m(thing.area90_m2):.1f} m",
            f"{thing.place_m[2]:.1f} ± {sd:.1f} m",
            str(len(thing.plates)),
        )  # fmt: skip
    Console(soft_wrap=True).print(table)
    for link, wrong in zip(solved.answer.links, solved.answer.wrong, strict=True):
        if wrong > _NAMED:
            on = solved.answer.plates[link.plate].own.name
            what = solved.things[link.thing].what or solved.things[link.thing].key
            warn(f"Warning: on {on} the mark of {what} fits no place: look again.")
    for plate in solved.answer.plates:
        if plate.moved_sds > _FAR_SDS:
            warn(
                f"Warning: {plate.own.name} moved {plate.moved_sds:.1f} standard "
                "errors of its own fix: its evidence and the shared things disagree."
            )
    for caution in solved.cautions:
        warn(f"Warning: {caution}")
    if not form["settled"]:
        warn("Warning: it did not come to rest; the marks may be of different things.")
    say("Regions hold if each plate stood at its fix's likeliest place.")
