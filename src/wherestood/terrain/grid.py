"""Choose the grid on which an elevation model will stand."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pyproj
from numpy.typing import NDArray

from wherestood.earth.frame import Frame
from wherestood.earth.geodesy import distance_and_bearing
from wherestood.errors import InputError, TerrainError
from wherestood.terrain.lattice import Lattice, LatticeWindow
from wherestood.terrain.sources import apply_transform

__all__ = ["LARGEST_REACH_M", "Grid", "choose_grid"]

LARGEST_REACH_M = 400_000.0
"""Half the side of the largest terrain [m]: the highest hills show from 350 km."""

# Within these the native grid of a source is as good as a local one: lengths
# agree to half a metre in a kilometre over the whole terrain, angles exactly.
_LARGEST_SCALE_CHANGE = 5e-4
# Shifts between datums stretch a grid by a few parts in a million.
_LARGEST_SHAPE_CHANGE = 5e-5
_SHORT_LINE_M = 100.0
_SQUARE = 1e-6
_COVERAGE_SAMPLES = 129


@dataclass(frozen=True)
class Grid:
    """Hold where the nodes of a terrain will be.

    Attributes
    ----------
    frame : Frame
        The frame.
    west_m, south_m : float
        Frame coordinates of the south-western node [m].
    cell_m : float
        Node spacing [m].
    rows, columns : int
        Size [nodes].
    native : LatticeWindow or None
        The window of the one lattice whose nodes are kept as they are; None where
        heights are resampled.
    factor : int
        How many native cells a side are averaged into one; 1 for none.
    covered : float
        Share of the ground asked for that lies on a raster, 0 to 1.
    """

    frame: Frame
    west_m: float
    south_m: float
    cell_m: float
    rows: int
    columns: int
    native: LatticeWindow | None
    factor: int
    covered: float


def choose_grid(
    lattices: Sequence[Lattice],
    around_deg: tuple[float, float] | None,
    radius_m: float | None,
    max_nodes: int,
) -> Grid:
    """Choose the grid: native cells where they serve, a local grid elsewhere.

    Parameters
    ----------
    lattices : sequence of Lattice
        The rasters, the finest lattice first.
    around_deg : (lon, lat) or None
        Centre of the ground asked for [deg]; None for all there is.
    radius_m : float or None
        Its radius [m].
    max_nodes : int
        Most nodes that the grid may have.

    Returns
    -------
    Grid
        Cropped to what the rasters cover.

    Raises
    ------
    TerrainError
        If no raster reaches the ground asked for.
    """
    centre = around_deg or _middle_of(lattices)
    finest = lattices[0]
    frame = _native_frame(finest, centre, radius_m) if len(lattices) == 1 else None
    native = frame is not None
    if frame is None:
        frame = Frame.local(*centre)
    box, covered = _covered_box(lattices, frame, centre, radius_m)
    wanted_m = finest.cell_m if native else finest.cell_m / 2.0
    area_m2 = (box[2] - box[0]) * (box[3] - box[1])
    if native:
        cell_m = finest.transform.a / frame.scale
        too_many = math.sqrt(area_m2 / cell_m**2 / max_nodes)
        factor = max(1, math.ceil(too_many - _SQUARE))
        return _native_grid(finest, frame, box, factor, covered)
    cell_m = max(wanted_m, math.sqrt(area_m2 / max_nodes))
    factor = max(1, math.floor(cell_m / finest.cell_m))
    columns = max(2, math.ceil((box[2] - box[0]) / cell_m) + 1)
    rows = max(2, math.ceil((box[3] - box[1]) / cell_m) + 1)
    return Grid(frame, box[0], box[1], cell_m, rows, columns, None, factor, covered)


def _native_frame(
    lattice: Lattice, centre_deg: tuple[float, float], radius_m: float | None
) -> Frame | None:
    """Return the lattice's own frame, None where it does not serve."""
    t = lattice.transform
    north_up = t.b == 0.0 and t.d == 0.0 and t.a > 0.0 and t.e < 0.0
    if not north_up or abs(t.a + t.e) > _SQUARE * t.a:
        return None
    crs = pyproj.CRS(lattice.sources[0].reference.crs)
    if not _is_metric_east_north(crs):
        return None
    try:
        frame = Frame.on_crs(lattice.sources[0].reference.crs, *centre_deg)
    except InputError:
        return None
    reach_m = radius_m or _half_diagonal_m(lattice)
    points = _corners_around(frame, centre_deg, reach_m)
    east, east_bearing = _short_lines(frame, points, (_SHORT_LINE_M, 0.0))
    north, north_bearing = _short_lines(frame, points, (0.0, _SHORT_LINE_M))
    turn = (east_bearing - north_bearing) % 360.0 - 90.0
    # Infinite or NaN lengths, outside the projection's domain, fail every test.
    conformal = float(
        np.abs(east / north - 1.0).max()
    ) <= _LARGEST_SHAPE_CHANGE and float(np.abs(turn).max()) <= np.degrees(
        _LARGEST_SHAPE_CHANGE
    )
    even = float(np.abs(north / _SHORT_LINE_M - 1.0).max()) <= _LARGEST_SCALE_CHANGE
    return frame if conformal and even else None


def _short_lines(
    frame: Frame,
    points_m: tuple[NDArray[np.float64], NDArray[np.float64]],
    line_m: tuple[float, float],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return ground length [m] and true bearing [deg] of one grid line at points.

    Measured on the ground, not asked of the projection: the web's Mercator calls
    itself conformal on a sphere and is 0.7 % out of shape on the earth.
    """
    east, north = points_m
    start = frame.to_lonlat(east, north)
    end = frame.to_lonlat(east + line_m[0], north + line_m[1])
    return distance_and_bearing(*start, *end)


def _is_metric_east_north(crs: pyproj.CRS) -> bool:
    if not crs.is_projected:
        return False
    directions = {axis.direction for axis in crs.axis_info}
    metres = all(abs(a.unit_conversion_factor - 1.0) < 1e-12 for a in crs.axis_info)
    # A polar grid's axes both point along meridians; its easting still runs east.
    return metres and directions in ({"east", "north"}, {"north"}, {"south"})


def _half_diagonal_m(lattice: Lattice) -> float:
    rows, columns = lattice.extent.shape
    return math.hypot(rows, columns) * lattice.cell_m / 2.0


def _corners_around(
    frame: Frame, centre_deg: tuple[float, float], reach_m: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    east, north = frame.from_lonlat(np.array(centre_deg[0]), np.array(centre_deg[1]))
    step = np.array([-1.0, 0.0, 1.0]) * reach_m
    east_m, north_m = np.meshgrid(east + step, north + step)
    return east_m.ravel(), north_m.ravel()


def _middle_of(lattices: Sequence[Lattice]) -> tuple[float, float]:
    """Return the middle of all rasters [deg], across the antimeridian if need be."""
    lon, lat = _known_outline(lattices)
    lon = lon[0] + (lon - lon[0] + 180.0) % 360.0 - 180.0
    middle = (lon.min() + lon.max()) / 2.0
    return (
        float((middle + 180.0) % 360.0 - 180.0),
        float((lat.min() + lat.max()) / 2.0),
    )


def _known_outline(
    lattices: Sequence[Lattice],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the points of the outlines that lie on the earth [deg]."""
    lon, lat = _outline_lonlat(lattices)
    known = np.isfinite(lon) & np.isfinite(lat)
    if not known.any():
        raise _too_large()
    return lon[known], lat[known]


def _too_large() -> TerrainError:
    return TerrainError(
        f"The elevation files cover more than {2 * LARGEST_REACH_M / 1000:.0f} km, too "
        "much for one terrain.",
        "Say around which place, and how far, it is needed.",
    )


def _outline_lonlat(
    lattices: Sequence[Lattice],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return points along the outlines of all rasters [deg]."""
    lons, lats = [], []
    share = np.linspace(0.0, 1.0, 17)
    for lattice in lattices:
        for source, w in zip(lattice.sources, lattice.windows, strict=True):
            columns = w.column_0 + share * (w.column_1 - w.column_0)
            rows = w.row_0 + share * (w.row_1 - w.row_0)
            ends = np.ones_like(share)
            column = np.concatenate(
                [columns, columns, w.column_0 * ends, w.column_1 * ends]
            )
            row = np.concatenate([w.row_0 * ends, w.row_1 * ends, rows, rows])
            x, y = apply_transform(lattice.transform, column, row)
            lon, lat = source.reference.shift.transformer.transform(
                x, y, direction="INVERSE"
            )
            lons.append(lon)
            lats.append(lat)
    return np.concatenate(lons), np.concatenate(lats)


def _covered_box(
    lattices: Sequence[Lattice],
    frame: Frame,
    centre_deg: tuple[float, float],
    radius_m: float | None,
) -> tuple[tuple[float, float, float, float], float]:
    """Return west, south, east, north [m] of the covered ground, and its share."""
    east, north = (
        float(v)
        for v in frame.from_lonlat(np.array(centre_deg[0]), np.array(centre_deg[1]))
    )
    if radius_m is None:
        return _whole_box(lattices, frame), 1.0
    step = np.linspace(-radius_m, radius_m, _COVERAGE_SAMPLES)
    east_m, north_m = np.meshgrid(east + step, north + step)
    lon, lat = frame.to_lonlat(east_m, north_m)
    covered = np.zeros(lon.shape, dtype=np.bool_)
    for lattice in lattices:
        covered |= lattice.covers(*lattice.node_of(lon, lat))
    if not covered.any():
        raise _no_overlap(lattices, centre_deg, radius_m)
    disc = np.hypot(east_m - east, north_m - north) <= radius_m
    spacing = float(step[1] - step[0])
    box = (
        max(float(east_m[covered].min()) - spacing, east - radius_m),
        max(float(north_m[covered].min()) - spacing, north - radius_m),
        min(float(east_m[covered].max()) + spacing, east + radius_m),
        min(float(north_m[covered].max()) + spacing, north + radius_m),
    )
    return box, float(covered[disc].mean())


def _whole_box(
    lattices: Sequence[Lattice], frame: Frame
) -> tuple[float, float, float, float]:
    east, north = frame.from_lonlat(*_outline_lonlat(lattices))
    if not (np.isfinite(east).all() and np.isfinite(north).all()):
        raise _too_large()
    if max(np.ptp(east), np.ptp(north)) > 2.0 * LARGEST_REACH_M:
        raise _too_large()
    return float(east.min()), float(north.min()), float(east.max()), float(north.max())


def _no_overlap(
    lattices: Sequence[Lattice], centre_deg: tuple[float, float], radius_m: float
) -> TerrainError:
    lon, lat = _known_outline(lattices)
    distance, _ = distance_and_bearing(
        np.full(lon.shape, centre_deg[0]), np.full(lat.shape, centre_deg[1]), lon, lat
    )
    return TerrainError(
        "The elevation files do not reach the ground asked for: they cover "
        f"longitude {lon.min():.4f} to {lon.max():.4f}, latitude {lat.min():.4f} to "
        f"{lat.max():.4f}, and the ground lies within {radius_m / 1000:.1f} km of "
        f"longitude {centre_deg[0]:.4f}, latitude {centre_deg[1]:.4f}, "
        f"{float(distance.min()) / 1000:.1f} km from their nearest edge.",
        "Check that longitude comes before latitude, or give elevation of that ground.",
    )


def _native_grid(
    lattice: Lattice,
    frame: Frame,
    box: tuple[float, float, float, float],
    factor: int,
    covered: float,
) -> Grid:
    coarse = lattice.coarsened(factor)
    t = lattice.transform
    step = t.a * factor
    west, south, east, north = (value * frame.scale for value in box)
    # One cell of margin, so that the box's rim lies between nodes.
    asked = LatticeWindow(
        math.floor((west - t.c) / step) - 1,
        math.floor((t.f - north) / step) - 1,
        math.ceil((east - t.c) / step) + 1,
        math.ceil((t.f - south) / step) + 1,
    )
    window = coarse.extent.meet(asked)
    if window is None:
        raise TerrainError(
            "The elevation files only touch the ground asked for.",
            "Give elevation that covers it.",
        )
    rows, columns = window.shape
    return Grid(
        frame,
        (t.c + (window.column_0 + 0.5) * step) / frame.scale,
        (t.f - (window.row_1 - 0.5) * step) / frame.scale,
        step / frame.scale,
        rows,
        columns,
        window,
        factor,
        covered,
    )
