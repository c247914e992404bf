"""Answer ``wherestood deed``."""

from __future__ import annotations

import json as json_text
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from rich.console import Console
from rich.table import Table

from wherestood.cli.options import AsJson
from wherestood.cli.screen import say, say_json, warn
from wherestood.errors import InputError

if TYPE_CHECKING:
    from wherestood.plans.deed import Call
    from wherestood.plans.traverse import Traverse

__all__ = ["deed"]


def deed(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="The calls as written, one a line.")
    ],
    start: Annotated[
        str, typer.Option(metavar="LON,LAT", help="The corner it begins at.")
    ],
    closes: Annotated[
        bool, typer.Option("--closes", help="It ends where it began.")
    ] = False,
    end: Annotated[
        str | None,
        typer.Option(metavar="LON,LAT", help="A known corner that it ends at."),
    ] = None,
    corner_sd: Annotated[
        float,
        typer.Option(metavar="M", help="Standard error of known corners, metres; 2."),
    ] = 2.0,
    of: Annotated[
        str, typer.Option(metavar="PLACE", help="Whose vara, rod or foot it is.")
    ] = "",
    year: Annotated[
        float | None,
        typer.Option(metavar="YEAR", help="Bearings are by compass, of this year."),
    ] = None,
    declination: Annotated[
        str | None,
        typer.Option(
            metavar="DEG,DOUBT",
            help="Bearings are by compass: its declination, east positive, as on the "
            "plan, and how far off.",
        ),
    ] = None,
    bearing_sd: Annotated[
        float, typer.Option(metavar="DEG", help="Standard error of a bearing; 0.25.")
    ] = 0.25,
    length_sd: Annotated[
        float,
        typer.Option(metavar="SHARE", help="... of a length, of itself; 0.002."),
    ] = 0.002,
    out: Annotated[
        Path | None,
        typer.Option(metavar="FILE.geojson", help="Write line and corners there."),
    ] = None,
    json: AsJson = False,
) -> None:
    """Draw a deed's bearings and distances from a corner, with its misclosure."""
    import numpy as np

    from wherestood.earth.frame import Frame
    from wherestood.plans.deed import read_deed
    from wherestood.plans.traverse import LegErrors, draw_traverse

    try:
        text = file.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(
            f"The deed {file.name!r} cannot be read as text.", "Save it as UTF-8 text."
        ) from error
    calls = read_deed(text, of=of)
    lon, lat = _lonlat(start, "start")
    # True north is the grid's own at its centre.
    frame = Frame.local(lon, lat)
    end_m = None
    if end is not None:
        east, north = frame.from_lonlat(*(np.array([v]) for v in _lonlat(end, "end")))
        end_m = (float(east[0]), float(north[0]))
    north_deg, north_sd, told = _north(lon, lat, year, declination)
    drawn = draw_traverse(
        calls, end_m=end_m, closes=closes, north_deg=north_deg, start_sd_m=corner_sd,
        end_sd_m=corner_sd, errors=LegErrors(bearing_sd, length_sd, north_sd),
    )  # fmt: skip
    shape = _as_geojson(drawn, frame.to_lonlat(*drawn.corners_m.T), closes=closes)
    if out is not None:
        _write(out, shape)
    if json:
        say_json(_as_json(drawn, calls, shape, north_deg, north_sd))
        return
    say(told)
    _say(drawn, calls, shape)
    if out is not None:
        say(f"Wrote {out}")


def _lonlat(text: str, name: str) -> tuple[float, float]:
    try:
        lon, lat = (float(part) for part in text.split(","))
    except ValueError as error:
        raise InputError(
            f"The {name} {text!r} is no longitude and latitude.",
            "Write it as 8.5,46.1.",
        ) from error
    if not (abs(lon) <= 360.0 and abs(lat) <= 90.0):
        raise InputError(
            f"The {name} {text!r} is nowhere.", "Longitude first, then latitude."
        )
    return lon, lat


def _north(
    lon: float, lat: float, year: float | None, declination: str | None
) -> tuple[float, float, str]:
    """Return where the deed's north is, its doubt, and a sentence."""
    from wherestood.earth import magnetic_north

    if declination is not None:
        try:
            deg, sd = (float(part) for part in declination.split(","))
        except ValueError as error:
            raise InputError(
                f"The declination {declination!r} cannot be read.",
                "Give it with how far off it may be: 12.5,0.5.",
            ) from error
        return deg, sd, f"Bearings are by compass, which pointed {_way(deg, sd)}."
    if year is not None:
        found = magnetic_north.declination(lon, lat, year)
        way = _way(found.east_deg, found.sd_deg)
        told = f"Bearings are by compass, which pointed {way} ({found.source})."
        return found.east_deg, found.sd_deg, told
    return 0.0, 0.0, "Bearings are taken from true north; see --year, --declination."


def _way(east_deg: float, sd_deg: float) -> str:
    side = "east" if east_deg >= 0.0 else "west"
    return f"{abs(east_deg):.1f} ± {sd_deg:.1f} deg {side} of true north"


def _sds(drawn: Traverse) -> list[float]:
    import numpy as np

    diagonal = np.diag(drawn.covariance_m2).reshape(-1, 2)
    return [float(one) for one in np.sqrt(diagonal.mean(axis=1))]


def _as_geojson(drawn: Traverse, lonlat: Any, *, closes: bool) -> dict[str, Any]:
    """Return the line and its corners as GeoJSON (RFC 7946)."""
    places = [
        [round(float(e), 7), round(float(n), 7)] for e, n in zip(*lonlat, strict=True)
    ]
    sds = _sds(drawn)
    line: dict[str, Any] = {"type": "LineString", "coordinates": places}
    if closes:
        places = places[:-1]
        line = {"type": "Polygon", "coordinates": [[*places, places[0]]]}
    whole = (sum(sd**2 for sd in sds) / len(sds)) ** 0.5
    features = [(line, "line of a deed", whole)]
    features += [
        ({"type": "Point", "coordinates": place}, f"corner {number}", sd)
        for number, (place, sd) in enumerate(zip(places, sds, strict=False))
    ]
    return {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "geometry": geometry,
                "properties": {"what": what, "sd_m": round(sd, 2)},
            }
            for geometry, what, sd in features
        ],
    }


def _write(out: Path, shape: dict[str, Any]) -> None:
    try:
        out.write_text(json_text.dumps(shape, indent=1), encoding="utf-8")
    except OSError as error:
        raise InputError(
            f"The file {str(out)!r} cannot be written ({error.strerror}).",
            "Choose another folder.",
        ) from error


def _as_json(
    drawn: Traverse, calls: tuple[Call, ...], shape: dict[str, Any], north_deg: float,
    north_sd_deg: float,
) -> dict[str, Any]:  # fmt: skip
    apart, one_in = drawn.linear_misclosure_m, drawn.one_in
    return {
        "calls": [
            {
                "words": call.words,
                "bearing_deg": round(call.bearing_deg, 5),
                "length_m": round(call.length_m, 4),
            }
            for call in calls
        ],
        "north_deg": round(north_deg, 4),
        "north_sd_deg": round(north_sd_deg, 4),
        "length_m": round(drawn.length_m, 3),
        "misclosure_m": None if apart is None else round(apart, 4),
        "misclosure_east_north_m": None
        if drawn.misclosure_m is None
        else [round(float(v), 4) for v in drawn.misclosure_m],
        "one_in": None if one_in is None or one_in == float("inf") else round(one_in),
        "area_m2": round(drawn.area_m2, 1),
        "suspects": [
            {"call": one.call + 1, "bearing_deg": one.bearing_deg,
             "length_m": one.length_m}
            for one in drawn.suspects
        ],
        "corners": shape,
    }  # fmt: skip


def _say(drawn: Traverse, calls: tuple[Call, ...], shape: dict[str, Any]) -> None:
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("Call")
    for heading in ("Bearing, deg", "Length, m", "Leads to", "±, m"):
        table.add_column(heading, justify="right", no_wrap=True)
    corners = shape["features"][1:]
    for number, call in enumerate(calls, 1):
        corner = corners[number % len(corners)]
        lon, lat = corner["geometry"]["coordinates"]
        table.add_row(
            call.words, f"{call.bearing_deg:.3f}", f"{call.length_m:.2f}",
            f"{lon:.6f}, {lat:.6f}", f"{corner['properties']['sd_m']:.1f}",
        )  # fmt: skip
    Console(soft_wrap=True).print(table)
    apart, one_in = drawn.linear_misclosure_m, drawn.one_in
    if apart is None or one_in is None:
        say(f"{drawn.length_m:.1f} m in all; nothing says where it should end.")
        return
    rate = "exactly" if one_in > 1e6 else f"1 in {one_in:.0f}"
    say(
        f"It misses by {apart:.2f} m in {drawn.length_m:.1f} m ({rate}); "
        f"{drawn.misclosure_sd_m:.1f} m was to be expected. It encloses "
        f"{drawn.area_m2 / 10_000.0:.3f} ha ({drawn.area_m2 / 4046.856:.2f} acres)."
    )
    for one in drawn.suspects[:3]:
        what = (
            f"its length were {one.length_m:.1f} m"
            if one.length_m is not None
            else f"its bearing were {one.bearing_deg:.2f} deg"
        )
        warn(f"Note: it would close if of call {one.call + 1} alone {what}.")
    if not drawn.suspects and apart > 4.0 * (drawn.misclosure_sd_m or apart):
        warn("Warning: no single call explains that; look at all of them again.")
