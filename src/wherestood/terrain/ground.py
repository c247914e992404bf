"""Tell the height of the ground on which a camera may stand."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from wherestood.terrain.model import Terrain
from wherestood.terrain.resample import sample_bilinear

__all__ = ["StandingGround", "height_m", "smoothed_ground_m", "standing_ground"]

_DEFAULT_SD_M = 60.0
_REACH_SD = 4.0
# Less known ground than this under the bell, and the mean is a guess.
_LEAST_KNOWN_SHARE = 0.2

# In a surface model of a town or wood the lowest seventh of what stands around
# is street or clearing.
_LOW_SHARE = 0.15
_LOW_RADIUS_M = 75.0
_LOW_CELL_M = 15.0


@dataclass(frozen=True)
class StandingGround:
    """Hold the ground on which a camera may stand, ready to be asked often.

    Attributes
    ----------
    ground_m : (rows, columns) float32 array
        Heights [m], row 0 the southernmost; NaN where unknown.
    west_m, south_m : float
        Frame coordinates of node ``[0, 0]`` [m].
    cell_m : float
        Node spacing [m].
    """

    ground_m: NDArray[np.float32]
    west_m: float
    south_m: float
    cell_m: float

    def at(
        self, east_m: NDArray[np.float64], north_m: NDArray[np.float64]
    ) -> NDArray[np.float32]:
        """Return ground heights [m] at frame points [m]; NaN where unknown."""
        return sample_bilinear(
            self.ground_m,
            (np.asarray(east_m) - self.west_m) / self.cell_m,
            (np.asarray(north_m) - self.south_m) / self.cell_m,
        )


def height_m(
    terrain: Terrain, east_m: NDArray[np.float64], north_m: NDArray[np.float64]
) -> NDArray[np.float32]:
    """Return the heights of the bilinear surface itself.

    Parameters
    ----------
    terrain : Terrain
        The elevation model.
    east_m, north_m : float64 arrays of one shape
        Frame points [m].

    Returns
    -------
    float32 array
        Heights [m]; NaN where unknown.
    """
    whole = StandingGround(
        terrain.elevation_m, terrain.west_m, terrain.south_m, terrain.cell_m
    )
    return whole.at(east_m, north_m)


def smoothed_ground_m(
    terrain: Terrain,
    east_m: NDArray[np.float64],
    north_m: NDArray[np.float64],
    sd_m: float = _DEFAULT_SD_M,
) -> NDArray[np.float32]:
    """Return the ground on which a camera would stand at given points.

    The grid is smoothed anew on each call, around the points alone: to ask often,
    keep a :func:`standing_ground`.

    Parameters
    ----------
    terrain : Terrain
        The elevation model.
    east_m, north_m : float64 arrays of one shape
        Frame points [m].
    sd_m : float
        Standard deviation of the smoothing bell [m].

    Returns
    -------
    float32 array
        Heights [m]; NaN on unknown ground.
    """
    east, north = np.asarray(east_m), np.asarray(north_m)
    if east.size == 0:
        return np.empty(east.shape, dtype=np.float32)
    box = (
        float(np.nanmin(east)),
        float(np.nanmin(north)),
        float(np.nanmax(east)),
        float(np.nanmax(north)),
    )
    return standing_ground(terrain, sd_m, box_m=box).at(east, north)


def standing_ground(
    terrain: Terrain,
    sd_m: float = _DEFAULT_SD_M,
    *,
    box_m: tuple[float, float, float, float] | None = None,
) -> StandingGround:
    """Smooth an elevation model into ground on which a camera may stand.

    A camera stands on a path or a terrace that the model does not know, and the
    model's own noise must not lift it: a Gaussian-weighted mean of the known nodes
    serves for bare ground. Where heights are of tree and roof tops, the mean is
    lowered to the lowest seventh of what rises around it, slope taken off.

    Parameters
    ----------
    terrain : Terrain
        The elevation model.
    sd_m : float
        Standard deviation of the bell [m]; at least one source cell is used.
    box_m : (west, south, east, north), optional
        The part needed, frame coordinates [m]; all of it if left out.

    Returns
    -------
    StandingGround
        The ground; NaN where under a fifth of the bell is known.
    """
    sd = max(sd_m, terrain.cell_m, terrain.source_cell_m)
    reach = _REACH_SD * sd + _low_radius_m(terrain.cell_m)
    rows, columns = _slices(terrain, box_m, reach)
    heights = terrain.elevation_m[rows, columns]
    ground = _smoothed(heights, sd / terrain.cell_m)
    if terrain.surface == "top":
        ground += _low_share(heights - ground, terrain.cell_m)
    return StandingGround(
        ground,
        terrain.west_m + columns.start * terrain.cell_m,
        terrain.south_m + rows.start * terrain.cell_m,
        terrain.cell_m,
    )


def _slices(
    terrain: Terrain, box_m: tuple[float, float, float, float] | None, reach_m: float
) -> tuple[slice, slice]:
    rows, columns = terrain.elevation_m.shape
    if box_m is None:
        return slice(0, rows), slice(0, columns)

    def span(low_m: float, high_m: float, origin_m: float, count: int) -> slice:
        first = math.floor((low_m - reach_m - origin_m) / terrain.cell_m)
        last = math.ceil((high_m + reach_m - origin_m) / terrain.cell_m) + 1
        first = min(max(first, 0), count - 1)
        return slice(first, max(min(last, count), first + 1))

    west, south, east, north = box_m
    return (
        span(south, north, terrain.south_m, rows),
        span(west, east, terrain.west_m, columns),
    )


def _smoothed(heights_m: NDArray[np.float32], sd_cells: float) -> NDArray[np.float32]:
    """Return the Gaussian-weighted mean of the known nodes."""
    known = np.isfinite(heights_m)
    if known.all():
        return np.asarray(
            ndimage.gaussian_filter(heights_m, sd_cells, truncate=_REACH_SD)
        )
    # Beyond the grid nothing is known: constant zero weight, not a mirror.
    share = ndimage.gaussian_filter(
        known.astype(np.float32), sd_cells, mode="constant", truncate=_REACH_SD
    )
    total = ndimage.gaussian_filter(
        np.where(known, heights_m, np.float32(0.0)),
        sd_cells,
        mode="constant",
        truncate=_REACH_SD,
    )
    enough = share >= _LEAST_KNOWN_SHARE
    out = np.full(heights_m.shape, np.nan, dtype=np.float32)
    out[enough] = total[enough] / share[enough]
    return out


def _low_radius_m(cell_m: float) -> float:
    return max(_LOW_RADIUS_M, 1.5 * cell_m)


def _low_share(excess_m: NDArray[np.float32], cell_m: float) -> NDArray[np.float32]:
    """Return the low share of excess heights around each node.

    On fine grids it is worked out on every few nodes and spread bilinearly: it is
    the same for a whole neighbourhood.
    """
    stride = max(1, math.floor(_LOW_CELL_M / cell_m))
    sampled = excess_m[::stride, ::stride]
    unknown = np.isnan(sampled)
    radius = _low_radius_m(cell_m) / (cell_m * stride)
    reach = math.floor(radius)
    across = np.arange(-reach, reach + 1)
    disc = np.hypot(across[:, None], across[None, :]) <= radius
    # Unknown nodes rank as level with the mean, neither roof nor street.
    low = ndimage.percentile_filter(
        np.where(unknown, np.float32(0.0), sampled), 100.0 * _LOW_SHARE, footprint=disc
    )
    if stride == 1:
        return np.asarray(low)
    rows, columns = excess_m.shape
    row, column = np.meshgrid(
        np.minimum(np.arange(rows) / stride, low.shape[0] - 1.0),
        np.minimum(np.arange(columns) / stride, low.shape[1] - 1.0),
        indexing="ij",
    )
    return sample_bilinear(low, column, row)
