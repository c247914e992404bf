"""Say which of many points of the ground can be seen from a place."""

from __future__ import annotations

import numba
import numpy as np
from numpy.typing import NDArray

from wherestood.terrain.meet import GROUND, HOLE, NEAR, SolidGround, walk_to_ground

__all__ = ["in_sight"]

#: A sight line ends this far before its point [cells]: the point's own node hides
#: nothing.
_BEFORE = 1e-3


@numba.njit(cache=True, nogil=True, parallel=True, error_model="numpy")
def _look(  # type: ignore[no-untyped-def]
    nodes, lids, unknown, down, top, highest, cell_m, x0, y0, z0, x, y, z, kappa,
    start, stop, seen,
):  # fmt: skip
    for k in numba.prange(x.size):
        dx = x[k] - x0
        dy = y[k] - y0
        away = np.sqrt(dx * dx + dy * dy)
        if not away <= stop or np.isnan(z[k]):
            seen[k] = 0
            continue
        if away <= start + _BEFORE:
            seen[k] = 1
            continue
        tangent = (z[k] - z0 - kappa * away * away) / away
        what, _, _ = walk_to_ground(
            nodes, lids, unknown, down, top, highest, cell_m, x0, y0, z0, dx / away,
            dy / away, tangent, kappa, start, away - _BEFORE,
        )  # fmt: skip
        seen[k] = 0 if what in (GROUND, NEAR, HOLE) else 1


def in_sight(
    ground: SolidGround,
    place_m: tuple[float, float, float],
    east_m: NDArray[np.float64],
    north_m: NDArray[np.float64],
    height_m: NDArray[np.float64],
    *,
    nearest_m: float = 0.0,
    farthest_m: float = 30_000.0,
) -> NDArray[np.bool_]:
    """Return which points show from a place, over the bilinear surface.

    Parameters
    ----------
    ground : SolidGround
        The terrain.
    place_m : (east, north, height)
        The eye, in the terrain's frame and datum [m].
    east_m, north_m, height_m : float64 arrays of one shape
        The points [m]; one of unknown height is not seen.
    nearest_m : float
        Ground nearer than this hides nothing [m].
    farthest_m : float
        Nothing farther is seen [m].

    Returns
    -------
    bool array
        A point that unknown ground may hide is not seen.
    """
    terrain, pyramid = ground.model.terrain, ground.pyramid
    cell = terrain.cell_m
    east_m, north_m, height_m = np.broadcast_arrays(east_m, north_m, height_m)
    x = np.array((east_m - terrain.west_m) / cell, dtype=np.float64).ravel()
    y = np.array((north_m - terrain.south_m) / cell, dtype=np.float64).ravel()
    z = np.array(height_m, dtype=np.float64).ravel()
    seen = np.empty(x.size, dtype=np.uint8)
    _look(
        pyramid.nodes, pyramid.lids, ground.unknown, pyramid.down, pyramid.top,
        ground.highest_m, cell, (place_m[0] - terrain.west_m) / cell,
        (place_m[1] - terrain.south_m) / cell, place_m[2], x, y, z,
        ground.model.curvature_per_m * cell * cell, nearest_m / cell,
        farthest_m / cell, seen,
    )  # fmt: skip
    return seen.astype(np.bool_).reshape(east_m.shape)
