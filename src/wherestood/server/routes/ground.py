"""Answer for the ground: terrain on the map, horizons, the view from a place."""

from __future__ import annotations

import math
from typing import Annotated, Literal

import numpy as np
from fastapi import APIRouter, Query
from fastapi.responses import Response
from sqlalchemy import select

from wherestood.daybook import Daybook
from wherestood.daybook.searched import area_searched
from wherestood.daybook.tables import TerrainLayer
from wherestood.errors import InputError
from wherestood.fix.area import read_area
from wherestood.fix.terrain_needed import Rectangle, terrain_needed, uncovered
from wherestood.ground.place import stand
from wherestood.server.compact import as_it_is, known, pairs, png_of
from wherestood.server.desk import Book, DeskNeeded
from wherestood.server.forms.ground import (
    Contour,
    Contours,
    GroundTold,
    HorizonTold,
    NeededTold,
    TransformAsked,
    Transformed,
)
from wherestood.server.grounds import Ground
from wherestood.server.plate_ground import (
    TILE_PX,
    degrees_said,
    ground_at,
    ground_of,
    layer_boxes,
    resolutions_m,
    tell_ground,
)
from wherestood.server.routes.items import item_of
from wherestood.server.troubles import NotThereError
from wherestood.terrain.contours import contours, usual_interval_m

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["ground"])
_FOR_GOOD = "private, max-age=31536000, immutable"
_LONGEST_RENDERING_PX = 1600


@router.get("/plates/{plate_id}/ground", operation_id="getPlateGround")
def of_plate(desk: DeskNeeded, book: Book, plate_id: str) -> GroundTold:
    """Open the ground of a plate, as far as a search needs it."""
    ground, area = ground_of(desk, book, plate_id)
    return tell_ground(ground, area, _credits(book))


@router.get("/ground", operation_id="getGround")
def about(
    desk: DeskNeeded,
    book: Book,
    lon_deg: float | None = None,
    lat_deg: float | None = None,
) -> GroundTold:
    """Open the ground about a place, or about the middle of all terrain."""
    known = lon_deg is not None and lat_deg is not None
    place = (float(lon_deg or 0.0), float(lat_deg or 0.0)) if known else None
    return tell_ground(ground_at(desk, book, place), None, _credits(book))


@router.get(
    "/ground/{ground}/tiles/{kind}/{level}/{column}/{row}.png",
    operation_id="getTile",
    response_class=Response,
)
def tile(
    desk: DeskNeeded,
    ground: str,
    kind: Literal["hillshade", "slope", "height"],
    level: int,
    column: int,
    row: int,
) -> Response:
    """Serve a tile of the map; columns count east, rows south from the corner."""
    opened = desk.grounds.get(ground)
    steps = resolutions_m(opened.terrain)
    if not 0 <= level < len(steps) or min(column, row) < 0 or max(column, row) > 10**6:
        raise NotThereError("The map has no such tile.")
    tiles = desk.grounds.tiles(opened, steps, TILE_PX)
    drawn = getattr(tiles, kind)(level, column, row)
    return Response(
        png_of(drawn), media_type="image/png", headers={"Cache-Control": _FOR_GOOD}
    )


@router.get("/ground/{ground}/contours", operation_id="getContours")
def lines(
    desk: DeskNeeded,
    ground: str,
    box: str,
    resolution_m: Annotated[float, Query(gt=0)],
    interval_m: Annotated[float | None, Query(gt=0)] = None,
) -> Contours:
    """Give the contours within a box of the map, ``w,s,e,n`` in metres."""
    opened = desk.grounds.get(ground)
    try:
        west, south, east, north = (float(part) for part in box.split(","))
        if not all(math.isfinite(edge) for edge in (west, south, east, north)):
            raise ValueError(box)
    except ValueError as error:
        raise InputError(
            f"The box {box[:60]!r} cannot be read.", "Give west,south,east,north."
        ) from error
    interval = interval_m or usual_interval_m(resolution_m)
    drawn = contours(
        opened.terrain, (west, south, east, north), interval, resolution_m / 2.0
    )
    return Contours(
        interval_m=interval,
        lines=[
            Contour(height_m=one.height_m, points_m=pairs(one.points_m, 1))
            for one in drawn
        ],
    )


@router.post("/ground/{ground}/transform", operation_id="transform")
def transform(desk: DeskNeeded, ground: str, asked: TransformAsked) -> Transformed:
    """Carry points between longitude and latitude and the map's metres."""
    frame = desk.grounds.get(ground).terrain.frame
    points = np.asarray(asked.points, dtype=np.float64).reshape(-1, 2)
    turn = frame.from_lonlat if asked.to == "grid" else frame.to_lonlat
    first, second = turn(points[:, 0], points[:, 1])
    return Transformed(
        points=[
            (float(a), float(b)) if np.isfinite(a) and np.isfinite(b) else None
            for a, b in zip(first, second, strict=True)
        ]
    )


@router.get(
    "/ground/{ground}/horizon",
    operation_id="getHorizon",
    response_model=HorizonTold,
)
def horizon(
    desk: DeskNeeded,
    ground: str,
    east_m: float | None = None,
    north_m: float | None = None,
    lon_deg: float | None = None,
    lat_deg: float | None = None,
    above_m: Annotated[float, Query(ge=0, le=500)] = 1.5,
    lens_m: float | None = None,
    from_deg: float = 0.0,
    wide_deg: Annotated[float, Query(gt=0, le=360)] = 360.0,
    count: Annotated[int, Query(ge=2, le=7200)] = 720,
) -> Response:
    """Compute the horizon seen from a place, over true bearing.

    Bearings are ``from_deg + n * step_deg``; what is not known is null.
    """
    opened = desk.grounds.get(ground)
    east, north = _grid_place(opened, east_m, north_m, lon_deg, lat_deg)
    place = stand(
        opened.model, opened.standing, east, north, above_m=above_m, lens_m=lens_m
    )
    step_deg = wide_deg / count
    bearing_deg = from_deg + step_deg * np.arange(count)
    tangent, distance_m = place.horizon(np.radians(bearing_deg - place.turn_deg))
    lon, lat = opened.terrain.frame.to_lonlat(np.array([east]), np.array([north]))
    told = HorizonTold(
        east_m=east,
        north_m=north,
        lon_deg=float(lon[0]),
        lat_deg=float(lat[0]),
        ground_m=place.ground_m,
        lens_m=place.lens_m,
        turn_deg=place.turn_deg,
        from_deg=from_deg,
        step_deg=step_deg,
        elevation_deg=known(np.degrees(np.arctan(tangent)), 4),
        distance_m=known(np.where(np.isfinite(tangent), distance_m, np.nan), 1),
    )
    return as_it_is(told)


@router.get("/plates/{plate_id}/terrain_needed", operation_id="getTerrainNeeded")
def needed(
    book: Book,
    plate_id: str,
    lon_deg: float | None = None,
    lat_deg: float | None = None,
    radius_m: Annotated[float, Query(gt=0, le=500_000)] = 3_000.0,
) -> NeededTold:
    """Say which elevation data the plate's ground searched needs."""
    with book.reading() as session:
        plate = item_of(session, "plates", plate_id)
        boxes = layer_boxes(session)
    area = area_searched(plate)
    if lon_deg is not None and lat_deg is not None:
        area = read_area(f"{lon_deg},{lat_deg},{radius_m:g}m")
    if area is None:
        raise NotThereError(
            "Nothing says where to search.",
            "Draw a rough circle on the map, or give two coordinates.",
        )
    near_enough_m = plate.near_enough_m or 125.0
    told = terrain_needed(area, near_enough_m)
    near, far = told.near, told.far
    share = uncovered(far, boxes) if boxes else 1.0
    sentences = [
        f"Near the camera, from {_box_said(near)}: a height at least every "
        f"{told.near_cell_m:g} m, {_megabytes(told.near_bytes)}.",
        f"All hills that may show, {far.width_m / 1000:.0f} by "
        f"{far.height_m / 1000:.0f} km, from {_box_said(far)}: a height at least every "
        f"{told.far_cell_m:g} m, {_megabytes(told.far_bytes)}.",
        "Files by the degree are named by their south-west corners: "
        f"{', '.join(told.degree_squares)}. National mapping agencies give them away, "
        "as elevation or terrain models.",
    ]
    if share < 0.995:
        sentences.append(f"The daybook has {1 - share:.0%} of it already.")
    return NeededTold(
        sentences=sentences,
        near=near.as_json(),
        far=far.as_json(),
        near_cell_m=told.near_cell_m,
        far_cell_m=told.far_cell_m,
        degree_squares=list(told.degree_squares),
        uncovered_share=share,
    )


def _megabytes(size_bytes: float) -> str:
    """Return a size in words."""
    return f"some {size_bytes / 1e6:.0f} MB" if size_bytes >= 1e6 else "under 1 MB"


def _box_said(box: Rectangle) -> str:
    west, east = degrees_said(box.west_deg, "EW"), degrees_said(box.east_deg, "EW")
    south = degrees_said(box.south_deg, "NS")
    return f"{west} to {east} and {south} to {degrees_said(box.north_deg, 'NS')}"


def _grid_place(
    ground: Ground,
    east_m: float | None,
    north_m: float | None,
    lon_deg: float | None,
    lat_deg: float | None,
) -> tuple[float, float]:
    if east_m is not None and north_m is not None:
        return east_m, north_m
    if lon_deg is None or lat_deg is None:
        raise InputError("No place is given.", "Give east_m and north_m.")
    east, north = ground.terrain.frame.from_lonlat(
        np.array([lon_deg]), np.array([lat_deg])
    )
    return float(east[0]), float(north[0])


def _credits(book: Daybook) -> list[str]:
    with book.reading() as session:
        wanted = select(TerrainLayer).where(TerrainLayer.removed.is_(False))
        layers = session.scalars(wanted.order_by(TerrainLayer.key)).all()
    return [one.credit or one.title or one.key for one in layers]
