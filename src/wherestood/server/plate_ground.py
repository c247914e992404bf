"""Find the ground that a plate is looked at on."""

from __future__ import annotations

import warnings

import numpy as np
import pyproj
import shapely
from numpy.typing import NDArray
from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook import Daybook
from wherestood.daybook.question import layers_of
from wherestood.daybook.searched import area_searched
from wherestood.daybook.tables import Plate, TerrainLayer
from wherestood.errors import InputError
from wherestood.fix.area import RING_REACH, Area
from wherestood.fix.settings import LocateSettings
from wherestood.server.desk import Desk
from wherestood.server.forms.ground import GroundTold
from wherestood.server.grounds import Ground
from wherestood.server.routes.items import item_of
from wherestood.server.troubles import NotThereError
from wherestood.terrain.ground import height_m
from wherestood.terrain.model import Terrain

__all__ = [
    "NO_TERRAIN", "TILE_PX", "degrees_said", "ground_at", "ground_of", "layer_boxes",
    "tell_ground",
]  # fmt: skip

TILE_PX = 256
#: Without a ground searched no more than this is opened about the middle [m].
_ABOUT_M = 40_000.0
_WGS84 = pyproj.Geod(ellps="WGS84")
NO_TERRAIN = (
    "The daybook has no terrain here.",
    "Add an elevation model: drag a file, a zip or a folder onto the map.",
)


def ground_of(desk: Desk, book: Daybook, plate_id: str) -> tuple[Ground, Area | None]:
    """Return the ground of a plate, opened as far as a search needs it.

    Raises
    ------
    NotThereError
        If there is no terrain.
    TerrainError
        If it cannot be used, or covers none of the ground searched.
    """
    with book.reading() as session:
        plate: Plate = item_of(session, "plates", plate_id)
        area = area_searched(plate)
        boxes = layer_boxes(session)
    if area is None:
        return ground_at(desk, book, None), None
    _require_cover(area, boxes)
    reach_m = RING_REACH * area.radius_m + LocateSettings.horizon_radius_m
    return _opened(desk, book, area.centre, reach_m), area


def ground_at(
    desk: Desk, book: Daybook, place_deg: tuple[float, float] | None
) -> Ground:
    """Return the ground about a place, or about the middle of all terrain."""
    with book.reading() as session:
        boxes = layer_boxes(session)
    if not boxes:
        raise NotThereError(*NO_TERRAIN)
    west, south, east, north = shapely.union_all(boxes).bounds
    centre = place_deg or ((west + east) / 2.0, (south + north) / 2.0)
    _, _, corner_m = _WGS84.inv(west, south, *centre)
    reach_m = _ABOUT_M if place_deg else min(float(corner_m), _ABOUT_M)
    return _opened(desk, book, centre, reach_m)


def _opened(
    desk: Desk, book: Daybook, centre: tuple[float, float], reach_m: float
) -> Ground:
    with book.reading() as session:
        paths, surface = layers_of(book, session)
    if not paths:
        raise NotThereError(*NO_TERRAIN)
    return desk.grounds.open(paths, centre, reach_m, surface)


def layer_boxes(session: Session) -> list[shapely.Polygon]:
    """Return the boxes of all terrain layers [deg]."""
    wanted = select(TerrainLayer).where(
        TerrainLayer.removed.is_(False), TerrainLayer.withdrawn.is_(None)
    )
    boxes = []
    for layer in session.scalars(wanted):
        edges = (layer.west_deg, layer.south_deg, layer.east_deg, layer.north_deg)
        if None not in edges:
            boxes.append(shapely.box(*edges))
    return boxes


def _require_cover(area: Area, boxes: list[shapely.Polygon]) -> None:
    if boxes and not any(shapely.intersects(area.polygon, box) for box in boxes):
        lon, lat = area.centre
        middles = [box.centroid for box in boxes]
        away_m = [_WGS84.inv(lon, lat, one.x, one.y)[2] for one in middles]
        near = middles[int(np.argmin(away_m))]
        raise InputError(
            "The daybook has terrain, but none for the ground searched: the nearest "
            f"lies about {degrees_said(near.y, 'NS')} {degrees_said(near.x, 'EW')}, "
            f"{min(away_m) / 1000.0:,.0f} km away.",
            "Bring terrain that covers the ground searched, or change where to search.",
        )


def degrees_said(deg: float, sides: str) -> str:
    """Say a longitude or latitude with its side of the world, as maps print it."""
    turned = (deg + 180.0) % 360.0 - 180.0 if sides == "EW" else deg
    return f"{abs(turned):.3f}° {sides[0] if turned >= 0 else sides[1]}"


def tell_ground(ground: Ground, area: Area | None, credits: list[str]) -> GroundTold:
    """Describe an opened ground."""
    terrain = ground.terrain
    rows, columns = terrain.elevation_m.shape
    extent = (
        terrain.west_m,
        terrain.south_m,
        terrain.west_m + (columns - 1) * terrain.cell_m,
        terrain.south_m + (rows - 1) * terrain.cell_m,
    )
    known = terrain.elevation_m[np.isfinite(terrain.elevation_m)]
    searched = _outlines(terrain, area) if area is not None else None
    return GroundTold(
        ground=ground.key,
        proj4=_proj4(terrain.frame.crs),
        scale=terrain.frame.scale,
        centre_deg=(terrain.frame.centre_lon_deg, terrain.frame.centre_lat_deg),
        extent_m=extent,
        resolutions_m=resolutions_m(terrain),
        tile_px=TILE_PX,
        cell_m=terrain.cell_m,
        lowest_m=float(known.min()) if known.size else 0.0,
        highest_m=float(known.max()) if known.size else 0.0,
        surface=terrain.surface,
        vertical_datum=terrain.sources[0].vertical_datum,
        notes=[note for source in terrain.sources for note in source.notes],
        credits=credits,
        searched_m=searched,
        searched_covered=_covered(terrain, searched),
    )


def _proj4(crs: str) -> str:
    """Return a grid as a string of PROJ, which other libraries read."""
    with warnings.catch_warnings():
        # It warns that such a string tells less; of a map's grid it tells enough.
        warnings.simplefilter("ignore", UserWarning)
        return str(pyproj.CRS(crs).to_proj4())


def resolutions_m(terrain: Terrain) -> list[float]:
    """Return metres a pixel by level, the coarsest first; the last is below a cell."""
    side_m = max(terrain.elevation_m.shape) * terrain.cell_m
    steps = [terrain.cell_m / 4.0]
    while steps[-1] * TILE_PX < side_m:
        steps.append(steps[-1] * 2.0)
    return steps[::-1]


def _outlines(terrain: Terrain, area: Area) -> list[list[tuple[float, float]]]:
    shape = area.in_frame(terrain.frame)
    parts = getattr(shape, "geoms", [shape])
    return [[(float(x), float(y)) for x, y in p.exterior.coords] for p in parts]


def _covered(
    terrain: Terrain, outlines: list[list[tuple[float, float]]] | None
) -> bool:
    if not outlines:
        return True
    points: NDArray[np.float64] = np.concatenate([np.asarray(o) for o in outlines])
    known = np.isfinite(height_m(terrain, points[:, 0], points[:, 1]))
    return bool(known.all())
