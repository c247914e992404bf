"""Carry heights from a lattice over to the nodes of a grid."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RectBivariateSpline

from wherestood.errors import TerrainError
from wherestood.terrain.grid import Grid
from wherestood.terrain.lattice import Lattice, LatticeWindow
from wherestood.terrain.resample import sample_cubic

__all__ = ["NodePaths", "node_paths", "regrid", "window_of"]

_CONTROL_SPACING_M = 1000.0
_BLOCK_NODES = 1_000_000
_RIM_CELLS = 4


@dataclass(frozen=True)
class NodePaths:
    """Hold smooth functions from frame coordinates to a lattice's nodes.

    Attributes
    ----------
    column, row : RectBivariateSpline
        Column and row of the lattice as functions of frame east and north [m].
    """

    column: RectBivariateSpline
    row: RectBivariateSpline


def node_paths(lattice: Lattice, grid: Grid) -> NodePaths:
    """Fit the way from grid to lattice on exact points a kilometre apart.

    The third-order remainder of a map projection over a kilometre is below a
    micrometre, while an exact transformation of every node would take minutes.
    """
    east = _control(grid.west_m, grid.columns, grid.cell_m)
    north = _control(grid.south_m, grid.rows, grid.cell_m)
    lon, lat = grid.frame.to_lonlat(*np.meshgrid(east, north, indexing="ij"))
    column, row = lattice.node_of(lon, lat)
    _refuse_cut(lattice, column)
    return NodePaths(
        RectBivariateSpline(east, north, column),
        RectBivariateSpline(east, north, row),
    )


def _refuse_cut(lattice: Lattice, column: NDArray[np.float64]) -> None:
    """Stop where a raster of the whole earth ends inside the ground asked for."""
    half_turn = 180.0 / abs(lattice.transform.a * lattice.factor)
    if lattice.is_geographic and np.ptp(column) > half_turn:
        raise TerrainError(
            f"{lattice.sources[0].file.name} is cut along a meridian that runs through "
            "the ground asked for.",
            "Give the part of it on each side as a file of its own.",
        )


def _control(start_m: float, count: int, cell_m: float) -> NDArray[np.float64]:
    length = (count - 1) * cell_m
    points = max(5, math.ceil(length / _CONTROL_SPACING_M) + 1)
    return np.linspace(start_m, start_m + length, points)


def window_of(lattice: Lattice, paths: NodePaths) -> LatticeWindow | None:
    """Return the part of a lattice that a grid needs, None where it has none."""
    column, row = (
        spline(*(np.unique(k) for k in spline.get_knots()))
        for spline in (paths.column, paths.row)
    )
    if not (np.isfinite(column).all() and np.isfinite(row).all()):
        return None
    asked = LatticeWindow(
        math.floor(column.min()) - _RIM_CELLS,
        math.floor(row.min()) - _RIM_CELLS,
        math.ceil(column.max()) + _RIM_CELLS + 1,
        math.ceil(row.max()) + _RIM_CELLS + 1,
    )
    return lattice.extent.meet(asked)


def regrid(
    heights: NDArray[np.float32],
    sea: NDArray[np.bool_],
    window: LatticeWindow,
    grid: Grid,
    paths: NodePaths,
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    """Sample heights and sea on the nodes of a grid.

    Parameters
    ----------
    heights : (rows, columns) float32 array
        Heights in the window [m], the first row first; NaN where unknown.
    sea : (rows, columns) bool array
        Sea in the window.
    window : LatticeWindow
        Where on the lattice they lie.
    grid : Grid
        The nodes wanted.
    paths : NodePaths
        The way from grid to lattice.

    Returns
    -------
    heights : (rows, columns) float32 array
        Heights at the nodes [m], row 0 the southernmost; NaN where unknown.
    sea : (rows, columns) bool array
        Sea at the nodes, by the nearest pixel.
    """
    out = np.empty((grid.rows, grid.columns), dtype=np.float32)
    out_sea = np.zeros(out.shape, dtype=np.bool_)
    any_sea = bool(sea.any())
    east = grid.west_m + np.arange(grid.columns) * grid.cell_m
    block = max(1, _BLOCK_NODES // grid.columns)
    for first in range(0, grid.rows, block):
        last = min(first + block, grid.rows)
        north = grid.south_m + np.arange(first, last) * grid.cell_m
        column = paths.column(east, north).T - window.column_0
        row = paths.row(east, north).T - window.row_0
        out[first:last] = sample_cubic(heights, column, row)
        if any_sea:
            out_sea[first:last] = _nearest(sea, column, row)
    return out, out_sea


def _nearest(
    mask: NDArray[np.bool_], column: NDArray[np.float64], row: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Return a mask at the nearest node; False off the grid."""
    c, r = np.rint(column).astype(np.intp), np.rint(row).astype(np.intp)
    inside = (c >= 0) & (r >= 0) & (c < mask.shape[1]) & (r < mask.shape[0])
    out = np.zeros(column.shape, dtype=np.bool_)
    out[inside] = mask[r[inside], c[inside]]
    return out
