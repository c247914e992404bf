"""Say which files open a terrain layer."""

from __future__ import annotations

from pathlib import Path

from wherestood.daybook.book import Daybook
from wherestood.daybook.tables import TerrainLayer
from wherestood.terrain.intake import raster_suffixes

__all__ = ["paths_of"]


def paths_of(daybook: Daybook, layer: TerrainLayer) -> list[Path]:
    """Return what opens a layer: its folder within the daybook, or its files.

    A folder in which another layer lies too, as merges once made it, is not opened as
    a whole: its own files are.
    """
    files = [daybook.path(str(record["file"])) for record in layer.files or ()]
    suffixes = raster_suffixes()
    if layer.kept == "taken in" and files:
        inside = files[0].relative_to(daybook.folder).parts
        home = daybook.folder / inside[0] / inside[1]
        there = (one for one in home.rglob("*") if one.suffix.lower() in suffixes)
        if all(one in files for one in there):
            return [home]
    return [path for path in files if path.suffix.lower() in suffixes]
