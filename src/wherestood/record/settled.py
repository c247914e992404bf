"""Say which area a fix settles, where it does not settle a place."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pyproj
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from wherestood.earth.frame import Frame
from wherestood.fix.result import Fix
from wherestood.record.doubt import (
    area_in_words,
    coordinates,
    distance_in_words,
    odds_in_words,
    way_in_words,
)
from wherestood.record.inputs import FixInputs
from wherestood.record.sureness import CONDITION, asked

__all__ = [
    "RegionSize",
    "in_frame",
    "long_region_words",
    "region_area_m2",
    "region_size",
    "regions_sentence",
    "settled_lines",
]

#: No area is called settled where more than this is left for elsewhere ...
MOST_ELSEWHERE = 0.05
#: ... or where it covers more than this of the ground searched.
MOST_OF_GROUND = 0.5
#: Ground this many times as long as wide is told by its length and width.
LONG_REGION = 2.5
_WGS84 = pyproj.Geod(ellps="WGS84")
_TIMES = {0.5: "1 time in 2", 0.9: "9 times in 10", 0.99: "99 times in 100"}


@dataclass(frozen=True)
class RegionSize:
    """Hold how large a region is on the ground.

    Attributes
    ----------
    area_m2 : float
    pieces : int
    long_m, short_m : float
        Sides of the smallest rectangle about it, turned as it likes [m].
    lon_deg, lat_deg : float
        Middle of that rectangle.
    way_deg : float
        Grid bearing of its long side, from 0 to 180 [deg].
    """

    area_m2: float
    pieces: int
    long_m: float
    short_m: float
    lon_deg: float
    lat_deg: float
    way_deg: float = math.nan


def region_area_m2(region: MultiPolygon) -> float:
    """Return the area of a region on the ellipsoid [m2]."""
    return abs(float(_WGS84.geometry_area_perimeter(region)[0]))


def in_frame(region: MultiPolygon, frame: Frame) -> MultiPolygon:
    """Return a region of longitudes and latitudes in frame metres."""

    def project(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack(frame.from_lonlat(points[:, 0], points[:, 1]))

    return shapely.transform(region, project)


def region_size(region: MultiPolygon, frame: Frame) -> RegionSize:
    """Return the size of a region that is not empty."""
    box = shapely.oriented_envelope(in_frame(region, frame))
    corners = shapely.get_coordinates(box)
    sides = np.diff(corners[:3], axis=0)
    sides_m = np.sort(np.hypot(*sides.T))
    along = sides[int(np.argmax(np.hypot(*sides.T)))]
    middle = shapely.get_coordinates(box.centroid)[0]
    lon, lat = frame.to_lonlat(middle[:1], middle[1:])
    return RegionSize(
        region_area_m2(region),
        len(region.geoms),
        float(sides_m[1]),
        float(sides_m[0]),
        float(lon[0]),
        float(lat[0]),
        math.degrees(math.atan2(along[0], along[1])) % 180.0,
    )


def long_region_words(fix: Fix, inputs: FixInputs) -> str:
    """Say how long and wide the ground is that holds a camera, and which way it runs.

    Empty where it is hardly longer than wide, or in pieces: then one "give or take"
    tells as much.
    """
    region = fix.regions.get(0.9, MultiPolygon())
    if region.is_empty:
        return ""
    size = region_size(region, inputs.terrain.frame)
    if size.pieces > 1 or size.long_m < LONG_REGION * size.short_m:
        return ""
    turn = math.radians(size.way_deg)
    one_way = way_in_words(math.sin(turn), math.cos(turn))
    other_way = way_in_words(-math.sin(turn), -math.cos(turn))
    long_m, short_m = (distance_in_words(m) for m in (size.long_m, size.short_m))
    return (
        f"9 times in 10 within ground {long_m} long from {other_way} to {one_way} and "
        f"{short_m} wide"
    )


def regions_sentence(fix: Fix, inputs: FixInputs) -> str:
    """Say how large the regions are that hold the camera; nothing without any."""
    held = [
        f"{area_in_words(region_area_m2(region))} {_TIMES.get(share, f'{share:.0%}')}"
        for share, region in sorted(fix.regions.items())
        if not region.is_empty
    ]
    if not held:
        return ""
    searched = area_in_words(inputs.area.size_km2 * 1e6)
    return f"Ground that holds it, of the {searched} searched: {', '.join(held)}."


def settled_lines(fix: Fix, inputs: FixInputs) -> tuple[str, ...]:
    """Say in which area the camera stood 9 times in 10, and what that is worth.

    Of more than half the ground searched, where much is left for elsewhere, or
    where a match by chance could not be tried, it is not said to be settled.
    """
    region = fix.regions.get(0.9, MultiPolygon())
    if region.is_empty:
        return ()
    size = region_size(region, inputs.terrain.frame)
    share = size.area_m2 / (inputs.area.size_km2 * 1e6)
    if share > MOST_OF_GROUND:
        return (
            f"Nor is any smaller area settled: what holds it 9 times in 10 is "
            f"{share:.0%} of the ground searched.",
        )
    lines = [f"Not to {asked(fix)}, but to an area: {_stood(size)}, {CONDITION}."]
    if not fix.elsewhere <= MOST_ELSEWHERE or math.isnan(fix.chance):
        lines = [
            f"Nor is any area settled: {odds_in_words(fix.elsewhere)} that the camera "
            "stood outside the ground searched, or that the match is one of chance.",
            f"If neither is so, {_stood(size)}.",
        ]
    if _at_edge(fix, inputs, region):
        lines.append(
            "That area reaches the edge of the ground searched and may go on beyond."
        )
    return tuple(lines)


def _stood(size: RegionSize) -> str:
    around = coordinates(size.lon_deg, size.lat_deg, size.short_m / 4)
    long_m, short_m = (distance_in_words(m) for m in (size.long_m, size.short_m))
    shape = f"about {long_m} by {short_m}"
    if size.pieces > 1:
        shape = f"{size.pieces} pieces spread over {long_m} by {short_m}"
    return (
        f"9 times in 10 it stood within {area_in_words(size.area_m2)}: {shape}, around "
        f"{around}"
    )


def _at_edge(fix: Fix, inputs: FixInputs, region: MultiPolygon) -> bool:
    frame = inputs.terrain.frame
    cell_m = float(np.median(fix.cells[:, 2])) if fix.cells.size else 0.0
    edge = inputs.area.in_frame(frame).boundary
    return bool(in_frame(region, frame).distance(edge) <= cell_m)
