"""Open elevation models, telling what a person must know of them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from wherestood.cli.screen import stages, warn
from wherestood.fix.settings import LocateSettings

if TYPE_CHECKING:
    from wherestood.terrain.model import Terrain

__all__ = ["open_ground"]


def open_ground(
    paths: tuple[Path, ...],
    around_deg: tuple[float, float],
    radius_m: float,
    settings: LocateSettings,
    *,
    warnings: bool = True,
) -> Terrain:
    """Open the elevation models around a place, showing progress and warnings."""
    from wherestood.terrain.read import open_terrain

    with stages() as shown:
        land = open_terrain(
            paths,
            around=around_deg,
            radius_m=radius_m,
            surface=settings.surface,
            refraction=settings.refraction,
            progress=shown,
        )
    for source in land.sources if warnings else ():
        for note in source.notes:
            if note.startswith("Warning:"):
                warn(note)
    return land
