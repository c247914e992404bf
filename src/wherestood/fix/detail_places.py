"""Guess where details of unknown place may stand: where their rays meet the ground."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.items import Mark
from wherestood.evidence.placed import TERRAIN_SD_M, Candidates
from wherestood.fix.likely_cameras import LikelyCameras
from wherestood.fix.problem import Problem
from wherestood.terrain.ground import height_m

__all__ = ["places_of_detail"]

Array = NDArray[np.float64]

#: Rays are followed from here to there [m], each step this share of the way.
NEAREST_M, FARTHEST_M, STEP_SHARE = 30.0, 8000.0, 0.02
#: A ray that meets no ground is taken to end here: among what is usual [m].
USUAL_M = 600.0


def places_of_detail(
    problem: Problem,
    cameras: LikelyCameras,
    which: NDArray[np.int64],
    mark: Mark,
    sd_m: float,
) -> Candidates:
    """Return where a mark's ray meets the ground from some cameras, in their order.

    Parameters
    ----------
    which : (n,) int64 array
        The cameras.
    sd_m : float
        Standard error of the places, once somebody has found them [m].
    """
    bearing, tangent = _ray(problem, cameras, which, mark)
    steps = np.log(FARTHEST_M / NEAREST_M) / np.log1p(STEP_SHARE)
    along = NEAREST_M * (1.0 + STEP_SHARE) ** np.arange(int(steps) + 1)
    east = cameras.east_m[which, None] + np.sin(bearing)[:, None] * along
    north = cameras.north_m[which, None] + np.cos(bearing)[:, None] * along
    ray_m = cameras.lens_m[which, None] + tangent[:, None] * along
    ray_m = ray_m + problem.curvature_per_m * along**2
    ground_m = height_m(problem.terrain, east, north).astype(np.float64)
    under = np.isfinite(ground_m) & (ray_m <= ground_m)
    meets = under.any(axis=1)
    at = np.where(meets, under.argmax(axis=1), int(np.searchsorted(along, USUAL_M)))
    row = np.arange(len(which))
    level = np.zeros(len(which))
    return Candidates(
        (mark.id,) * len(which),
        ("",) * len(which),
        east[row, at],
        north[row, at],
        # Where it stands is where the ray is: its height is then looked up.
        ray_m[row, at],
        np.ones(len(which)),
        np.full(len(which), sd_m),
        level,
        np.full(len(which), TERRAIN_SD_M),
        level,
        level,
    )


def _ray(
    problem: Problem,
    cameras: LikelyCameras,
    which: NDArray[np.int64],
    mark: Mark,
) -> tuple[Array, Array]:
    """Return bearing [rad] and tangent of elevation of a mark from some cameras."""
    samples = problem.hands[0].samples
    theta = cameras.theta[which]
    turned = np.array([problem.hands[h].reversed for h in cameras.hand[which]])
    right_of = (mark.x_px - 0.5 * samples.width_px) / samples.diagonal_px
    x = np.where(turned, -right_of, right_of)
    y = (0.5 * samples.height_px - mark.y_px) / samples.diagonal_px
    across = x / (0.5 * samples.width_px / samples.diagonal_px)
    x_axis = x + theta[:, 5]
    y_axis = y * (1.0 + theta[:, 7]) + theta[:, 4]
    y_axis = y_axis + theta[:, 8] * (1.5 * across**2 - 0.5)
    y_axis = y_axis + theta[:, 9] * (2.5 * across**3 - 1.5 * across)
    lens = 1.0 + theta[:, 6] * 4.0 * (x_axis**2 + y_axis**2)
    x_axis, y_axis = x_axis * lens, y_axis * lens
    tilt, roll = theta[:, 2], theta[:, 3]
    right = x_axis * np.cos(roll) + y_axis * np.sin(roll)
    over = -x_axis * np.sin(roll) + y_axis * np.cos(roll)
    c = np.exp(theta[:, 1])
    forward = c * np.cos(tilt) - over * np.sin(tilt)
    up = c * np.sin(tilt) + over * np.cos(tilt)
    return theta[:, 0] + np.arctan2(right, forward), up / np.hypot(right, forward)
