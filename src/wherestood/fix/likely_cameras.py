"""Gather the likeliest cameras of a fix, each with its own doubt."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.directions import Directions, directions
from wherestood.evidence.placed import Candidates
from wherestood.evidence.spread import camera_covariances
from wherestood.evidence.stations import Stations
from wherestood.fix.cells import stations_of
from wherestood.fix.kept_ground import Weighing
from wherestood.fix.problem import Problem

__all__ = ["LikelyCameras", "likely_cameras"]

Array = NDArray[np.float64]

#: Cameras at most, and the share of the probability that is enough.
MOST = 240
ENOUGH = 0.995


@dataclass(frozen=True)
class LikelyCameras:
    """Hold cameras with their probabilities.

    Attributes
    ----------
    weight : (n,) float64 array
        Probability of each; sums to one.
    cell : (n,) int64 array
        Which cell of the weighing each stands at.
    hand : (n,) int64 array
        Which way round the plate is.
    theta, covariance : (n, unknowns), (n, unknowns, unknowns) float64 array
        Each camera and how far it may be off, its place in the cell included.
    east_m, north_m, lens_m, side_m : (n,) float64 array
        Middle of the cell, height of the lens, side of the cell [m].
    lens_sd_m : float
        Standard error of the lens's height [m].
    """

    weight: Array
    cell: NDArray[np.int64]
    hand: NDArray[np.int64]
    theta: Array
    covariance: Array
    east_m: Array
    north_m: Array
    lens_m: Array
    side_m: Array
    lens_sd_m: float

    @property
    def count(self) -> int:
        """Return how many there are."""
        return len(self.weight)

    def directions(self, problem: Problem, points: Candidates) -> Directions:
        """Return where points lie, as (cameras, points), from each one's own place.

        A camera's place in its cell moves the direction as it moved the marks.
        """
        refraction = problem.terrain.refraction
        seen = directions(
            Stations(
                self.east_m,
                self.north_m,
                self.lens_m,
                radius_m=(1.0 - refraction) / (2.0 * problem.curvature_per_m),
                refraction=refraction,
                lens_sd_m=self.lens_sd_m,
            ),
            points,
        )
        east, north = self.theta[:, -2, None], self.theta[:, -1, None]
        seen.azimuth_rad[...] += (
            seen.azimuth_by_east * east + seen.azimuth_by_north * north
        )
        seen.tangent[...] += seen.tangent_by_east * east + seen.tangent_by_north * north
        return seen


def likely_cameras(
    problem: Problem, weighing: Weighing, *, averaged: bool = True
) -> LikelyCameras:
    """Return the likeliest cameras of ground weighed by all evidence.

    Parameters
    ----------
    averaged : bool
        Whether each cell counts as it does among its neighbours, over a shift of the
        model, or by its own score.
    """
    cells = weighing.cells
    score = cells.mode_score
    with np.errstate(invalid="ignore"):
        share = np.exp(score - score.max(axis=(1, 2), keepdims=True))
    share = np.nan_to_num(share)
    share /= np.maximum(share.sum(axis=(1, 2), keepdims=True), 1e-300)
    mass = weighing.mass
    if not averaged:
        own = cells.log_weight + np.log(weighing.stands_for)
        mass = np.exp(own - own.max())
        mass = mass / mass.sum()
    weight = (share * mass[:, None, None]).ravel()
    order = np.argsort(-weight, kind="stable")[:MOST]
    held = np.cumsum(weight[order])
    order = order[: int(np.searchsorted(held, ENOUGH * held[-1])) + 1]
    cell, hand, mode = np.unravel_index(order, score.shape)
    theta = cells.theta[cell, hand, mode]
    covariance = np.empty((order.size, theta.shape[1], theta.shape[1]))
    for which in range(len(problem.hands)):
        for side in np.unique(cells.side_m[cell]):
            rows = np.flatnonzero((hand == which) & (cells.side_m[cell] == side))
            if rows.size:
                covariance[rows] = _covariances(
                    problem, weighing, which, cell[rows], theta[rows]
                )
    ground_sd = problem.maker.heights(cells.east_m[cell], cells.north_m[cell])[1]
    return LikelyCameras(
        weight[order] / held[order.size - 1],
        cell.astype(np.int64),
        hand.astype(np.int64),
        theta,
        covariance,
        cells.east_m[cell],
        cells.north_m[cell],
        cells.ground_m[cell] + problem.maker.lens_height_m,
        cells.side_m[cell],
        float(np.median(ground_sd)),
    )


def _covariances(
    problem: Problem,
    weighing: Weighing,
    which: int,
    cell: NDArray[np.int64],
    theta: Array,
) -> Array:
    """Return the covariances of cameras of one hand at cells of one size."""
    hand = problem.hands[which]
    part = weighing.cells.take(cell)
    profiles = problem.profiles(part.east_m, part.north_m)
    seen = problem.seen.mirrored() if hand.reversed else problem.seen
    prior_sd = problem.prior_sd.copy()
    prior_sd[-2:] = part.side_m[0] / math.sqrt(12.0)
    return camera_covariances(
        theta,
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
