"""Answer ``wherestood horizon``."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, cast

import numpy as np
import typer
from numpy.typing import NDArray
from rich.console import Console
from rich.table import Table

from wherestood.cli.arguments import read_lonlat
from wherestood.cli.ground import open_ground
from wherestood.cli.options import (
    AsJson,
    FarthestKm,
    Refraction,
    SurfaceName,
    TerrainPaths,
)
from wherestood.cli.screen import say, say_json
from wherestood.errors import InputError, TerrainError
from wherestood.fix.settings import LocateSettings, SurfaceKind
from wherestood.record.doubt import METRES_A_DEGREE, coordinates

if TYPE_CHECKING:
    from wherestood.terrain.model import Terrain

__all__ = ["SeenHorizon", "horizon", "seen_horizon"]

PLOT_STEP_DEG = 0.1


@dataclass(frozen=True)
class SeenHorizon:
    """Hold the horizon of one place.

    Attributes
    ----------
    bearing_deg : (n,) float64 array
        True bearings [deg].
    elevation_deg, distance_m : (n,) float64 array
        Horizon above the level [deg] and how far off it is [m]; NaN where the
        ground is not known.
    height_m : float
        Height of the lens in the model's datum [m].
    """

    bearing_deg: NDArray[np.float64]
    elevation_deg: NDArray[np.float64]
    distance_m: NDArray[np.float64]
    height_m: float


def horizon(
    place: Annotated[
        str,
        typer.Argument(metavar="LON,LAT", help="Longitude and latitude, degrees."),
    ],
    terrain: TerrainPaths,
    height: Annotated[
        float, typer.Option(metavar="M", help="Height of the eye above ground, m.")
    ] = 1.5,
    step: Annotated[
        float, typer.Option(metavar="DEG", help="Step of the table, degrees.")
    ] = 10.0,
    surface: SurfaceName = "unknown",
    refraction: Refraction = 0.13,
    horizon_radius: FarthestKm = 30.0,
    out: Annotated[
        Path, typer.Option(metavar="DIR", help="Folder for horizon.png.")
    ] = Path(),
    json: AsJson = False,
) -> None:
    """Compute the horizon seen from a place: a table and a plot."""
    lon_deg, lat_deg = read_lonlat(place)
    if not PLOT_STEP_DEG <= step <= 90:
        raise InputError(
            f"The step must be between {PLOT_STEP_DEG:g} and 90 degrees, but "
            f"{step:g} was given.",
            "Give a step such as 5.",
        )
    settings = LocateSettings(
        surface=cast(SurfaceKind, surface),
        refraction=refraction,
        horizon_radius_m=1000.0 * horizon_radius,
        lens_height_m=height,
    )
    land = open_ground(
        tuple(terrain), (lon_deg, lat_deg), settings.horizon_radius_m, settings
    )
    fine = np.arange(0.0, 360.0 + PLOT_STEP_DEG / 2, PLOT_STEP_DEG)
    seen = seen_horizon(land, lon_deg, lat_deg, settings, fine)
    coarse = np.arange(0.0, 360.0, step)
    table = seen_horizon(land, lon_deg, lat_deg, settings, coarse)
    path = _write(out, seen, land, _as_typed(place, lon_deg, lat_deg))
    if json:
        say_json({**_as_json(table, lon_deg, lat_deg, path), "terrain": _told(land)})
        return
    _say_table(table)
    say(f"Wrote {path}")


def seen_horizon(
    land: Terrain,
    lon_deg: float,
    lat_deg: float,
    settings: LocateSettings,
    bearing_deg: NDArray[np.float64],
) -> SeenHorizon:
    """Return the horizon along true bearings.

    Raises
    ------
    TerrainError
        If the place is not on known ground.
    """
    from wherestood.earth.curvature import curvature_radius_m
    from wherestood.terrain.ground import smoothed_ground_m
    from wherestood.terrain.horizon import HorizonModel

    east_m, north_m = land.frame.from_lonlat(np.array([lon_deg]), np.array([lat_deg]))
    ground_m = smoothed_ground_m(land, east_m, north_m)
    if not np.isfinite(ground_m).all():
        raise TerrainError(
            f"The ground at {lon_deg:g}, {lat_deg:g} is not in the elevation model.",
            "Give an elevation model that covers the place.",
        )
    height_m = (ground_m + settings.lens_height.mean_m).astype(np.float64)
    turn_deg = land.frame.convergence_deg(lon_deg, lat_deg)
    grid_rad = np.radians(bearing_deg - turn_deg).astype(np.float64)
    found = HorizonModel.of(land, curvature_radius_m(lat_deg)).horizons(
        east_m,
        north_m,
        height_m,
        grid_rad,
        farthest_m=settings.horizon_radius_m,
    )
    tangent, distance_m = found.tangent[0], found.distance_m[0]
    known = np.isfinite(tangent)
    return SeenHorizon(
        bearing_deg,
        np.where(known, np.degrees(np.arctan(tangent)), np.nan),
        np.where(known, distance_m, np.nan),
        float(height_m[0]),
    )


def _as_typed(place: str, lon_deg: float, lat_deg: float) -> str:
    """Return a place in words, with as many decimals as were typed."""
    decimals = max(len(part.strip().partition(".")[2]) for part in place.split(","))
    return coordinates(lon_deg, lat_deg, METRES_A_DEGREE * 10.0**-decimals)


def _write(out: Path, seen: SeenHorizon, land: Terrain, place: str) -> Path:
    from wherestood.record.atomic import folder_at_the_end
    from wherestood.record.horizon_strip import horizon_figure
    from wherestood.record.legend import elevation_line

    with folder_at_the_end(out) as passing:
        horizon_figure(
            seen.bearing_deg,
            seen.elevation_deg,
            seen.distance_m,
            title=f"The horizon from {place}, eye at {seen.height_m:.0f} m",
            sources=elevation_line(land),
        ).savefig(passing / "horizon.png")
    return out / "horizon.png"


def _say_table(seen: SeenHorizon) -> None:
    table = Table(box=None, pad_edge=False, header_style="bold")
    for heading in ("Bearing", "Above level", "Distance"):
        table.add_column(heading, justify="right")
    rows = zip(seen.bearing_deg, seen.elevation_deg, seen.distance_m, strict=True)
    for bearing, elevation, distance_m in rows:
        known = bool(np.isfinite(elevation))
        table.add_row(
            f"{bearing:g}°",
            f"{elevation:.2f}°" if known else "not known",
            f"{distance_m / 1000:.2f} km" if known else "",
        )
    Console(highlight=False).print(table)
    say(f"Height of the eye: {seen.height_m:.1f} m in the model's own datum.")


def _as_json(
    seen: SeenHorizon, lon_deg: float, lat_deg: float, path: Path
) -> dict[str, object]:
    rows = zip(seen.bearing_deg, seen.elevation_deg, seen.distance_m, strict=True)
    return {
        "lon": lon_deg,
        "lat": lat_deg,
        "height_m": round(seen.height_m, 2),
        "horizon": [
            {
                "bearing_deg": round(float(bearing), 4),
                "elevation_deg": round(float(e), 4) if np.isfinite(e) else None,
                "distance_m": round(float(d), 1) if np.isfinite(d) else None,
            }
            for bearing, e, d in rows
        ],
        "files": [path.name],
    }


def _told(land: Terrain) -> list[dict[str, object]]:
    """Return what is known of each elevation file."""
    return [
        {
            "path": Path(source.path).name,
            "cell_m": round(source.cell_m, 2),
            "vertical_datum": source.vertical_datum,
            "notes": list(source.notes),
        }
        for source in land.sources
    ]
