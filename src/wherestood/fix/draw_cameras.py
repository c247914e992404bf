"""Draw cameras of a fix by their probabilities."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.unknowns import UNKNOWNS
from wherestood.fix.camera_draws import CameraDraws
from wherestood.fix.likely_cameras import LikelyCameras
from wherestood.fix.problem import Problem

__all__ = ["DRAWS", "draw_cameras"]

Array = NDArray[np.float64]
#: So many tell a 90% region to 2% and a standard error to 4%.
DRAWS = 300
_INDEX = {name: number for number, name in enumerate(UNKNOWNS)}


def draw_cameras(
    problem: Problem,
    cameras: LikelyCameras,
    rng: np.random.Generator,
    count: int = DRAWS,
) -> CameraDraws:
    """Draw cameras by their probabilities, each within its own doubt.

    Parameters
    ----------
    problem : Problem
        What was searched.
    cameras : LikelyCameras
        The likeliest, with covariances.
    rng : numpy.random.Generator
        Where chance comes from.
    count : int
        How many are drawn.

    Notes
    -----
    Which camera each is of is drawn systematically, so that places come as often as
    they are probable. Within a camera all unknowns are normal, its place in the cell
    included; that is held inside the cell, and the lens inside its limits.
    """
    which = _systematic(cameras.weight, count, rng)
    theta = np.empty((count, len(UNKNOWNS)))
    for camera in np.unique(which):
        rows = np.flatnonzero(which == camera)
        spread = _root(cameras.covariance[camera])
        theta[rows] = (
            cameras.theta[camera]
            + rng.standard_normal((rows.size, spread.shape[0])) @ spread
        )
    half = 0.5 * cameras.side_m[which]
    place = np.clip(theta[:, -2:], -half[:, None], half[:, None])
    limits = problem.lens.limits
    samples = problem.hands[0].samples
    diagonal = samples.diagonal_px

    def of(name: str) -> Array:
        return np.asarray(theta[:, _INDEX[name]])

    hand = cameras.hand[which]
    return CameraDraws(
        cameras.east_m[which] + place[:, 0],
        cameras.north_m[which] + place[:, 1],
        cameras.lens_m[which] + rng.normal(0.0, cameras.lens_sd_m, count),
        of("bearing"),
        of("tilt"),
        of("roll"),
        np.exp(np.clip(of("log_distance"), *limits)) * diagonal,
        of("rise") * diagonal,
        of("cross") * diagonal,
        of("radial"),
        of("vertical_scale"),
        of("warp_two") * diagonal,
        of("warp_three") * diagonal,
        np.array([problem.hands[h].reversed for h in hand], dtype=np.bool_),
    )


def _systematic(
    weight: Array, count: int, rng: np.random.Generator
) -> NDArray[np.int64]:
    """Return which is drawn, each as often as its weight says, to within one."""
    at = (np.arange(count) + rng.uniform()) / count
    drawn = np.searchsorted(np.cumsum(weight / weight.sum()), at)
    chosen = np.minimum(drawn, len(weight) - 1)
    return np.asarray(rng.permutation(chosen), dtype=np.int64)


def _root(covariance: Array) -> Array:
    """Return rows whose squares make up a covariance, rounding taken off."""
    # Radians beside metres: each unknown in its own standard errors first.
    sd = np.sqrt(np.maximum(np.diag(covariance), 1e-300))
    value, vector = np.linalg.eigh(0.5 * (covariance + covariance.T) / np.outer(sd, sd))
    return np.asarray((vector * np.sqrt(np.maximum(value, 0.0))).T * sd)
