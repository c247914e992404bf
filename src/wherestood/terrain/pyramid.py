"""Build the block maxima that let a ray skip ground it need not look at."""

from __future__ import annotations

from dataclasses import dataclass

import numba
import numpy as np
from numpy.typing import NDArray

__all__ = ["HOLE_M", "Pyramid", "build_pyramid"]

#: Height that stands for "unknown" inside the kernel: too low to be a horizon [m].
HOLE_M = np.float32(-20_000.0)


@dataclass(frozen=True)
class Pyramid:
    """Hold node heights and, level over level, the greatest height in each block.

    A block of level L covers ``2**L`` by ``2**L`` cells; level 1 is the first
    stored, since a single cell is cheaper to solve than to bound.

    Attributes
    ----------
    nodes : (rows, columns) float32 array
        Heights [m], holes as `HOLE_M`.
    maxima : (m,) float32 array
        All levels one after another, each row-major [m].
    offsets, widths : (levels + 1,) int64 array
        Where a level starts in ``maxima``, and its number of columns; entry 0
        is unused.
    top : int
        The highest level.
    """

    nodes: NDArray[np.float32]
    maxima: NDArray[np.float32]
    offsets: NDArray[np.int64]
    widths: NDArray[np.int64]
    top: int


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _first_level(nodes, block, out):  # type: ignore[no-untyped-def]
    rows, columns = nodes.shape
    for row in range(out.shape[0]):
        for column in range(out.shape[1]):
            best = np.float32(-3.0e38)
            for j in range(row * block, min(row * block + block + 1, rows)):
                for i in range(
                    column * block, min(column * block + block + 1, columns)
                ):
                    if nodes[j, i] > best:
                        best = nodes[j, i]
            out[row, column] = best


def build_pyramid(elevation_m: NDArray[np.float32]) -> Pyramid:
    """Build the pyramid of a height grid.

    Parameters
    ----------
    elevation_m : (rows, columns) float32 array
        Node heights [m], NaN where unknown; at least 2 by 2.

    Returns
    -------
    Pyramid

    Notes
    -----
    Costs a third of the grid's own memory.
    """
    nodes = np.ascontiguousarray(elevation_m, dtype=np.float32)
    unknown = ~np.isfinite(nodes)
    if unknown.any():
        nodes = np.where(unknown, HOLE_M, nodes)
    rows, columns = nodes.shape
    shape = ((rows - 1 + 1) // 2, (columns - 1 + 1) // 2)
    level = np.empty(shape, dtype=np.float32)
    _first_level(nodes, 2, level)
    levels = [level]
    while max(level.shape) > 1:
        padded = np.pad(
            level,
            ((0, level.shape[0] % 2), (0, level.shape[1] % 2)),
            constant_values=-np.inf,
        )
        level = padded.reshape(padded.shape[0] // 2, 2, padded.shape[1] // 2, 2).max(
            axis=(1, 3)
        )
        levels.append(level)
    sizes = np.array([0] + [part.size for part in levels], dtype=np.int64)
    starts = np.concatenate(([0], np.cumsum(sizes)[:-1]))
    offsets = starts.astype(np.int64)
    offsets[1:] = np.cumsum(sizes)[:-1]
    widths = np.array([0] + [part.shape[1] for part in levels], dtype=np.int64)
    maxima = np.concatenate([part.ravel() for part in levels])
    return Pyramid(nodes, maxima, offsets, widths, len(levels))
