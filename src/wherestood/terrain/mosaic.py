"""Assemble the heights of several rasters on one grid."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wherestood.errors import TerrainError
from wherestood.progress import Progress
from wherestood.terrain.grid import Grid
from wherestood.terrain.heights import plausibility_notes
from wherestood.terrain.lattice import Lattice, LatticeWindow, read_window
from wherestood.terrain.regrid import node_paths, regrid, window_of
from wherestood.terrain.seams import lay_under
from wherestood.terrain.voids import SMALL_VOID_CELLS, fill_small_voids
from wherestood.terrain.water import sea_mask

__all__ = ["Mosaic", "assemble"]


@dataclass(frozen=True)
class Mosaic:
    """Hold assembled heights.

    Attributes
    ----------
    elevation_m : (rows, columns) float32 array
        Heights [m], row 0 the southernmost; NaN where unknown.
    sea : (rows, columns) bool array
        True on nodes known as sea.
    notes : tuple of tuple of str
        What was done, for each raster of each lattice in order.
    """

    elevation_m: NDArray[np.float32]
    sea: NDArray[np.bool_]
    notes: tuple[tuple[str, ...], ...]


def assemble(
    lattices: Sequence[Lattice], grid: Grid, progress: Progress | None = None
) -> Mosaic:
    """Assemble rasters on a grid, the finer over the coarser.

    Parameters
    ----------
    lattices : sequence of Lattice
        The rasters, the finest lattice first.
    grid : Grid
        Where the nodes are.
    progress : Progress, optional
        Told of each lattice and strip.

    Returns
    -------
    Mosaic
        Heights, sea, notes.

    Raises
    ------
    TerrainError
        If two rasters disagree too much, or nothing is known anywhere.
    """
    elevation: NDArray[np.float32] | None = None
    sea: NDArray[np.bool_] | None = None
    notes: list[tuple[str, ...]] = []
    for number, lattice in enumerate(lattices):
        layer, layer_sea, layer_notes = _layer(lattice, grid, progress)
        if elevation is None or sea is None:
            elevation, sea = layer, layer_sea
        elif np.isfinite(layer).any():
            open_before = np.isnan(elevation)
            layer_notes[0] += lay_under(
                elevation,
                layer,
                cell_m=grid.cell_m,
                coarser_cell_m=lattice.cell_m,
                names=(_name(lattices[number - 1]), _name(lattice)),
            )
            sea |= layer_sea & open_before
        notes.extend(layer_notes)
        del layer, layer_sea
    if elevation is None or sea is None or not np.isfinite(elevation).any():
        raise TerrainError(
            f"All {grid.rows * grid.columns} heights around the ground asked for are "
            "void.",
            "Give elevation that knows this ground; check the no-data value.",
        )
    # Resampling rings beside a steep shore; the sea stays level.
    elevation[sea] = 0.0
    return Mosaic(elevation, sea, tuple(notes))


def _name(lattice: Lattice) -> str:
    first = lattice.sources[0].file.name
    others = len(lattice.sources) - 1
    return first if others == 0 else f"{first} and {others} more"


def _layer(
    lattice: Lattice, grid: Grid, progress: Progress | None
) -> tuple[NDArray[np.float32], NDArray[np.bool_], list[tuple[str, ...]]]:
    """Return one lattice's heights and sea on the grid, with notes a raster."""
    factor = grid.factor if grid.native else _averaging(lattice, grid)
    coarse = lattice.coarsened(factor)
    paths = None if grid.native else node_paths(coarse, grid)
    window = grid.native if paths is None else window_of(coarse, paths)
    if window is None:
        empty = np.full((grid.rows, grid.columns), np.nan, dtype=np.float32)
        outside = ("lies outside the ground asked for",)
        return empty, np.zeros(empty.shape, np.bool_), [outside] * len(lattice.sources)
    heights, notes = _joined(coarse, window, progress)
    if factor > 1:
        notes[0] += (
            f"{factor} x {factor} cells averaged into one of {coarse.cell_m:.1f} m, "
            "to fit in memory: crests are planed off",
        )
    notes[0] += _mend(heights)
    sea = sea_mask(heights, coarse.cell_m)
    notes[0] += _sea_note(sea, coarse.cell_m)
    # Before resampling, or a sea floor would pull down the shore.
    heights[sea] = 0.0
    if paths is None:
        _turn_over(heights)
        _turn_over(sea)
        return heights, sea, notes
    notes[0] += (
        f"cells of {coarse.cell_m:.1f} m resampled by cubic convolution to "
        f"{grid.cell_m:.1f} m",
    )
    return *regrid(heights, sea, window, grid, paths), notes


def _turn_over(rows: NDArray[Any]) -> None:
    """Put the last row first, in place: rasters run south, a terrain runs north."""
    half = rows.shape[0] // 2
    upper = rows[:half].copy()
    rows[:half] = rows[rows.shape[0] - half :][::-1]
    rows[rows.shape[0] - half :] = upper[::-1]


def _averaging(lattice: Lattice, grid: Grid) -> int:
    return max(1, math.floor(grid.cell_m / lattice.cell_m))


def _joined(
    lattice: Lattice, window: LatticeWindow, progress: Progress | None
) -> tuple[NDArray[np.float32], list[tuple[str, ...]]]:
    """Join the rasters of one lattice in a window, the first given on top."""
    whole: NDArray[np.float32] | None = None
    below = ""
    notes: list[tuple[str, ...]] = []
    if progress is not None:
        progress.stage("reading elevation", None)
    for index, source in enumerate(lattice.sources):
        part = read_window(lattice, index, window, progress)
        if part is None:
            notes.append((*source.notes, "lies outside the ground asked for"))
            continue
        heights, own, sentinels = part
        found = source.notes + _void_notes(heights, sentinels)
        found += plausibility_notes(source.file.name, heights, lattice.cell_m)
        if whole is None and own == window:
            # One raster that fills the window needs no second array.
            whole = heights
        else:
            if whole is None:
                whole = np.full(window.shape, np.nan, dtype=np.float32)
            slot = _slot(whole, own, window)
            names = (below, source.file.name)
            found += _lay_tile(slot, heights, lattice.cell_m, names)
        below = source.file.name
        notes.append(found)
    if whole is None:
        whole = np.full(window.shape, np.nan, dtype=np.float32)
    return whole, notes


def _slot(
    whole: NDArray[np.float32], own: LatticeWindow, window: LatticeWindow
) -> NDArray[np.float32]:
    """Return the part of a window's heights that a raster fills."""
    return whole[
        own.row_0 - window.row_0 : own.row_1 - window.row_0,
        own.column_0 - window.column_0 : own.column_1 - window.column_0,
    ]


def _lay_tile(
    slot: NDArray[np.float32],
    heights: NDArray[np.float32],
    cell_m: float,
    names: tuple[str, str],
) -> tuple[str, ...]:
    """Lay a tile into its slot, under what other tiles left there."""
    if not np.isfinite(slot).any():
        slot[:] = heights
        return ()
    return lay_under(slot, heights, cell_m=cell_m, coarser_cell_m=cell_m, names=names)


def _void_notes(heights: NDArray[np.float32], sentinels: int) -> tuple[str, ...]:
    notes: tuple[str, ...] = ()
    if sentinels:
        notes += (
            f"{sentinels} undeclared no-data values (such as -9999) taken as void",
        )
    void = int(np.count_nonzero(np.isnan(heights)))
    if void:
        notes += (f"{void} of {heights.size} heights read are void",)
    return notes


def _mend(heights: NDArray[np.float32]) -> tuple[str, ...]:
    filled = fill_small_voids(heights)
    if not filled:
        return ()
    return (
        f"{filled} heights filled in holes at most {SMALL_VOID_CELLS} cells across",
    )


def _sea_note(sea: NDArray[np.bool_], cell_m: float) -> tuple[str, ...]:
    count = int(np.count_nonzero(sea))
    if count == 0:
        return ()
    return (f"{count * cell_m**2 / 1e6:.1f} km2 known as sea, at 0 m",)
