"""Turn an elevation model into the ground of other years.

Every change has a chance to have held, and the surface is the mean over those that
may have: a hill that stood there for certain is whole, one that may have stood there
is half a hill as doubtful as its height.

Symbols: d_i difference of a state from the model, s_i its doubt, p_i its chance. The
mean is sum p_i d_i. With q_i = p_i times the trust in the telling, its variance is
sum q_i (s_i^2 + d_i^2 - 2 p_i d_i^2) + (p_i d_i)^2, less 2 p_i p_j d_i d_j where two
cannot both have held.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.linalg import spsolve
from shapely.geometry.base import BaseGeometry

from wherestood.errors import TerrainError
from wherestood.terrain.model import Terrain

__all__ = ["GroundAsItWas", "GroundChange", "ground_as_it_was"]

#: More nodes than this are too many to stretch a skin over.
_MOST_SKIN_NODES = 400_000
#: A state as likely as this is taken to have held: water then is water.
_AS_GOOD_AS_SURE = 0.5
_Window = tuple[slice, slice]


@dataclass(frozen=True)
class GroundChange:
    """Hold one state of the ground in the terrain's frame.

    Attributes
    ----------
    name : str
        What to call it.
    shape : shapely Polygon or MultiPolygon
        Where, frame coordinates [m].
    change : str
        ``raise``, ``lower`` and ``cover`` add ``amount_m``, ``flatten`` and ``flood``
        put the ground at it, ``cut`` stretches a skin over the edge.
    amount_m, sd_m : float
        The number and the standard error of what comes of it [m].
    chance : float
        Probability that it held then, by its dates.
    trust : float
        Probability that it is told rightly at all: it widens the doubt alone.
    excludes : frozenset of str
        Names of the states that cannot have held at the same time.
    """

    name: str
    shape: BaseGeometry
    change: str
    amount_m: float
    sd_m: float
    chance: float
    trust: float = 1.0
    excludes: frozenset[str] = frozenset()


@dataclass(frozen=True)
class GroundAsItWas:
    """Hold a changed terrain.

    Attributes
    ----------
    terrain : Terrain
        With the changes in its heights, and water where it was.
    standing : Terrain
        The same without trees: what a camera stands on.
    doubt_m : (rows, columns) float32 array
        Standard error that the changes bring [m].
    reached : tuple of (rows, columns) slices and (rows, columns) bool arrays
        For each change its window of the grid and the known nodes in it that it
        reaches; none where it lies between nodes or off the grid.
    """

    terrain: Terrain
    standing: Terrain
    doubt_m: NDArray[np.float32]
    reached: tuple[tuple[_Window, NDArray[np.bool_]], ...]

    def covers(
        self, number: int, east_m: NDArray[np.float64], north_m: NDArray[np.float64]
    ) -> NDArray[np.bool_]:
        """Say which frame points [m] lie nearest to a node that a change reaches."""
        (rows, columns), inside = self.reached[number]
        terrain = self.terrain
        column = np.nan_to_num((east_m - terrain.west_m) / terrain.cell_m, nan=-9.0)
        row = np.nan_to_num((north_m - terrain.south_m) / terrain.cell_m, nan=-9.0)
        j = np.rint(row).astype(int) - rows.start
        i = np.rint(column).astype(int) - columns.start
        within = (j >= 0) & (j < inside.shape[0]) & (i >= 0) & (i < inside.shape[1])
        found = np.zeros(np.shape(east_m), dtype=np.bool_)
        found[within] = inside[j[within], i[within]]
        return found


def ground_as_it_was(
    terrain: Terrain, changes: Sequence[GroundChange]
) -> GroundAsItWas:
    """Return a terrain with changes in it.

    Parameters
    ----------
    terrain : Terrain
        As its files have it; it stays as it is.
    changes : sequence of GroundChange
        What may have been otherwise.

    Raises
    ------
    TerrainError
        If a skin would be too large, or has no known edge.
    """
    before = terrain.elevation_m
    mean = np.zeros(before.shape)
    trees = np.zeros(before.shape)
    variance = np.zeros(before.shape)
    water = None if terrain.water is None else terrain.water.copy()
    reached, differences = [], []
    for change in changes:
        window, inside = _nodes_within(terrain, change)
        differs = np.zeros(inside.shape)
        if inside.any():
            differs = _difference(before, window, inside, change)
        reached.append((window, inside))
        differences.append(differs)
        share = change.chance * differs
        (trees if change.change == "cover" else mean)[window] += share
        held = change.chance * change.trust
        variance[window] += (
            held * (change.sd_m**2 * inside + differs**2 - 2.0 * differs * share)
            + share**2
        )
        if change.change == "flood" and change.chance >= _AS_GOOD_AS_SURE:
            water = np.zeros(before.shape, dtype=np.bool_) if water is None else water
            water[window] |= inside
    _take_off_exclusive(changes, reached, differences, variance)
    ground = (before + mean).astype(np.float32)
    standing = replace(terrain, elevation_m=ground, water=water)
    whole = replace(standing, elevation_m=(ground + trees).astype(np.float32))
    doubt_m = np.sqrt(np.maximum(np.nan_to_num(variance), 0.0)).astype(np.float32)
    return GroundAsItWas(whole, standing, doubt_m, tuple(reached))


def _nodes_within(
    terrain: Terrain, change: GroundChange
) -> tuple[_Window, NDArray[np.bool_]]:
    """Return the window of the grid about a shape, and the nodes in it."""
    rows, columns = terrain.elevation_m.shape
    west, south, east, north = change.shape.bounds
    cell = terrain.cell_m
    first = max(0, int(np.floor((west - terrain.west_m) / cell)))
    last = min(columns, int(np.ceil((east - terrain.west_m) / cell)) + 1)
    low = max(0, int(np.floor((south - terrain.south_m) / cell)))
    high = min(rows, int(np.ceil((north - terrain.south_m) / cell)) + 1)
    window = (slice(low, max(low, high)), slice(first, max(first, last)))
    i, j = np.meshgrid(np.arange(first, last), np.arange(low, high))
    inside = np.zeros(i.shape, dtype=np.bool_)
    if i.size:
        shapely.prepare(change.shape)
        inside = shapely.contains_xy(
            change.shape, terrain.west_m + i * cell, terrain.south_m + j * cell
        )
        inside &= np.isfinite(terrain.elevation_m[window])
    return window, inside


def _difference(
    heights: NDArray[np.float32],
    window: _Window,
    inside: NDArray[np.bool_],
    change: GroundChange,
) -> NDArray[np.float64]:
    """Return how a state differs from the model over its window [m], 0 outside it."""
    now = heights[window].astype(np.float64)
    if change.change in ("raise", "lower", "cover"):
        return np.where(inside, change.amount_m, 0.0)
    if change.change in ("flatten", "flood"):
        return np.where(inside, change.amount_m - now, 0.0)
    return np.where(inside, _skin(heights, window, inside, change.name) - now, 0.0)


def _skin(
    heights: NDArray[np.float32],
    window: _Window,
    inside: NDArray[np.bool_],
    name: str,
) -> NDArray[np.float64]:
    """Return the surface on which every inner node is the mean of its neighbours.

    Solved for the nodes inside; those outside keep their heights. A neighbour that is
    not known pulls no way.
    """
    count = int(inside.sum())
    if count > _MOST_SKIN_NODES:
        raise TerrainError(
            f"The changed ground {name!r} holds {count} nodes, too many to be cut to "
            "the surface between its edges.",
            "Draw it smaller, or flatten it to a height.",
        )
    rows, columns = window
    wide = np.pad(inside, 1)
    number = np.full(wide.shape, -1)
    number[wide] = np.arange(count)
    j, i = np.nonzero(wide)
    entries_row, entries_column, weights = [], [], []
    known_sum, known_count = np.zeros(count), np.zeros(count)
    edges = 0
    for dj, di in ((0, 1), (0, -1), (1, 0), (-1, 0)):
        other = number[j + dj, i + di]
        grid_j, grid_i = j + dj - 1 + rows.start, i + di - 1 + columns.start
        on_grid = (
            (grid_j >= 0)
            & (grid_j < heights.shape[0])
            & (grid_i >= 0)
            & (grid_i < heights.shape[1])
        )
        height = np.full(count, np.nan)
        height[on_grid] = heights[grid_j[on_grid], grid_i[on_grid]]
        inner, edge = other >= 0, (other < 0) & np.isfinite(height)
        known_count += inner | edge
        known_sum[edge] += height[edge]
        edges += int(edge.sum())
        entries_row.append(np.flatnonzero(inner))
        entries_column.append(other[inner])
        weights.append(np.full(int(inner.sum()), -1.0))
    if edges == 0:
        raise TerrainError(
            f"The changed ground {name!r} has no known ground about it to stretch a "
            "surface from.",
            "Flatten it to a height instead.",
        )
    diagonal = np.arange(count)
    matrix = coo_array(
        (
            np.concatenate([*weights, np.maximum(known_count, 1e-9)]),
            (
                np.concatenate([*entries_row, diagonal]),
                np.concatenate([*entries_column, diagonal]),
            ),
        ),
        shape=(count, count),
    ).tocsc()
    skin = np.zeros(inside.shape)
    skin[inside] = spsolve(matrix, known_sum)
    return skin


def _take_off_exclusive(
    changes: Sequence[GroundChange],
    reached: Sequence[tuple[_Window, NDArray[np.bool_]]],
    differences: Sequence[NDArray[np.float64]],
    variance: NDArray[np.float64],
) -> None:
    """Lessen the variance where two states cannot both have held."""
    for first, one in enumerate(changes):
        for second in range(first + 1, len(changes)):
            other = changes[second]
            if other.name not in one.excludes:
                continue
            shared = np.zeros((2, *variance.shape), dtype=np.float32)
            for k, number in enumerate((first, second)):
                shared[k][reached[number][0]] = differences[number]
            variance -= 2.0 * one.chance * other.chance * shared[0] * shared[1]
