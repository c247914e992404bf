"""Choose the ground that a map shows."""

from __future__ import annotations

import shapely
from shapely.geometry import MultiPolygon, Polygon

from wherestood.earth.frame import Frame
from wherestood.fix.result import Fix
from wherestood.record.drawn_proposed import proposed_nearby
from wherestood.record.hillshade import Extent

__all__ = ["bounds", "close_extent", "inside", "square_about"]


def bounds(
    ground: Polygon | MultiPolygon,
    fix: Fix,
    regions: dict[float, MultiPolygon],
    frame: Frame,
) -> Extent:
    """Return the box that holds ground, regions, station and what is proposed near."""
    here = Polygon(_corners(fix.station.east_m, fix.station.north_m, 1.0))
    shapes = [
        ground,
        here,
        *proposed_nearby(fix, frame, ground),
        *(r for r in regions.values() if not r.is_empty),
    ]
    west, south, east, north = shapely.total_bounds(shapes)
    return float(west), float(east), float(south), float(north)


def close_extent(
    fix: Fix, regions: dict[float, MultiPolygon], widest_m: float
) -> Extent | None:
    """Return a window about the station, None where it would enlarge nothing.

    It holds the rivals close by and the piece of region the station lies in: of
    nine tenths, or of a half where that is too wide, or else none.
    """
    station, near_m = fix.station, fix.near_enough_m
    here = Polygon(_corners(station.east_m, station.north_m, 1.6 * near_m))
    others = [
        Polygon(_corners(other.station.east_m, other.station.north_m, 0.4 * near_m))
        for other in fix.alternatives
    ]
    rivals = [o for o in others if o.centroid.distance(here.centroid) < 3 * near_m]
    for share in (0.9, 0.5, None):
        pieces = regions[share].geoms if share in regions else []
        touching = [p for p in pieces if p.distance(here.centroid) < near_m]
        west, south, east, north = shapely.total_bounds([here, *rivals, *touching])
        box = square_about((float(west), float(east), float(south), float(north)), 0.08)
        if box[1] - box[0] < widest_m:
            return box
    return None


def _corners(
    east_m: float, north_m: float, reach_m: float
) -> list[tuple[float, float]]:
    signs = ((-1, -1), (1, -1), (1, 1), (-1, 1))
    return [(east_m + a * reach_m, north_m + b * reach_m) for a, b in signs]


def square_about(extent: Extent, margin: float) -> Extent:
    """Return the smallest square about a box, with a margin."""
    west, east, south, north = extent
    half_m = (0.5 + margin) * max(east - west, north - south)
    middle_east, middle_north = (west + east) / 2, (south + north) / 2
    return (
        middle_east - half_m,
        middle_east + half_m,
        middle_north - half_m,
        middle_north + half_m,
    )


def inside(east_m: float, north_m: float, extent: Extent) -> bool:
    """Say whether a point lies in a box."""
    return extent[0] <= east_m <= extent[1] and extent[2] <= north_m <= extent[3]
