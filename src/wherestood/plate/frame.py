"""Carry points between scan pixels and plate millimetres."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wherestood.errors import PlateError

__all__ = ["PlateFrame", "frame_from_corners", "frame_from_scale"]

Corners = tuple[
    tuple[float, float],
    tuple[float, float],
    tuple[float, float],
    tuple[float, float],
]


@dataclass(frozen=True)
class PlateFrame:
    """Hold the projective map from scan pixels to plate millimetres.

    Pixels are those of the upright positive: origin at the scan's top-left
    corner, x right, y down, pixel centres at integers + 0.5. Millimetres have
    their origin at the plate's centre, X right, Y up.

    Attributes
    ----------
    mm_from_px : (3, 3) float64 array
        Homogeneous map [mm, from px].
    """

    mm_from_px: NDArray[np.float64]

    def to_mm(self, points_px: ArrayLike) -> NDArray[np.float64]:
        """Carry (..., 2) pixel points to millimetres [mm]; NaN stays NaN."""
        return _apply(self.mm_from_px, points_px)

    def to_px(self, points_mm: ArrayLike) -> NDArray[np.float64]:
        """Carry (..., 2) millimetre points to pixels [px]; NaN stays NaN."""
        inverse = np.linalg.inv(self.mm_from_px).astype(np.float64)
        return _apply(inverse, points_mm)


def frame_from_scale(
    width_px: int, height_px: int, px_per_mm: tuple[float, float]
) -> PlateFrame:
    """Make the frame of a scan whose centre is the plate's centre.

    Parameters
    ----------
    width_px, height_px : int
        Size of the scan [px].
    px_per_mm : (float, float)
        Scale along x and along y [px/mm].
    """
    along_x, along_y = px_per_mm
    return PlateFrame(
        np.array(
            [
                [1.0 / along_x, 0.0, -width_px / 2.0 / along_x],
                [0.0, -1.0 / along_y, height_px / 2.0 / along_y],
                [0.0, 0.0, 1.0],
            ]
        )
    )


def frame_from_corners(
    corners_px: Corners, width_mm: float, height_mm: float
) -> PlateFrame:
    """Make the frame from the plate's four corners marked on the scan.

    Parameters
    ----------
    corners_px : four (x, y)
        Top left, top right, bottom right, bottom left [px].
    width_mm, height_mm : float
        Sides of the plate [mm].

    Raises
    ------
    PlateError
        If the corners are not those of a convex four-sided figure in that order.

    Notes
    -----
    Eight linear equations fix the eight free terms of the projective map
    (direct linear transform), solved in coordinates scaled to the frame.
    """
    px = np.asarray(corners_px, dtype=np.float64)
    if px.shape != (4, 2) or not np.all(np.isfinite(px)) or not _convex(px):
        raise PlateError(
            "The four plate corners do not go round a convex figure.",
            "Give top left, top right, bottom right, bottom left, in pixels.",
        )
    half_w, half_h = width_mm / 2.0, height_mm / 2.0
    mm = np.array(
        [[-half_w, half_h], [half_w, half_h], [half_w, -half_h], [-half_w, -half_h]]
    )
    centre, scale = px.mean(axis=0), float(np.ptp(px))
    normal = np.array(
        [
            [1.0 / scale, 0.0, -centre[0] / scale],
            [0.0, 1.0 / scale, -centre[1] / scale],
            [0.0, 0.0, 1.0],
        ]
    )
    near = (px - centre) / scale
    rows, right = [], []
    for (x, y), (u, v) in zip(near, mm, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        right += [u, v]
    terms = np.append(np.linalg.solve(np.array(rows), np.array(right)), 1.0)
    return PlateFrame(terms.reshape(3, 3) @ normal)


def _apply(matrix: NDArray[np.float64], points: ArrayLike) -> NDArray[np.float64]:
    given = np.asarray(points, dtype=np.float64)
    carried = given @ matrix[:, :2].T + matrix[:, 2]
    result: NDArray[np.float64] = carried[..., :2] / carried[..., 2:]
    return result


def _convex(px: NDArray[np.float64]) -> bool:
    edge = np.roll(px, -1, axis=0) - px
    after = np.roll(edge, -1, axis=0)
    # With y down, clockwise as seen has positive cross products.
    turn = edge[:, 0] * after[:, 1] - edge[:, 1] * after[:, 0]
    return bool(np.all(turn > 0.0))
