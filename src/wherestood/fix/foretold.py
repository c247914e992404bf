"""Foretell where on the scan a camera nobody is sure of would show a point.

Symbols: y_i where camera i shows it [px]; w_i its probability; G_i, D_i how that moves
with the camera and with the direction; P_i, F_i their covariances.

    C = sum of w_i (G_i P_i G_i' + D_i F_i D_i' + (y_i - y)(y_i - y)')
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.foretell import plate_gradient, plate_points
from wherestood.evidence.placed import Candidates
from wherestood.evidence.unknowns import COUNT
from wherestood.fix.likely_cameras import LikelyCameras
from wherestood.fix.problem import Problem

__all__ = ["Foretold", "foretell"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Foretold:
    """Hold where each camera would show each of some points.

    Attributes
    ----------
    point_px : (cameras, points, 2) float64 array
        On the scan as read, x right, y down [px]; NaN for what lies behind.
    camera_px2, feature_px2 : (cameras, points, 2, 2) float64 array
        Covariance of that, of the camera's and of the point's own doubt [px2].
    by_camera_px : (cameras, points, 2, unknowns) float64 array
        How it moves with the camera's unknowns, its place in the cell included.
    by_place_px : (cameras, points, 2, 2) float64 array
        How it moves as the point moves east and north [px/m].
    """

    point_px: Array
    camera_px2: Array
    feature_px2: Array
    by_camera_px: Array
    by_place_px: Array

    def together(self, weight: Array, point: int) -> tuple[Array, Array]:
        """Return mean and covariance of one point over all cameras that show it.

        Returns
        -------
        mean_px : (2,) float64 array
        covariance_px2 : (2, 2) float64 array
            NaN where no camera shows it.
        """
        y = self.point_px[:, point]
        shown = np.isfinite(y).all(axis=1)
        if not shown.any():
            return np.full(2, np.nan), np.full((2, 2), np.nan)
        share = weight[shown] / weight[shown].sum()
        mean = share @ y[shown]
        off = y[shown] - mean
        inner = self.camera_px2[shown, point] + self.feature_px2[shown, point]
        spread = inner + off[:, :, None] * off[:, None, :]
        return mean, np.einsum("n,npq->pq", share, spread)


def foretell(problem: Problem, cameras: LikelyCameras, points: Candidates) -> Foretold:
    """Return where likely cameras would show points, and how sure that is."""
    seen = cameras.directions(problem, points)
    samples = problem.hands[0].samples
    diagonal = samples.diagonal_px
    half = 0.5 * samples.width_px / diagonal
    theta = np.broadcast_to(cameras.theta[:, None, :], (*seen.azimuth_rad.shape, COUNT))
    tangent = np.nan_to_num(seen.tangent)
    where = plate_points(theta, seen.azimuth_rad, tangent, half)
    by_camera, by_way = plate_gradient(theta, seen.azimuth_rad, tangent, half)
    # Its place in the cell moves a camera's directions too.
    by_camera[..., -2] = by_way[..., 0] * seen.azimuth_by_east[..., None] + (
        by_way[..., 1] * seen.tangent_by_east[..., None]
    )
    by_camera[..., -1] = by_way[..., 0] * seen.azimuth_by_north[..., None] + (
        by_way[..., 1] * seen.tangent_by_north[..., None]
    )
    ways = np.empty((*seen.azimuth_rad.shape, 2, 2))
    lens = cameras.lens_sd_m * seen.tangent_by_lens
    ways[..., 0, 0] = seen.sd_azimuth_rad**2
    ways[..., 0, 1] = ways[..., 1, 0] = np.nan_to_num(seen.covariance)
    ways[..., 1, 1] = np.nan_to_num(seen.sd_tangent) ** 2 + lens**2
    of_camera = np.einsum(
        "nkap,npq,nkbq->nkab", by_camera, cameras.covariance, by_camera
    )
    of_feature = np.einsum("nkap,nkpq,nkbq->nkab", by_way, ways, by_way)
    # On the scan as it was read y runs down, and x left where it is reversed.
    turned = np.array([problem.hands[h].reversed for h in cameras.hand])
    sign = np.stack((np.where(turned, -1.0, 1.0), np.full(turned.shape, -1.0)), axis=1)
    middle = np.array((0.5 * samples.width_px, 0.5 * samples.height_px))
    pixels = where * sign[:, None, :] * diagonal + middle
    one_way = sign[:, None, :, None] * diagonal
    flip = one_way * sign[:, None, None, :] * diagonal
    return Foretold(
        pixels,
        of_camera * flip,
        of_feature * flip,
        by_camera * one_way,
        # A point that moves is a station that moves the other way.
        -by_camera[..., -2:] * one_way,
    )
