"""Gather the shaded ground and the drawn pictures that a handed-out page shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from sqlalchemy import select

from wherestood.daybook.book import Daybook
from wherestood.daybook.journal import DaybookSession
from wherestood.daybook.keep_answer import folder_of_fix
from wherestood.daybook.tables import Right, TerrainLayer
from wherestood.daybook.terrain_layers import paths_of
from wherestood.errors import WherestoodError
from wherestood.progress import Progress
from wherestood.record.export.handed import HandedOut
from wherestood.record.export.handed_things import Drawn
from wherestood.record.export.pictures_of_fix import drawn_beside
from wherestood.record.export.shaded_map import ShadedMap, boxes_about, shaded_map
from wherestood.terrain.read import open_terrain

__all__ = ["drawn_of_fix", "terrain_files", "with_maps"]


def drawn_of_fix(
    book: Daybook, plate_key: str, fix_key: str, *, public: bool
) -> tuple[Drawn, ...]:
    """Return the pictures drawn of a fix, as far as they are still there.

    Its map is not among those for the public: what people proposed stands on it.
    """
    return drawn_beside(folder_of_fix(book, plate_key, fix_key), with_map=not public)


def terrain_files(
    session: DaybookSession, book: Daybook, *, public: bool
) -> tuple[list[Path], list[str]]:
    """Return the daybook's elevation, and ids of what may not be published of it."""
    forbidden = set()
    if public:
        wanted = select(Right.about_id).where(
            Right.about_table == "terrain_layers", Right.may_be_published.is_(False),
            Right.removed.is_(False), Right.withdrawn.is_(None),
        )  # fmt: skip
        forbidden = set(session.scalars(wanted))
    layers = select(TerrainLayer).where(
        TerrainLayer.removed.is_(False), TerrainLayer.withdrawn.is_(None)
    )
    paths, kept = [], []
    for layer in session.scalars(layers.order_by(TerrainLayer.key)):
        if layer.id in forbidden:
            kept.append(layer.id)
        else:
            paths += [path for path in paths_of(book, layer) if path.exists()]
    return paths, kept


def with_maps(
    handed: HandedOut, files: Sequence[Path], progress: Progress
) -> HandedOut:
    """Return what is handed out with ground about every place that is told of it.

    The ground reaches as far about a square's middle as about a place that is known,
    so that its edges tell nothing more.
    """
    places = [
        (place.lon_deg, place.lat_deg)
        for plate in handed.plates
        for place in plate.places
    ]
    maps = []
    for box in boxes_about(places):
        made = ShadedMap(box)
        if files:
            half_m = 0.5 * (box.wide_m**2 + box.high_m**2) ** 0.5
            try:
                land = open_terrain(
                    files,
                    around=box.centre_deg,
                    radius_m=half_m,
                    max_nodes=4_000_000,
                    progress=progress,
                )
                made = shaded_map(land, box)
            except WherestoodError:
                pass  # the daybook's elevation does not reach there: no hills are drawn
        maps.append(made)
    return replace(handed, maps=tuple(maps))
