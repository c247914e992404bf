"""Straighten a scan to the plate that its four corners outline.

A scan may be turned, squeezed or seen aslant, and may have a margin about the plate.
What the camera drew is measured on the plate: its middle, not the scan's, is where an
unmoved lens's axis meets it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wherestood.plate.frame import Corners, PlateFrame, frame_from_corners
from wherestood.plate.scan import Plate

__all__ = ["StraightPlate", "straight_by_corners", "straight_plate"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class StraightPlate:
    """Hold the straightened plate: pixels like the scan's, the plate from edge to edge.

    Attributes
    ----------
    width_px, height_px : int
        Size of the plate in its own pixels, as large as the scan's [px].
    frame : PlateFrame
        From scan pixels to plate pixels about the plate's middle, Y up.
    """

    width_px: int
    height_px: int
    frame: PlateFrame

    def to_plate(self, points_px: ArrayLike) -> Array:
        """Carry (..., 2) scan points to the plate, x right, y down from its corner."""
        carried = self.frame.to_mm(points_px)
        return np.stack(
            (
                self.width_px / 2.0 + carried[..., 0],
                self.height_px / 2.0 - carried[..., 1],
            ),
            axis=-1,
        )

    def to_scan(self, points_px: ArrayLike) -> Array:
        """Carry (..., 2) points of the plate back to the scan."""
        points = np.asarray(points_px, dtype=np.float64)
        return self.frame.to_px(
            np.stack(
                (
                    points[..., 0] - self.width_px / 2.0,
                    self.height_px / 2.0 - points[..., 1],
                ),
                axis=-1,
            )
        )

    def scale_at(self, points_px: ArrayLike) -> Array:
        """Return how many plate pixels a scan pixel spans there, up and down."""
        points = np.asarray(points_px, dtype=np.float64)
        half = np.array([0.0, 0.5])
        across = self.to_plate(points + half) - self.to_plate(points - half)
        return np.asarray(np.hypot(across[..., 0], across[..., 1]))

    def holds(self, points_px: ArrayLike) -> NDArray[np.bool_]:
        """Say which scan points lie on the plate, its edges included."""
        points = self.to_plate(points_px)
        slack = 0.5
        return np.asarray(
            (points[..., 0] >= -slack)
            & (points[..., 0] <= self.width_px + slack)
            & (points[..., 1] >= -slack)
            & (points[..., 1] <= self.height_px + slack)
        )


def straight_plate(plate: Plate) -> StraightPlate | None:
    """Return the straightened plate; None where no corners are marked.

    Notes
    -----
    Where the size of the plate is not known its sides are to one another as opposite
    edges on the scan are on average.
    """
    if plate.corners_px is None:
        return None
    return straight_by_corners(plate.corners_px, plate.size_mm)


def straight_by_corners(
    corners_px: Corners, size_mm: tuple[float, float] | None
) -> StraightPlate:
    """Return the plate that four marked corners outline, as `straight_plate` does."""
    corners = np.asarray(corners_px, dtype=np.float64)
    edges = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    wide, tall = (edges[0] + edges[2]) / 2.0, (edges[1] + edges[3]) / 2.0
    if size_mm is not None:
        px_per_mm = (wide + tall) / sum(size_mm)
        wide, tall = (side * px_per_mm for side in size_mm)
    width_px, height_px = round(float(wide)), round(float(tall))
    frame = frame_from_corners(corners_px, width_px, height_px)
    return StraightPlate(width_px, height_px, frame)
