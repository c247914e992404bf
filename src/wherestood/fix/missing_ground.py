"""Find where the elevation model ends before hills that might matter.

Symbols: t the horizon's tangent; D where the model ends [m]; z_s the lens's height [m];
kappa the drop over distance squared [1/m].

A hill of ``z_s + t D + kappa D^2`` at D stands as high in the picture as the horizon
that the model has. Hills so high are to be expected if the model has any.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from wherestood.fix.answers import Chosen
from wherestood.fix.checked import MissingGround
from wherestood.fix.problem import Problem
from wherestood.fix.view import directions_in_view, known_along
from wherestood.terrain.horizon import nearest_start_m

__all__ = ["MOST", "missing_ground"]

Array = NDArray[np.float64]

#: Narrower stretches of the view than this are not told of [deg].
LEAST_WIDE_DEG = 1.0
#: No more stretches than this, the most telling first.
MOST = 3


def missing_ground(problem: Problem, chosen: Chosen) -> tuple[MissingGround, ...]:
    """Return which elevation beyond the model would matter for a skyline.

    None without a skyline: then no hill beyond counts.
    """
    if not problem.has_skyline:
        return ()
    bearing = directions_in_view(problem, chosen)
    farthest_m = problem.settings.horizon_radius_m
    nearest_m = nearest_start_m(problem.terrain.source_cell_m)
    along_m = np.arange(nearest_m, farthest_m, problem.terrain.cell_m)
    known = known_along(problem, chosen, bearing, along_m)
    last = known.shape[1] - np.argmax(known[:, ::-1], axis=1) - 1
    ends_m = np.where(known.any(axis=1), along_m[last], nearest_m)
    east_m, north_m, lens_m = chosen.cell_m[:, None]
    seen = problem.maker.model.horizons(
        east_m,
        north_m,
        lens_m,
        bearing,
        nearest_m=nearest_m,
        farthest_m=farthest_m,
    )
    tangent = np.where(np.isfinite(seen.tangent[0]), seen.tangent[0], 0.0)
    hill_m = lens_m + tangent * ends_m + problem.curvature_per_m * ends_m**2
    highest_m = float(np.nanmax(problem.terrain.elevation_m))
    matters = (last < known.shape[1] - 2) & (hill_m <= highest_m)
    convergence = problem.terrain.frame.convergence_deg(
        chosen.station.lon_deg, chosen.station.lat_deg
    )
    found = [
        _stretch(bearing[run], ends_m[run], hill_m[run], convergence)
        for run in _runs(matters)
    ]
    wide = [one for one in found if one.wide_deg >= LEAST_WIDE_DEG]
    return tuple(sorted(wide, key=lambda one: one.hill_m)[:MOST])


def _runs(matters: NDArray[np.bool_]) -> list[slice]:
    edges = np.flatnonzero(np.diff(np.concatenate(([0], matters.astype(int), [0]))))
    return [slice(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _stretch(
    bearing: Array, ends_m: Array, hill_m: Array, convergence_deg: float
) -> MissingGround:
    turn = np.degrees(np.unwrap(bearing))
    return MissingGround(
        float(0.5 * (turn[0] + turn[-1]) + convergence_deg) % 360.0,
        float(abs(turn[-1] - turn[0])) * len(turn) / max(len(turn) - 1, 1),
        float(ends_m.min()),
        math.ceil(float(hill_m.min())),
    )
