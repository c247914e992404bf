"""Work out where the edge of a water is seen from stations, all round.

Symbols
-------
z, z_s : level of the water and height of the lens [m]; d distance of its edge [m]
kappa : (1 - k) / 2R [1/m], k the refraction coefficient
az : bearing; d' change of d with it

    t = (z - z_s) / d - kappa d                 of a shore
    t = -2 sqrt((z_s - z) kappa)                of the sea's own horizon

The second is the greatest value of the first over all d.

References
----------
Dip of the sea horizon: National Geospatial-Intelligence Agency 2019, "The American
Practical Navigator", Pub. No. 9, chapter on the sextant's corrections.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numba
import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage

from wherestood.evidence.stations import Stations
from wherestood.evidence.water_rows import LEVEL, NO_EDGE
from wherestood.terrain.horizon import HorizonModel

__all__ = ["Water", "level_table", "wet_nodes"]

Array = NDArray[np.float64]

#: Bearings at which edges are worked out.
BEARINGS = 720
#: ... and where the terrain itself must be asked, step by step.
TERRAIN_BEARINGS = 360
#: Still water farther off than this is a line too thin to mark [m] (common practice).
FARTHEST_SHORE_M = 12_000.0
#: The lens is at least so far above the water [m].
LEAST_HEIGHT_M = 0.3
#: Land that stands less than this above the sea's horizon may be waves, cover or the
#: model's own error [m], and no less than this in tangent.
LOW_LAND_M = 3.0
LOW_LAND_TANGENT = 0.001
#: A shore that the terrain shows may be off by so many cells.
SHORE_CELLS = 1.0
#: Level nodes: their neighbours differ by less [m].
LEVEL_M = 0.05
#: Level ground of less than this is a field [m2].
LEAST_WATER_M2 = 20_000.0
#: Along a shore seen so slantwise an error of its place is no longer told [no unit].
MOST_SLANT = 10.0


@dataclass(frozen=True)
class Water:
    """Hold what is known of one water.

    Attributes
    ----------
    id : str
        What several items that name it share their level by.
    level_m : float
        Its level [m]; NaN for what the terrain says at its edge.
    level_sd_m : float
        Standard error of that, tide and datum included [m].
    edge : shapely geometry or None
        Its shore, frame metres; a point gives a distance and no more. None for the
        sea's horizon or the shore that the terrain shows.
    edge_sd_m : float
        Standard error of the shore's place [m].
    sea : bool
        Whether it is the sea's own horizon.
    """

    id: str
    level_m: float
    level_sd_m: float
    edge: shapely.Geometry | None = None
    edge_sd_m: float = 0.0
    sea: bool = False


def wet_nodes(model: HorizonModel, level_m: float, sd_m: float) -> NDArray[np.bool_]:
    """Tell the nodes of the terrain that are still water.

    Parameters
    ----------
    level_m, sd_m : float
        Level that the water has and its doubt; NaN for any [m].
    """
    heights = model.terrain.elevation_m
    low = ndimage.minimum_filter(heights, 3, mode="nearest")
    high = ndimage.maximum_filter(heights, 3, mode="nearest")
    with np.errstate(invalid="ignore"):
        wet = high - low < LEVEL_M
        # The rim of a level patch is level too.
        wet = ndimage.binary_dilation(wet, np.ones((3, 3))) & (
            np.abs(heights - ndimage.grey_dilation(np.where(wet, heights, -1e9), 3))
            < LEVEL_M
        )
        if model.terrain.water is not None:
            wet |= model.terrain.water
        if math.isfinite(level_m):
            wet &= np.abs(heights - level_m) < 3.0 * sd_m
    labels, count = ndimage.label(wet)
    if count:
        sizes = np.bincount(labels.ravel(), minlength=count + 1)
        large = sizes * model.terrain.cell_m**2 >= LEAST_WATER_M2
        large[0] = False
        wet = large[labels]
    return np.asarray(wet)


def level_table(
    water: Water,
    stations: Stations,
    model: HorizonModel,
    wet: NDArray[np.bool_] | None,
    farthest_m: float,
) -> Array:
    """Return a water's edge from stations at bearings all round.

    Parameters
    ----------
    wet : (rows, columns) bool array or None
        As `wet_nodes`, for a shore that the terrain shows.
    farthest_m : float
        How far land is looked for that may stand before the sea [m].

    Returns
    -------
    (stations, bearings, 9) float64 array
        As `water_rows.LEVEL`, at even bearings from grid north, one for a water that
        is alike all round; `NO_EDGE` and noughts where there is no edge.
    """
    table = _level_table(water, stations, model, wet, farthest_m)
    none = ~np.isfinite(table[..., 0])
    table[none] = 0.0
    table[none, 0] = NO_EDGE
    return table


def _level_table(
    water: Water,
    stations: Stations,
    model: HorizonModel,
    wet: NDArray[np.bool_] | None,
    farthest_m: float,
) -> Array:
    """Return the same with NaN where there is no edge."""
    if water.sea:
        return _sea(water, stations, model, farthest_m)
    if water.edge is not None and water.edge.geom_type == "Point":
        east = stations.east_m - water.edge.x
        north = stations.north_m - water.edge.y
        distance = np.hypot(east, north)[:, None]
        level = np.full(distance.shape, water.level_m)
        return _table(water, stations, distance, level, water.edge_sd_m)
    if water.edge is not None:
        distance = np.full((stations.count, BEARINGS), np.nan)
        for ring in _lines_of(water.edge):
            _fill_distances(ring, stations.east_m, stations.north_m, distance)
        level = np.full(distance.shape, water.level_m)
        return _table(water, stations, distance, level, water.edge_sd_m)
    assert wet is not None
    terrain = model.terrain
    shape = (stations.count, TERRAIN_BEARINGS)
    distance, level = np.full(shape, np.nan), np.full(shape, np.nan)
    _fill_shores(
        stations.east_m, stations.north_m, stations.lens_m, terrain.elevation_m, wet,
        terrain.west_m, terrain.south_m, terrain.cell_m, stations.curvature_per_m,
        min(farthest_m, FARTHEST_SHORE_M), distance, level,
    )  # fmt: skip
    if math.isfinite(water.level_m):
        level = np.where(np.isfinite(level), water.level_m, np.nan)
    return _table(water, stations, distance, level, SHORE_CELLS * terrain.cell_m)


def _lines_of(edge: shapely.Geometry) -> list[Array]:
    """Return the lines of a shore, outlines of areas included."""
    parts = shapely.get_parts(edge)
    lines = [
        part.exterior if part.geom_type == "Polygon" else part
        for part in parts
        if part.geom_type in ("Polygon", "LineString")
    ]
    return [shapely.get_coordinates(line) for line in lines]


def _sea(
    water: Water, stations: Stations, model: HorizonModel, farthest_m: float
) -> Array:
    """Return the sea's horizon where no land stands before it or beyond."""
    error = stations.height_error
    kappa = stations.curvature_per_m
    azimuth = np.linspace(0.0, 2.0 * math.pi, TERRAIN_BEARINGS, endpoint=False)
    above = np.maximum(stations.lens_m - water.level_m, LEAST_HEIGHT_M)
    by_level = np.sqrt(kappa / above)
    fall = np.sqrt(above * kappa)
    tangent = -2.0 * fall - by_level * error.by_cover * error.cover_mean_m
    table = np.zeros((stations.count, TERRAIN_BEARINGS, LEVEL))
    for column, value in enumerate(
        (
            tangent,
            np.zeros(stations.count),
            -by_level * error.slope_east,
            -by_level * error.slope_north,
            by_level * error.by_cover,
            -by_level * error.rest_sd_m,
            fall,
            by_level * water.level_sd_m,
        )
    ):
        table[..., column] = value[:, None]
    land = model.horizons(
        stations.east_m,
        stations.north_m,
        stations.lens_m,
        azimuth,
        farthest_m=farthest_m,
    )
    with np.errstate(invalid="ignore", divide="ignore"):
        low = np.maximum(LOW_LAND_M / land.distance_m, LOW_LAND_TANGENT)
        blocked = np.isfinite(land.distance_m) & (
            land.tangent > -2.0 * fall[:, None] + low
        )
    table[blocked] = np.nan
    return table


def _table(
    water: Water,
    stations: Stations,
    distance_m: Array,
    level_m: Array,
    edge_sd_m: float,
) -> Array:
    """Return the table of a shore whose distances and levels are known."""
    error = stations.height_error
    kappa = stations.curvature_per_m
    bearings = distance_m.shape[1]
    spacing = 2.0 * math.pi / bearings
    azimuth = np.arange(bearings) * spacing
    sine, cosine = np.sin(azimuth), np.cos(azimuth)
    distance = np.maximum(distance_m, 1.0)
    by_level = 1.0 / distance
    tangent = (level_m - stations.lens_m[:, None]) * by_level - kappa * distance
    fall = tangent + 2.0 * kappa * distance
    if bearings > 1:
        after, before = np.roll(distance, -1, axis=1), np.roll(distance, 1, axis=1)
        turn = (after - before) / (2.0 * spacing)
        # Beyond an end of the shore, or from one water to the next, there is no slope.
        turn = np.where(np.abs(after - before) < 0.3 * distance, turn, 0.0)
        turn = np.nan_to_num(turn)
    else:
        turn = np.zeros_like(distance)
        # A point lies where it lies, whichever way one looks.
        way = np.arctan2(
            shapely.get_x(water.edge) - stations.east_m,
            shapely.get_y(water.edge) - stations.north_m,
        )[:, None]
        sine, cosine = np.sin(way), np.cos(way)
    slant = np.minimum(np.hypot(1.0, turn / distance), MOST_SLANT)
    by_turn = -fall / distance * turn
    table = np.empty((*distance.shape, LEVEL))
    table[..., 0] = tangent - by_level * (error.by_cover * error.cover_mean_m)[:, None]
    table[..., 1] = by_turn
    table[..., 2] = (
        fall * sine + by_turn * cosine - error.slope_east[:, None]
    ) * by_level
    table[..., 3] = (
        fall * cosine - by_turn * sine - error.slope_north[:, None]
    ) * by_level
    table[..., 4] = by_level * error.by_cover[:, None]
    table[..., 5] = -by_level * error.rest_sd_m[:, None]
    table[..., 6] = kappa * distance
    table[..., 7] = by_level * water.level_sd_m
    table[..., 8] = fall * by_level * slant * edge_sd_m
    return table


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _fill_distances(line, east_m, north_m, distance):  # type: ignore[no-untyped-def]
    """Fill the distance along each bearing to the farthest crossing of a line."""
    bearings = distance.shape[1]
    spacing = 2.0 * np.pi / bearings
    for s in range(east_m.size):
        for n in range(line.shape[0] - 1):
            x0, y0 = line[n, 0] - east_m[s], line[n, 1] - north_m[s]
            x1, y1 = line[n + 1, 0] - east_m[s], line[n + 1, 1] - north_m[s]
            first = np.arctan2(x0, y0)
            turn = np.arctan2(x1, y1) - first
            turn = (turn + np.pi) % (2.0 * np.pi) - np.pi
            low = min(first, first + turn)
            high = max(first, first + turn)
            for number in range(
                int(np.ceil(low / spacing)), int(np.floor(high / spacing)) + 1
            ):
                b = number % bearings
                sine, cosine = np.sin(b * spacing), np.cos(b * spacing)
                across = sine * (y1 - y0) - cosine * (x1 - x0)
                if abs(across) < 1e-12:
                    continue
                d = (x0 * (y1 - y0) - y0 * (x1 - x0)) / across
                if d > 0.0 and not d <= distance[s, b]:
                    distance[s, b] = d


@numba.njit(cache=True, nogil=True, parallel=True, error_model="numpy")
def _fill_shores(  # type: ignore[no-untyped-def]
    east_m, north_m, lens_m, heights, wet, west_m, south_m, cell_m, kappa, farthest_m,
    distance, level,
):  # fmt: skip
    """Fill distance and level of the farthest far shore that is not hidden."""
    bearings = distance.shape[1]
    rows, columns = heights.shape
    for s in numba.prange(east_m.size):
        for b in range(bearings):
            azimuth = 2.0 * np.pi * b / bearings
            sine, cosine = np.sin(azimuth), np.cos(azimuth)
            top = -1e9
            on_water = False
            last_m = 0.0
            d = cell_m
            while d < farthest_m:
                column = int(np.rint((east_m[s] + d * sine - west_m) / cell_m))
                row = int(np.rint((north_m[s] + d * cosine - south_m) / cell_m))
                if row < 0 or column < 0 or row >= rows or column >= columns:
                    break
                z = heights[row, column]
                if not np.isfinite(z):
                    on_water = False
                elif wet[row, column]:
                    on_water = True
                    last_m = z
                else:
                    t = (z - lens_m[s]) / d - kappa * d
                    if on_water:
                        edge = d - 0.5 * cell_m
                        seen = (last_m - lens_m[s]) / edge - kappa * edge
                        if seen >= top:
                            distance[s, b] = edge
                            level[s, b] = last_m
                        on_water = False
                    top = max(top, t)
                d += cell_m
