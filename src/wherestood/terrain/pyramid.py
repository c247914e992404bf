"""Build the sloping lids that let a ray skip ground it need not look at."""

from __future__ import annotations

from dataclasses import dataclass

import numba
import numpy as np
from numpy.typing import NDArray

__all__ = ["FIRST_LEVEL", "Pyramid", "build_pyramid"]

#: The lowest level that has lids: 4 by 4 cells. Finer ones cost four times the
#: memory, and a ray is through such a block in five cells or so.
FIRST_LEVEL = 2
#: Height of the lid over a block of which nothing is known [m].
_NOTHING_M = -1e30


@dataclass(frozen=True)
class Pyramid:
    """Hold node heights and, level over level, a plane that lies above each block.

    A block of level L covers ``2**L`` by ``2**L`` cells, its first node at column
    ``block << L``, row alike. Its plane, the *lid*, is
    ``lids[b, 0] + lids[b, 1] * columns + lids[b, 2] * rows`` with columns and
    rows counted from that node; no known node of the block stands above it.

    Attributes
    ----------
    nodes : (rows, columns) float32 array
        Heights [m], NaN where unknown.
    lids : (blocks, 4) float32 array
        Height at the first node [m], slope a column and slope a row [m/cell]; the
        fourth number is 0 and keeps a lid within one cache line. All levels one
        after another, each row-major.
    offsets, widths : (top + 1,) int64 array
        Where a level starts in ``lids``, and its number of columns; 0 below
        `FIRST_LEVEL`.
    top : int
        The highest level, one block.
    """

    nodes: NDArray[np.float32]
    lids: NDArray[np.float32]
    offsets: NDArray[np.int64]
    widths: NDArray[np.int64]
    top: int


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _slopes(nodes, row, column, rows, columns):  # type: ignore[no-untyped-def]
    """Return the least-squares slopes of a block, NaN where a node is unknown."""
    middle_row = 0.5 * (rows - 1)
    middle_column = 0.5 * (columns - 1)
    along = 0.0
    up = 0.0
    for j in range(rows):
        total = 0.0
        for i in range(columns):
            height = np.float64(nodes[row + j, column + i])
            total += height
            along += (i - middle_column) * height
        up += (j - middle_row) * total
    nodes_in = rows * columns
    return (
        np.float32(12.0 * along / (nodes_in * (columns * columns - 1.0))),
        np.float32(12.0 * up / (nodes_in * (rows * rows - 1.0))),
    )


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _lid(nodes, row, column, rows, columns, lid):  # type: ignore[no-untyped-def]
    """Fill ``lid`` with the lowest plane of the block's slope that lies above it."""
    along, up = _slopes(nodes, row, column, rows, columns)
    if not (np.isfinite(along) and np.isfinite(up)):
        along = np.float32(0.0)
        up = np.float32(0.0)
    most = _NOTHING_M
    for j in range(rows):
        for i in range(columns):
            above = (
                np.float64(nodes[row + j, column + i])
                - np.float64(along) * i
                - np.float64(up) * j
            )
            if above > most:
                most = above
    height = np.float32(most)
    if height < most:
        height = np.nextafter(height, np.float32(np.inf))
    lid[0] = height
    lid[1] = along
    lid[2] = up
    lid[3] = 0.0


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _level(nodes, level, width, lids):  # type: ignore[no-untyped-def]
    size = 1 << level
    for block in range(lids.shape[0]):
        row = (block // width) * size
        column = (block % width) * size
        rows = min(size + 1, nodes.shape[0] - row)
        columns = min(size + 1, nodes.shape[1] - column)
        _lid(nodes, row, column, rows, columns, lids[block])


def build_pyramid(elevation_m: NDArray[np.float32]) -> Pyramid:
    """Build the pyramid of a height grid.

    Parameters
    ----------
    elevation_m : (rows, columns) float32 array
        Node heights [m], NaN where unknown; at least 2 by 2.

    Returns
    -------
    Pyramid

    Raises
    ------
    ValueError
        If the grid has no cell.

    Notes
    -----
    Costs a third more than the grid's own memory. A block with an unknown node
    gets a level lid at its highest known one.
    """
    nodes = np.ascontiguousarray(elevation_m, dtype=np.float32)
    if nodes.ndim != 2 or min(nodes.shape) < 2:
        raise ValueError(f"a grid needs 2 x 2 nodes at least, not {nodes.shape}")
    if np.isinf(nodes).any():
        nodes = np.where(np.isinf(nodes), np.float32(np.nan), nodes)
    levels: list[NDArray[np.float32]] = []
    offsets, widths = [0] * FIRST_LEVEL, [0] * FIRST_LEVEL
    level, blocks_before = FIRST_LEVEL, 0
    while True:
        down = -(-(nodes.shape[0] - 1) // (1 << level))
        across = -(-(nodes.shape[1] - 1) // (1 << level))
        lids = np.empty((down * across, 4), dtype=np.float32)
        _level(nodes, level, across, lids)
        levels.append(lids)
        offsets.append(blocks_before)
        widths.append(across)
        if down * across == 1:
            break
        blocks_before += down * across
        level += 1
    return Pyramid(
        nodes,
        np.concatenate(levels),
        np.array(offsets, dtype=np.int64),
        np.array(widths, dtype=np.int64),
        level,
    )
