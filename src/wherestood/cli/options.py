"""Define the options that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = [
    "AsJson",
    "FarthestKm",
    "Negative",
    "Refraction",
    "ScanPath",
    "ScanPaths",
    "SurfaceName",
    "TerrainPaths",
]

ScanPath = Annotated[Path, typer.Argument(metavar="SCAN", help="Scan of the plate.")]
ScanPaths = Annotated[
    list[Path],
    typer.Argument(
        metavar="SCAN...",
        help="Scan of the plate; several are the plates of one panorama.",
    ),
]
TerrainPaths = Annotated[
    list[Path],
    typer.Option(
        "--terrain",
        metavar="FILE...",
        help="Elevation model: files, folders or zips; several may follow.",
    ),
]
SurfaceName = Annotated[
    str,
    typer.Option(
        "--surface",
        metavar="ground|top|unknown",
        help="What the heights are of: bare ground, or the tops of trees and roofs.",
    ),
]
Refraction = Annotated[
    float, typer.Option("--refraction", metavar="K", help="Refraction coefficient k.")
]
FarthestKm = Annotated[
    float,
    typer.Option(
        "--horizon-radius", metavar="KM", help="How far away land is looked for, km."
    ),
]
AsJson = Annotated[
    bool, typer.Option("--json", help="Write JSON, and nothing else, to the output.")
]
Negative = Annotated[
    bool | None,
    typer.Option(
        "--negative/--positive",
        help="Whether the scan is a negative; judged from its tones if not said.",
    ),
]
