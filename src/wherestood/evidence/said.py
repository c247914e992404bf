"""Weigh what a source says about where a plate was taken.

Symbols
-------
A : the area that the words mean; G the ground searched; w their weight
|A and G|, |G less A| : areas [m2]; q the share of a cell that lies in A

    density = q w / |A and G| + (1 - q) (1 - w) / |G less A|

So the size of what a source names does not change how much it is believed: w of the
probability lies in A, however large it is drawn, as long as both parts are there.
"""

from __future__ import annotations

import math

import numpy as np
import rasterio.features
import shapely
from numpy.typing import NDArray
from rasterio import Affine
from scipy import ndimage
from shapely.geometry import shape as geometry_of
from shapely.geometry.base import BaseGeometry

from wherestood.earth.frame import Frame
from wherestood.evidence.items.feature import Feature
from wherestood.evidence.items.statement import Statement
from wherestood.evidence.layout import geometry_in_frame
from wherestood.evidence.stations import Stations
from wherestood.evidence.weighed import Weighed
from wherestood.terrain.model import Terrain

__all__ = ["hill_top", "statement_area", "weigh_statement"]

Array = NDArray[np.float64]

#: Less than this share of the ground is none of it: rounding of two outlines.
_NOTHING = 1e-9


def statement_area(
    statement: Statement, feature: Feature, frame: Frame, terrain: Terrain | None = None
) -> BaseGeometry:
    """Return the area that a statement means, in frame metres.

    Parameters
    ----------
    statement : Statement
        The words.
    feature : Feature
        What they name. Its standard error widens what is said of it.
    frame : Frame
        Where to.
    terrain : Terrain, optional
        Tells the top of a hill from its sides; without it a circle stands for it.
    """
    named = geometry_in_frame(feature.place, frame)
    if statement.place == "on top of" and terrain is not None:
        top = hill_top(terrain, named, statement.reach_m, statement.down_m)
        if not top.is_empty:
            return top
    reach_m = statement.reach_m
    if statement.place != "inside":
        reach_m = math.hypot(reach_m, feature.sd_m)
    return named.buffer(reach_m) if reach_m > 0.0 else named


def hill_top(
    terrain: Terrain, named: BaseGeometry, within_m: float, down_m: float
) -> BaseGeometry:
    """Return the top of a hill, as an area in frame metres.

    Parameters
    ----------
    terrain : Terrain
        The elevation model.
    named : shapely geometry
        The hill, as a source's point or outline, frame metres.
    within_m : float
        How far from it the top may reach [m].
    down_m : float
        How far below its highest node ground still counts [m].

    Returns
    -------
    shapely geometry
        What hangs together with the highest node within reach and lies no lower
        than that; empty where no height is known.
    """
    reach = named.buffer(within_m)
    west, south, east, north = reach.bounds
    cell = terrain.cell_m
    rows = _span(south, north, terrain.south_m, cell, terrain.elevation_m.shape[0])
    columns = _span(west, east, terrain.west_m, cell, terrain.elevation_m.shape[1])
    heights = terrain.elevation_m[rows, columns]
    easts = terrain.west_m + cell * np.arange(columns.start, columns.stop)
    norths = terrain.south_m + cell * np.arange(rows.start, rows.stop)
    grid_east, grid_north = np.meshgrid(easts, norths)
    usable = shapely.contains_xy(reach, grid_east, grid_north) & np.isfinite(heights)
    if not usable.any():
        return shapely.Polygon()
    highest = np.where(usable, heights, -np.inf)
    summit = np.unravel_index(int(np.argmax(highest)), highest.shape)
    high = usable & (heights >= highest[summit] - down_m)
    labels, _ = ndimage.label(high, structure=np.ones((3, 3)))
    top = labels == labels[summit]
    corner = Affine(cell, 0.0, easts[0] - cell / 2.0, 0.0, cell, norths[0] - cell / 2.0)
    parts = rasterio.features.shapes(
        top.astype(np.uint8), mask=top, connectivity=8, transform=corner
    )
    return shapely.union_all([geometry_of(part) for part, _ in parts]).buffer(0.0)


def weigh_statement(
    statement: Statement, area: BaseGeometry, ground: BaseGeometry, stations: Stations
) -> Weighed:
    """Weigh a statement at stations.

    Parameters
    ----------
    statement : Statement
        Whose weight counts.
    area : shapely geometry
        What it means, frame metres: `statement_area`.
    ground : shapely geometry
        The ground searched, frame metres.
    stations : Stations
        For which it is weighed; as cells, where they have a side, so that a
        doorstep is not lost between their middles.

    Returns
    -------
    Weighed
        Log of the density over the even one, ``1 / |G|``, no unit: it adds to other
        evidence; and the log odds that the words are wrong.

    Notes
    -----
    An area that leaves no ground inside, or none outside, says nothing of where in
    the ground searched the camera stood: 0.
    """
    whole = ground.area
    inside = ground.intersection(area).area
    outside = whole - inside
    count = stations.count
    w = statement.weight
    if inside <= _NOTHING * whole or outside <= _NOTHING * whole:
        odds = math.log1p(-w) - math.log(w)
        sure = np.inf if inside <= _NOTHING * whole else odds
        return Weighed(np.zeros(count), np.full(count, sure))
    share = _share_inside(area, stations)
    right = share * w * whole / inside
    wrong = (1.0 - share) * (1.0 - w) * whole / outside
    with np.errstate(divide="ignore"):
        log_odds = np.log(wrong) - np.log(right)
    return Weighed(np.log(right + wrong), log_odds)


def _share_inside(area: BaseGeometry, stations: Stations) -> Array:
    """Return how much of each station's cell lies in an area, 0 to 1."""
    shapely.prepare(area)
    half_m = stations.side_m / 2.0
    if half_m == 0.0:
        held = shapely.contains_xy(area, stations.east_m, stations.north_m)
        return np.asarray(held, dtype=np.float64)
    cells = shapely.box(
        stations.east_m - half_m,
        stations.north_m - half_m,
        stations.east_m + half_m,
        stations.north_m + half_m,
    )
    share = shapely.contains(area, cells).astype(np.float64)
    cut = shapely.intersects(area, cells) & (share == 0.0)
    share[cut] = shapely.area(shapely.intersection(area, cells[cut]))
    share[cut] /= stations.side_m**2
    return np.asarray(np.minimum(share, 1.0))


def _span(
    low_m: float, high_m: float, origin_m: float, cell_m: float, count: int
) -> slice:
    first = int(np.clip(math.floor((low_m - origin_m) / cell_m), 0, count - 1))
    last = int(np.clip(math.ceil((high_m - origin_m) / cell_m), first, count - 1))
    return slice(first, last + 1)
