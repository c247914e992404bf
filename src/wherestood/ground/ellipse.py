"""Find the ellipse that holds a share of points, such as places a ray may meet."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["HELD", "Ellipses", "ellipses_about"]

Array = NDArray[np.float64]
#: Share that an ellipse holds.
HELD = 0.9
#: No ellipse is thinner than this [m]: digits of float heights end there.
_LEAST_M = 1e-3


@dataclass(frozen=True)
class Ellipses:
    """Hold ellipses that hold 9 in 10 of the places possible.

    Attributes
    ----------
    east_m, north_m : (n,) float64 array
        Middles [m].
    major_m, minor_m : (n,) float64 array
        Half axes [m]; NaN where too few points are known.
    turn_rad : (n,) float64 array
        Grid bearing of the longer axis, 0 to pi [rad].
    central : (n,) int64 array
        Which of the points lies most in the middle.
    """

    east_m: Array
    north_m: Array
    major_m: Array
    minor_m: Array
    turn_rad: Array
    central: NDArray[np.int64]

    def holds(self, east_m: Array, north_m: Array) -> NDArray[np.bool_]:
        """Say which of (n,) points lie inside, each its own ellipse."""
        east, north = east_m - self.east_m, north_m - self.north_m
        sine, cosine = np.sin(self.turn_rad), np.cos(self.turn_rad)
        along = (east * sine + north * cosine) / self.major_m
        across = (east * cosine - north * sine) / self.minor_m
        return np.asarray(along**2 + across**2 <= 1.0)


def ellipses_about(east_m: Array, north_m: Array) -> Ellipses:
    """Return the ellipses that hold `HELD` of all draws, the missing ones outside.

    Parameters
    ----------
    east_m, north_m : (draws, n) float64 array
        Places; NaN for draws that have none.

    Notes
    -----
    The shape is the covariance of the nearer nine tenths, so that a few draws on a
    farther hill do not spoil it. The size is no normal law's but that which just holds
    the share: of n + 1 draws alike, the truth one of them, ``ceil(0.9 (n + 1))`` lie
    within the distance of that rank.
    """
    points = np.stack((east_m, north_m), axis=-1).astype(np.float64)
    known = np.asarray(np.isfinite(points).all(axis=-1))
    draws, count = known.shape
    rank = min(math.ceil(HELD * (draws + 1)), draws)
    with np.errstate(invalid="ignore", divide="ignore"):
        middle, covariance = _spread(points, known)
        first = _distance2(points, middle, covariance, known)
        near = first <= np.sort(first, axis=0)[rank - 1]
        middle, covariance = _spread(points, known & near)
        second = _distance2(points, middle, covariance, known)
        reach2 = np.sort(second, axis=0)[rank - 1]
    enough = np.isfinite(reach2)
    covariance[~enough] = np.eye(2)
    value, vector = np.linalg.eigh(covariance)
    half = np.sqrt(np.maximum(value, 0.0) * np.where(enough, reach2, np.nan)[:, None])
    half = np.maximum(half, _LEAST_M)
    turn = np.arctan2(vector[:, 0, 1], vector[:, 1, 1]) % np.pi
    second[~np.isfinite(second)] = np.inf
    return Ellipses(
        middle[:, 0],
        middle[:, 1],
        half[:, 1],
        half[:, 0],
        turn,
        np.argmin(second, axis=0).reshape(count),
    )


def _spread(points: Array, which: NDArray[np.bool_]) -> tuple[Array, Array]:
    weight = which / which.sum(axis=0)
    kept = np.where(which[..., None], points, 0.0)
    middle = np.einsum("dn,dnp->np", weight, kept)
    off = np.where(which[..., None], points - middle, 0.0)
    covariance = np.einsum("dn,dnp,dnq->npq", weight, off, off)
    return middle, covariance + _LEAST_M**2 * np.eye(2)


def _distance2(
    points: Array, middle: Array, covariance: Array, known: NDArray[np.bool_]
) -> Array:
    whole = np.asarray(np.isfinite(covariance).all(axis=(1, 2)))
    inverse = np.linalg.inv(np.where(whole[:, None, None], covariance, np.eye(2)))
    off = points - middle
    found = np.einsum("dnp,npq,dnq->dn", off, inverse, off)
    return np.where(known & whole, found, np.inf)
