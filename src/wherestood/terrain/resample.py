"""Sample heights between the nodes of a grid.

Symbols: t fractional position between two nodes, 0 to 1; w the four weights.
Bilinear resampling planes off crests, so it serves only beside unknown ground.

References
----------
R. G. Keys, "Cubic convolution interpolation for digital image processing",
IEEE Trans. ASSP 29(6), 1981, with a = -1/2: exact on quadratic surfaces.
"""

from __future__ import annotations

import numba
import numpy as np
from numpy.typing import NDArray

__all__ = ["sample_bilinear", "sample_cubic"]

# Rounding of coordinates must not make a node on the rim fall off the grid.
_SNAP_CELLS = 1e-6


def sample_cubic(
    heights_m: NDArray[np.float32],
    column: NDArray[np.float64],
    row: NDArray[np.float64],
) -> NDArray[np.float32]:
    """Sample heights between nodes, cubic where all 16 nodes around are known.

    Parameters
    ----------
    heights_m : (rows, columns) float32 array
        Heights at whole columns and rows [m]; NaN where unknown.
    column, row : float64 arrays of one shape
        Positions in nodes.

    Returns
    -------
    float32 array, shape of ``column``
        Heights [m]: bilinear where only the nearest four nodes are known, NaN where
        one of those with weight is not, and outside the grid.
    """
    return _sampled(heights_m, column, row, True)


def sample_bilinear(
    heights_m: NDArray[np.float32],
    column: NDArray[np.float64],
    row: NDArray[np.float64],
) -> NDArray[np.float32]:
    """Sample the bilinear surface through the nodes; else as `sample_cubic`."""
    return _sampled(heights_m, column, row, False)


def _sampled(
    heights_m: NDArray[np.float32],
    column: NDArray[np.float64],
    row: NDArray[np.float64],
    cubic: bool,
) -> NDArray[np.float32]:
    out = np.empty(np.shape(column), dtype=np.float32)
    _sample(
        np.ascontiguousarray(heights_m, dtype=np.float32),
        np.ascontiguousarray(column, dtype=np.float64).ravel(),
        np.ascontiguousarray(row, dtype=np.float64).ravel(),
        cubic,
        out.reshape(-1),
    )
    return out


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _weights(t, w):  # type: ignore[no-untyped-def]
    w[0] = ((-0.5 * t + 1.0) * t - 0.5) * t
    w[1] = (1.5 * t - 2.5) * t * t + 1.0
    w[2] = ((-1.5 * t + 2.0) * t + 0.5) * t
    w[3] = (0.5 * t - 0.5) * t * t


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _corner(heights, row, column, weight):  # type: ignore[no-untyped-def]
    # A corner without weight may be unknown or off the grid.
    if weight == 0.0:
        return 0.0
    if row < 0 or column < 0 or row >= heights.shape[0] or column >= heights.shape[1]:
        return np.nan
    return weight * heights[row, column]


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _bilinear(heights, row, column, up, right):  # type: ignore[no-untyped-def]
    return (
        _corner(heights, row, column, (1.0 - up) * (1.0 - right))
        + _corner(heights, row, column + 1, (1.0 - up) * right)
        + _corner(heights, row + 1, column, up * (1.0 - right))
        + _corner(heights, row + 1, column + 1, up * right)
    )


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _cubic(heights, row, column, along, across):  # type: ignore[no-untyped-def]
    total = 0.0
    for j in range(4):
        line = 0.0
        for k in range(4):
            line += across[k] * heights[row - 1 + j, column - 1 + k]
        total += along[j] * line
    return total


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _snapped(position):  # type: ignore[no-untyped-def]
    nearest = np.rint(position)
    return nearest if abs(position - nearest) < _SNAP_CELLS else position


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _sample(heights, columns, rows, cubic, out):  # type: ignore[no-untyped-def]
    tall, wide = heights.shape
    across = np.empty(4)
    along = np.empty(4)
    for i in range(out.size):
        out[i] = np.nan
        if not (-1.0 < columns[i] < wide and -1.0 < rows[i] < tall):
            continue
        c, r = _snapped(columns[i]), _snapped(rows[i])
        c0, r0 = int(np.floor(c)), int(np.floor(r))
        if cubic and 1 <= c0 < wide - 2 and 1 <= r0 < tall - 2:
            _weights(c - c0, across)
            _weights(r - r0, along)
            out[i] = _cubic(heights, r0, c0, along, across)
        if np.isnan(out[i]):
            out[i] = _bilinear(heights, r0, c0, r - r0, c - c0)
