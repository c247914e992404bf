"""Find the ridges that stand before others below the horizon.

*Symbols*: x0, y0 station's column and row; dx, dy step of a ray [cells]; t distance
along it [cells]; A, B, C a cell's tangent ``A/t + B + C t``.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numba
import numpy as np
from numpy.typing import NDArray

from wherestood.terrain.horizon import HorizonModel, nearest_start_m
from wherestood.terrain.rays import clip_to_grid, patch, ray_steps

__all__ = ["Ridges", "ridge_lines", "ridges_along"]

#: A ray is carried this far past a cell's edge, in cells, to be inside the next.
_NUDGE = 1e-7
_FAR = 1e30


@dataclass(frozen=True)
class Ridges:
    """Hold the ridges seen on each bearing, the horizon's own not among them.

    Attributes
    ----------
    tangent : (stations, bearings, most) float64 array
        Tangent of elevation of each edge, above the horizontal at the lens; nearest
        ridge first, NaN where there are fewer.
    distance_m : (stations, bearings, most) float64 array
        Distance of the edge [m].
    behind_m : (stations, bearings, most) float64 array
        Distance of the ground seen just above the edge [m].
    """

    tangent: NDArray[np.float64]
    distance_m: NDArray[np.float64]
    behind_m: NDArray[np.float64]


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _comes_into_sight(a, b, c, near, far, best):  # type: ignore[no-untyped-def]
    """Return where a patch first rises above ``best``, NaN if nowhere."""
    if a + (b - best + c * near) * near > 0.0:
        return near
    # Where A + (B - best) t + C t^2 = 0: the lesser root within the cell.
    slack = b - best
    if c == 0.0:
        where = -a / slack if slack > 0.0 else _FAR
        return where if near < where < far else np.nan
    inside = slack * slack - 4.0 * a * c
    if not inside > 0.0:
        return np.nan
    half = -0.5 * (slack + (sqrt(inside) if slack >= 0.0 else -sqrt(inside)))
    one = half / c
    other = a / half if half != 0.0 else one
    where = min(one, other)
    if not near < where < far:
        where = max(one, other)
    return where if near < where < far else np.nan


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _greatest(a, b, c, near, far):  # type: ignore[no-untyped-def]
    """Return a patch's greatest tangent from ``near`` to ``far``, its distance."""
    best = a / near + b + c * near
    at = near
    value = a / far + b + c * far
    if value > best:
        best = value
        at = far
    if a < 0.0 and c < 0.0:
        summit = sqrt(a / c)
        if near < summit < far:
            value = a / summit + b + c * summit
            if value > best:
                best = value
                at = summit
    return best, at


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _keep(found, count, tangent, at, behind):  # type: ignore[no-untyped-def]
    """Add an edge to ``found``; when full, drop that of the least depth jump."""
    row = count
    if count == found.shape[0]:
        least = behind / at
        row = -1
        for k in range(count):
            jump = found[k, 2] / found[k, 1]
            if jump < least:
                least = jump
                row = k
        if row < 0:
            return count
        # Nearest first: the later ones move up.
        for k in range(row, count - 1):
            found[k] = found[k + 1]
        row = count - 1
    else:
        count += 1
    found[row, 0] = tangent
    found[row, 1] = at
    found[row, 2] = behind
    return count


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _walk(  # type: ignore[no-untyped-def]
    nodes, x0, y0, z0, dx, dy, start, stop, kappa, farther, higher, found
):
    """Fill ``found`` with the ridges along one ray; lengths in cells."""
    last_i = nodes.shape[1] - 2
    last_j = nodes.shape[0] - 2
    inverse_x = 1.0 / dx if dx != 0.0 else _FAR
    inverse_y = 1.0 / dy if dy != 0.0 else _FAR
    ahead_x = 1 if dx > 0.0 else (2 if dx == 0.0 else 0)
    ahead_y = 1 if dy > 0.0 else (2 if dy == 0.0 else 0)
    best = -np.inf
    at = np.nan
    # An edge is only known for a ridge once the ground behind it has risen
    # clear of it, so one waits until then.
    edge_tangent = np.nan
    edge_at = np.nan
    edge_behind = np.nan
    count = 0
    t = start
    while t < stop:
        i = min(max(int(x0 + t * dx), 0), last_i)
        j = min(max(int(y0 + t * dy), 0), last_j)
        leave = min((ahead_x - (x0 - i)) * inverse_x, (ahead_y - (y0 - j)) * inverse_y)
        leave = min(max(leave, t), stop)
        a, b, c = patch(nodes, i, j, x0, y0, z0, dx, dy, kappa)
        if best == -np.inf:
            if np.isfinite(a):
                best, at = _greatest(a, b, c, t, leave)
        else:
            value, where = _greatest(a, b, c, t, leave)
            if value > best:
                seen = _comes_into_sight(a, b, c, t, leave, best)
                if seen > farther * at:
                    if edge_at > 0.0 and best - edge_tangent > higher:
                        count = _keep(found, count, edge_tangent, edge_at, edge_behind)
                    edge_tangent = best
                    edge_at = at
                    edge_behind = seen
                best = value
                at = where
        t = leave + _NUDGE
    if edge_at > 0.0 and best - edge_tangent > higher:
        count = _keep(found, count, edge_tangent, edge_at, edge_behind)
    return count


@numba.njit(cache=True, nogil=True, error_model="numpy")
def ridges_along(  # type: ignore[no-untyped-def]
    nodes, x, y, z, sine, cosine, start, stop, kappa, farther, higher, found
):
    """Fill ``found`` with the ridges along one bearing; lengths in cells.

    Rows of ``found`` are tangent times the cell's side, distance and distance of the
    ground behind in cells; those beyond the ridges found are left as they are.
    """
    begin, end = clip_to_grid(
        nodes.shape[0], nodes.shape[1], x, y, sine, cosine, start, stop
    )
    return _walk(
        nodes, x, y, z, sine, cosine, begin, end, kappa, farther, higher, found
    )


@numba.njit(cache=True, nogil=True, parallel=True, error_model="numpy")
def _many_stations(  # type: ignore[no-untyped-def]
    nodes, x, y, z, sines, cosines, start, stop, kappa, farther, higher, found
):
    for s in numba.prange(x.size):
        if not np.isfinite(x[s] + y[s] + z[s]):
            continue
        for k in range(sines.size):
            ridges_along(
                nodes, x[s], y[s], z[s], sines[k], cosines[k], start, stop, kappa,
                farther, higher, found[s, k],
            )  # fmt: skip


def ridge_lines(
    model: HorizonModel,
    east_m: NDArray[np.float64],
    north_m: NDArray[np.float64],
    height_m: NDArray[np.float64],
    bearings_rad: NDArray[np.float64],
    *,
    most: int = 4,
    farther_by: float = 1.2,
    higher_by: float = 1e-3,
    nearest_m: float | None = None,
    farthest_m: float = 30_000.0,
) -> Ridges:
    """Return the edges, below the horizon, where near ground hides farther ground.

    Parameters
    ----------
    model : HorizonModel
        The terrain.
    east_m, north_m, height_m : (stations,) float64 array
        Lens positions in the terrain's frame and datum [m].
    bearings_rad : (bearings,) float64 array
        Grid bearings, clockwise from grid north [rad].
    most : int
        Ridges kept on a bearing; those of the greatest jump in distance.
    farther_by : float
        Distance of the ground seen above an edge over the edge's own that makes it
        an edge, no unit, at least 1.
    higher_by : float
        Tangent by which what stands behind must rise above an edge for it to be
        seen as a line of its own, no unit.
    nearest_m : float, optional
        Distance at which rays start [m]; `nearest_start_m` by default.
    farthest_m : float
        Distance at which they stop, or where the grid ends [m].

    Returns
    -------
    Ridges
        All NaN on a bearing, or for a station without a place, that shows none.

    Raises
    ------
    ValueError
        If a bearing is not a number, ``most`` under 1, ``farther_by`` under 1, or
        ``nearest_m`` not above 0.

    Notes
    -----
    Along a ray the ground in sight is where the tangent rises above all nearer
    ones. It stops doing so at a ridge and goes on, farther away, where ground
    appears over the ridge's edge; the edge counts where that is farther by at least
    ``farther_by``. Exact on the bilinear surface; every cell of a ray is looked at,
    so it costs one visit a cell, 10 to 20 times as much as a horizon. A cell with an
    unknown node hides nothing, so that ridges beyond a hole may be ones that
    unknown ground hides.
    """
    terrain = model.terrain
    cell = terrain.cell_m
    start = nearest_start_m(cell) if nearest_m is None else nearest_m
    if not start > 0.0:
        raise ValueError(f"a ray must start beyond 0 m, not at {start} m")
    if most < 1 or not farther_by >= 1.0:
        raise ValueError(
            f"most and farther_by must be at least 1, not {most} and {farther_by}"
        )
    if not np.isfinite(bearings_rad).all():
        raise ValueError("every bearing must be a number")
    shape = (np.size(east_m), np.size(bearings_rad), most, 3)
    found = np.full(shape, np.nan)
    _many_stations(
        model.pyramid.nodes,
        (np.atleast_1d(east_m) - terrain.west_m) / cell,
        (np.atleast_1d(north_m) - terrain.south_m) / cell,
        np.atleast_1d(np.asarray(height_m, dtype=np.float64)),
        *ray_steps(bearings_rad),
        start / cell,
        farthest_m / cell,
        model.curvature_per_m * cell * cell,
        farther_by,
        higher_by * cell,
        found,
    )
    return Ridges(
        tangent=found[..., 0] / cell,
        distance_m=found[..., 1] * cell,
        behind_m=found[..., 2] * cell,
    )
