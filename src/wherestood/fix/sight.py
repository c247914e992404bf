"""Say where the frame's centre looks, and how well that is known.

The lens axis is poorly known: tilt and rise, bearing and cross do much the same to a
picture. What they do together, the sight, the skyline itself fixes.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.spread import camera_covariances
from wherestood.evidence.unknowns import CAMERA, UNKNOWNS
from wherestood.fix.cells import Cells, stations_of
from wherestood.fix.problem import Hand, Problem

__all__ = ["INDEX", "sight_of", "sight_variances"]

Array = NDArray[np.float64]
INDEX = {name: number for number, name in enumerate(UNKNOWNS)}
#: Step of the difference quotients: the sight is smooth on this scale [rad].
_STEP = 1e-5


def sight_of(theta: Array) -> tuple[Array, Array]:
    """Return bearing and elevation [rad] of the frame's centre."""
    c = np.exp(theta[..., INDEX["log_distance"]])
    x = theta[..., INDEX["cross"]]
    y = theta[..., INDEX["rise"]]
    tilt, roll = theta[..., INDEX["tilt"]], theta[..., INDEX["roll"]]
    a = x * np.cos(roll) + y * np.sin(roll)
    e = -x * np.sin(roll) + y * np.cos(roll)
    forward = c * np.cos(tilt) - e * np.sin(tilt)
    up = c * np.sin(tilt) + e * np.cos(tilt)
    bearing = theta[..., 0] + np.arctan2(a, forward)
    return bearing, np.arctan2(up, np.hypot(a, forward))


def sight_gradient(theta: Array) -> Array:
    """Return how bearing and elevation of the sight go with each unknown.

    Returns
    -------
    (..., 2, unknowns) float64 array
    """
    gradient = np.zeros((*theta.shape[:-1], 2, theta.shape[-1]))
    for unknown in range(CAMERA):
        moved = np.zeros(theta.shape[-1])
        moved[unknown] = _STEP
        above, below = sight_of(theta + moved), sight_of(theta - moved)
        for row in range(2):
            change = (above[row] - below[row]) / (2.0 * _STEP)
            gradient[..., row, unknown] = change
    return gradient


def sight_variances(
    problem: Problem, hand: Hand, cells: Cells, theta: Array
) -> tuple[Array, Array]:
    """Return variances of the sight's bearing and elevation at cells [rad2].

    Parameters
    ----------
    theta : (cells, unknowns) float64 array
        The camera of each cell.
    """
    variances = np.empty((len(theta), 2))
    for side in np.unique(cells.side_m):
        which = np.flatnonzero(cells.side_m == side)
        prior_sd = problem.prior_sd.copy()
        prior_sd[-2:] = side / math.sqrt(12.0)
        part = cells.take(which)
        profiles = problem.profiles(part.east_m, part.north_m)
        seen = problem.seen.mirrored() if hand.reversed else problem.seen
        covariance = camera_covariances(
            theta[which],
            hand.samples,
            profiles,
            problem.curvature_per_m,
            problem.prior_mean,
            prior_sd,
            problem.lens.limits,
            problem.noise,
            seen,
            seen.aims(stations_of(problem, part, profiles)),
        )
        gradient = sight_gradient(theta[which])
        variances[which] = np.einsum("nrp,npq,nrq->nr", gradient, covariance, gradient)
    return variances[:, 0], variances[:, 1]
