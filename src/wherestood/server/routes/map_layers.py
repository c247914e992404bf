"""Answer for what may lie under the map: a base map that was set, old plans."""

from __future__ import annotations

import numpy as np
from fastapi import APIRouter
from fastapi.responses import Response
from numpy.typing import NDArray

from wherestood.daybook.book import OUT
from wherestood.server.base_map.laid import lay_base_map
from wherestood.server.compact import png_of
from wherestood.server.desk import Book, DeskNeeded
from wherestood.server.forms.ground import BaseMapTold
from wherestood.server.grounds import Ground
from wherestood.server.plan_tiles import lay_plan, plan_copy
from wherestood.server.plate_ground import TILE_PX, resolutions_m
from wherestood.server.routes.items import item_of
from wherestood.server.settings_kept import kept_settings
from wherestood.server.troubles import NotThereError

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["map"])
_A_DAY = "private, max-age=86400"


@router.get("/base_map", operation_id="checkBaseMap")
def check(desk: DeskNeeded, book: Book) -> BaseMapTold:
    """Ask the base map that was set once, and say what it is."""
    with book.reading() as session:
        base_map = kept_settings(session).base_map
    if base_map is None:
        raise NotThereError("No base map is set.", "None is needed.")
    pyramid, fetched = desk.base_maps.open(base_map, book.folder / OUT)
    first = pyramid.levels[0]
    fetched.get(pyramid.address(first, first.columns // 2, first.rows // 2))
    return BaseMapTold(
        host=fetched.host,
        levels=len(pyramid.levels),
        finest_m=pyramid.levels[-1].resolution_m,
        credit=base_map.credit,
    )


@router.get(
    "/ground/{ground}/base_map/{level}/{column}/{row}.png",
    operation_id="getBaseMapTile",
    response_class=Response,
)
def base_tile(
    desk: DeskNeeded, book: Book, ground: str, level: int, column: int, row: int
) -> Response:
    """Serve the base map on the ground's own grid, fetched and kept by the server."""
    opened = desk.grounds.get(ground)
    with book.reading() as session:
        base_map = kept_settings(session).base_map
    if base_map is None:
        raise NotThereError("No base map is set.", "None is needed.")
    pyramid, fetched = desk.base_maps.open(base_map, book.folder / OUT)
    west_m, north_m, step_m = _square(opened, level, column, row)
    frame = opened.terrain.frame
    return _png(
        lay_base_map(pyramid, fetched.get, frame, west_m, north_m, step_m, TILE_PX)
    )


@router.get(
    "/ground/{ground}/plans/{plan_id}/{level}/{column}/{row}.png",
    operation_id="getPlanTile",
    response_class=Response,
)
def plan_tile(
    desk: DeskNeeded,
    book: Book,
    ground: str,
    plan_id: str,
    level: int,
    column: int,
    row: int,
) -> Response:
    """Serve a plan on the ground's own grid."""
    opened = desk.grounds.get(ground)
    with book.reading() as session:
        plan = item_of(session, "plans", plan_id)
    west_m, north_m, step_m = _square(opened, level, column, row)
    frame = opened.terrain.frame
    return _png(
        lay_plan(plan_copy(book, plan), frame, west_m, north_m, step_m, TILE_PX)
    )


def _square(
    ground: Ground, level: int, column: int, row: int
) -> tuple[float, float, float]:
    """Return a tile's north-western corner and its metres a pixel."""
    steps = resolutions_m(ground.terrain)
    if not 0 <= level < len(steps) or min(column, row) < 0 or max(column, row) > 10**6:
        raise NotThereError("The map has no such tile.")
    terrain = ground.terrain
    top_m = terrain.south_m + (terrain.elevation_m.shape[0] - 1) * terrain.cell_m
    side_m = steps[level] * TILE_PX
    return terrain.west_m + column * side_m, top_m - row * side_m, steps[level]


def _png(pixels: NDArray[np.uint8]) -> Response:
    headers = {"Cache-Control": _A_DAY}
    return Response(png_of(pixels), media_type="image/png", headers=headers)
