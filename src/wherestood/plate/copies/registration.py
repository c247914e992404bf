"""Hold how one scan lies on another, and carry marks across."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from scipy.spatial import ConvexHull, QhullError

from wherestood.plate.copies.fit import WarpFit
from wherestood.plate.copies.warp import Floats, Warp

__all__ = ["Registration", "outline_of"]


@dataclass(frozen=True)
class Registration:
    """Hold how a source scan lies on a target scan of the same plate.

    Attributes
    ----------
    warp : Warp
        Carries points of the source to the target.
    fit : WarpFit
        The fit behind it.
    tone_inverted : bool
        True if one shows dark what the other shows light.
    hand_points, features : int
        How many of either the map explains.
    agreement : float
        Median likeness of the two where they overlap, 1 for the same, 0 for
        nothing alike.
    held_px : (corners, 2) float64 array
        Outline, on the source, of the pairs that hold the map [px].
    """

    warp: Warp
    fit: WarpFit
    tone_inverted: bool
    hand_points: int
    features: int
    agreement: float
    held_px: Floats

    def carry(
        self, points_px: Floats, covariance_px2: Floats | None = None
    ) -> tuple[Floats, Floats]:
        """Carry marks from the source to the target, with their error.

        Parameters
        ----------
        points_px : (points, 2) float64 array
            Marks on the source [px].
        covariance_px2 : (points, 2, 2) float64 array, optional
            Their covariance [px^2]; none if left out.

        Returns
        -------
        points_px : (points, 2) float64 array
            The marks on the target; NaN where the map does not reach [px].
        covariance_px2 : (points, 2, 2) float64 array
            Their covariance: the mark's own, the map's, and what bends between
            [px^2].
        """
        points = np.atleast_2d(np.asarray(points_px, dtype=np.float64))
        own = (
            np.zeros((len(points), 2, 2)) if covariance_px2 is None else covariance_px2
        )
        turn = self.warp.jacobian(points)
        carried = turn @ own @ turn.swapaxes(-1, -2) + self._map_error(points)
        return self.warp.forward(points), carried

    def carry_back(
        self, points_px: Floats, covariance_px2: Floats | None = None
    ) -> tuple[Floats, Floats]:
        """Carry marks from the target to the source, with their error.

        As `carry`, the other way.
        """
        points = np.atleast_2d(np.asarray(points_px, dtype=np.float64))
        own = (
            np.zeros((len(points), 2, 2)) if covariance_px2 is None else covariance_px2
        )
        back = self.warp.backward(points)
        known = np.isfinite(back).all(axis=1)
        covariance = np.full((len(points), 2, 2), np.nan)
        turn = np.linalg.inv(self.warp.jacobian(back[known]))
        at_target = own[known] + self._map_error(back[known])
        covariance[known] = turn @ at_target @ turn.swapaxes(-1, -2)
        return back, covariance

    def _map_error(self, points: Floats) -> Floats:
        """Return the map's own error at points of the source, on the target [px^2].

        Paper curl is held to the pairs; outside them it may go on, so its share is
        taken to grow with the distance over the size of what is held.
        """
        by_term = self.warp.jacobian_of_terms(points)
        error = by_term @ self.fit.covariance @ by_term.swapaxes(-1, -2)
        size = max(float(np.ptp(self.held_px, axis=0).max()) / 2.0, 1.0)
        beyond = 1.0 + _distance_outside(self.held_px, points) / size
        bend = (self.fit.bend_sd_px * beyond) ** 2
        result: Floats = error + bend[:, None, None] * np.eye(2)
        return result


def _given_or_none(points: Floats, covariance_px2: Floats | None) -> Floats:
    return np.zeros((len(points), 2, 2)) if covariance_px2 is None else covariance_px2


def outline_of(points: Floats) -> Floats:
    """Return the corners of the points' convex hull, or the points on one line."""
    try:
        return np.asarray(points[ConvexHull(points).vertices], dtype=np.float64)
    except (QhullError, ValueError):
        return points


def _distance_outside(outline: Floats, points: Floats) -> Floats:
    """Return how far points lie outside an outline, 0 within [px]."""
    if len(outline) == 0:
        return np.zeros(len(points))
    held = shapely.convex_hull(shapely.multipoints(outline))
    distance: Floats = shapely.distance(held, shapely.points(points))
    return np.nan_to_num(distance)
