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
#: The highest level at most: rays of common lengths gain nothing from larger blocks.
_LAST_LEVEL = 10
#: Height of the lid over a block of which nothing is known [m].
_NOTHING_M = -1e30


@dataclass(frozen=True)
class Pyramid:
    """Hold node heights and, level over level, a plane that lies above each block.

    A block of level L covers ``2**L`` by ``2**L`` cells, its first node at column
    ``block << L``, row alike. Its plane, the *lid*, is a height at that node and
    slopes a column and a row; no known node of the block stands above it.

    Attributes
    ----------
    nodes : (rows, columns) float32 array
        Heights [m], NaN where unknown.
    lids : (2 down, across) int64 array
        The lids, eight bytes each: the height as float32 [m], then the slopes
        [m/cell] a column and a row, each the upper half of a float32. The lowest
        level has the first ``down`` rows, the next ``down / 2``, and so on.
    down, across : int
        Blocks of the lowest level: rows, a multiple of what the highest needs, and
        columns.
    top : int
        The highest level.
    """

    nodes: NDArray[np.float32]
    lids: NDArray[np.int64]
    down: int
    across: int
    top: int

    @property
    def parts(self) -> tuple[object, ...]:
        """Return what a compiled kernel takes: arrays in one row, sizes."""
        return (
            self.nodes.ravel(),
            self.lids.ravel(),
            *self.nodes.shape,
            self.down,
            self.across,
            self.top,
        )

    def lid(self, level: int, row: int, column: int) -> tuple[float, float, float]:
        """Return a lid's height [m], slope a column and slope a row [m/cell]."""
        first = _first_row(self.down, level)
        word = int(self.lids[first + row, column]) & (1 << 64) - 1
        bits = (word >> 32, word & 0xFFFF0000, (word & 0xFFFF) << 16)
        height, along, up = np.array(bits, dtype=np.uint32).view(np.float32)
        return float(height), float(along), float(up)


def _first_row(down: int, level: int) -> int:
    """Return the row of `Pyramid.lids` at which a level begins."""
    return 2 * down - (2 * down >> (level - FIRST_LEVEL))


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
def _upper_half(slope):  # type: ignore[no-untyped-def]
    """Return the bits of a float32 rounded to its upper 16 bits, 0 if not finite."""
    if not np.isfinite(slope):
        return np.uint32(0)
    bits = np.uint64(np.float32(slope).view(np.uint32)) + np.uint64(0x8000)
    return np.uint32(bits & np.uint64(0xFFFF0000))


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _lid(nodes, row, column, rows, columns):  # type: ignore[no-untyped-def]
    """Return the packed lowest plane of the block's slope that lies above it."""
    along, up = _slopes(nodes, row, column, rows, columns)
    if not (np.isfinite(along) and np.isfinite(up)):
        along = np.float32(0.0)
        up = np.float32(0.0)
    along_bits = _upper_half(along)
    up_bits = _upper_half(up)
    along_held = np.float64(np.uint32(along_bits).view(np.float32))
    up_held = np.float64(np.uint32(up_bits).view(np.float32))
    most = _NOTHING_M
    for j in range(rows):
        for i in range(columns):
            above = (
                np.float64(nodes[row + j, column + i]) - along_held * i - up_held * j
            )
            if above > most:
                most = above
    height = np.float32(most)
    if height < most:
        height = np.nextafter(height, np.float32(np.inf))
    return (
        np.uint64(np.float32(height).view(np.uint32)) << np.uint64(32)
        | np.uint64(along_bits)
        | np.uint64(up_bits) >> np.uint64(16)
    )


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _fill_level(nodes, level, first, lids):  # type: ignore[no-untyped-def]
    """Fill the lids of a level, which begins at row ``first``."""
    size = 1 << level
    for row in range(0, nodes.shape[0] - 1, size):
        for column in range(0, nodes.shape[1] - 1, size):
            rows = min(size + 1, nodes.shape[0] - row)
            columns = min(size + 1, nodes.shape[1] - column)
            lids[first + row // size, column // size] = _lid(
                nodes, row, column, rows, columns
            )


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
    Costs a quarter more than the grid's own memory. A block with an unknown node
    gets a level lid at its highest known one.
    """
    nodes = np.ascontiguousarray(elevation_m, dtype=np.float32)
    if nodes.ndim != 2 or min(nodes.shape) < 2:
        raise ValueError(f"a grid needs 2 x 2 nodes at least, not {nodes.shape}")
    if np.isinf(nodes).any():
        nodes = np.where(np.isinf(nodes), np.float32(np.nan), nodes)
    cells_down, cells_across = nodes.shape[0] - 1, nodes.shape[1] - 1
    top = FIRST_LEVEL
    while top < _LAST_LEVEL and (1 << top) < max(cells_down, cells_across):
        top += 1
    rows_of_highest = -(-cells_down // (1 << top))
    down = rows_of_highest << (top - FIRST_LEVEL)
    across = -(-cells_across // (1 << FIRST_LEVEL))
    lids = np.empty((2 * down, across), dtype=np.uint64)
    lids[:] = int(np.float32(_NOTHING_M).view(np.uint32)) << 32
    for level in range(FIRST_LEVEL, top + 1):
        _fill_level(nodes, level, _first_row(down, level), lids)
    return Pyramid(nodes, lids.view(np.int64), down, across, top)
