"""Join the plates of a panorama in one cylindrical picture.

Columns are bearings, rows tangents of elevation, alike in scale at the horizon. Where
plates overlap each counts by how far inside its edge a place lies, within a narrow
seam about the line where two are equally far; what no plate shows stays empty, and no
tone is changed but within seams.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from wherestood.camera import Camera, project, rays
from wherestood.errors import InputError
from wherestood.fix.result import CameraAnswer
from wherestood.plate.scan import Plate

__all__ = ["JoinedPicture", "join_plates"]

Array = NDArray[np.float64]

#: The joined picture is never wider than this [px].
WIDEST_PX = 12_000
#: Width of a seam over that of a plate's shorter side.
SEAM = 0.03
#: No row lies higher or lower than this tangent: a plate that looks up at the sky has
#: no place on a cylinder.
STEEPEST = 2.0
#: Points along each edge of a plate that say how much room it needs.
_EDGE = 50
_ROWS_AT_ONCE = 256


@dataclass(frozen=True)
class JoinedPicture:
    """Hold a joined picture.

    Attributes
    ----------
    grey : (rows, columns) float32 array
        Tones, 0 (black) to 1 (white); 0 where nothing is shown.
    covered : (rows, columns) bool array
        Where some plate shows something.
    left_deg, px_per_deg : float
        True bearing of the left edge, and pixels to a degree of bearing.
    top_tangent : float
        Tangent of elevation of the upper edge.
    """

    grey: NDArray[np.float32]
    covered: NDArray[np.bool_]
    left_deg: float
    px_per_deg: float
    top_tangent: float

    def save(self, path: str | Path) -> Path:
        """Write it as PNG or TIFF, empty ground transparent.

        Raises
        ------
        InputError
            If the file cannot be written, or its name ends otherwise.
        """
        path = Path(path)
        if path.suffix.lower() not in (".png", ".tif", ".tiff"):
            raise InputError(
                f"The joined picture cannot be written as {path.name!r}.",
                "Choose a name ending in .png or .tif.",
            )
        tones = np.round(255.0 * np.clip(self.grey, 0.0, 1.0)).astype(np.uint8)
        shown = np.where(self.covered, 255, 0).astype(np.uint8)
        try:
            picture = Image.fromarray(np.dstack((tones, shown)), mode="LA")
            picture.save(path)
        except OSError as error:
            raise InputError(
                f"The picture {str(path)!r} cannot be written: {error.strerror}.",
                "Choose a folder that exists and may be written to.",
            ) from error
        return path


def join_plates(
    plates: Sequence[Plate],
    cameras: Sequence[CameraAnswer],
    widest_px: int = WIDEST_PX,
) -> JoinedPicture:
    """Return the plates joined, each as its camera saw.

    Parameters
    ----------
    plates : sequence of Plate
    cameras : sequence of CameraAnswer
        One a plate.
    widest_px : int
        Greatest width [px]; finer plates are reduced.
    """
    held = [
        _camera(camera, plate) for camera, plate in zip(cameras, plates, strict=True)
    ]
    middle = _middle_rad(held)
    left, right, top, bottom = _room(held, middle)
    px_per_rad = float(np.median([camera.principal_distance_px for camera in held]))
    px_per_rad = min(px_per_rad, widest_px / (right - left))
    columns = max(1, math.ceil((right - left) * px_per_rad))
    rows = max(1, math.ceil((top - bottom) * px_per_rad))
    bearing: Array = (
        middle + left + (np.arange(columns, dtype=float) + 0.5) / px_per_rad
    )
    tangent: Array = top - (np.arange(rows, dtype=float) + 0.5) / px_per_rad
    total = np.zeros((rows, columns), dtype=np.float32)
    weight = np.zeros((rows, columns), dtype=np.float32)
    nearest = _depths(held, bearing, tangent)
    for plate, camera in zip(plates, held, strict=True):
        # Finer than the joined picture, a plate would be picked at, not averaged.
        finer = max(1.0, camera.principal_distance_px / px_per_rad)
        longest_px = math.ceil(max(plate.width_px, plate.height_px) / finer)
        _lay(plate, longest_px, camera, bearing, tangent, nearest, total, weight)
    covered = weight > 0.0
    grey = np.where(covered, total / np.where(covered, weight, 1.0), 0.0)
    return JoinedPicture(
        grey.astype(np.float32),
        covered,
        math.degrees(middle + left) % 360.0,
        px_per_rad * math.pi / 180.0,
        top,
    )


def _camera(camera: CameraAnswer, plate: Plate) -> Camera:
    return Camera(
        math.radians(camera.bearing_deg),
        math.radians(camera.tilt_deg),
        math.radians(camera.roll_deg),
        camera.principal_distance_px,
        camera.rise_px,
        camera.cross_px,
        camera.k1,
        plate.width_px,
        plate.height_px,
        camera.reversed,
    )


def _middle_rad(held: Sequence[Camera]) -> float:
    """Return the bearing opposite the widest gap between plates."""
    turns = np.sort([camera.bearing_rad % (2.0 * math.pi) for camera in held])
    gaps = np.diff(np.append(turns, turns[0] + 2.0 * math.pi))
    at = int(np.argmax(gaps))
    return float(turns[at] + gaps[at] / 2.0 + math.pi)


def _room(held: Sequence[Camera], middle: float) -> tuple[float, float, float, float]:
    """Return how far left, right [rad from the middle], up and down they reach."""
    left, right, top, bottom = math.inf, -math.inf, -math.inf, math.inf
    along = np.linspace(0.0, 1.0, _EDGE)
    for camera in held:
        across, down = camera.width_px * along, camera.height_px * along
        x = np.concatenate((across, across, 0.0 * down, 0.0 * down + camera.width_px))
        y = np.concatenate((0.0 * across, 0.0 * across + camera.height_px, down, down))
        east, north, up = rays(camera, x, y).T
        turn = np.arctan2(east, north) - middle
        turn = (turn + math.pi) % (2.0 * math.pi) - math.pi
        height = np.clip(up / np.hypot(east, north), -STEEPEST, STEEPEST)
        left, right = min(left, float(turn.min())), max(right, float(turn.max()))
        top, bottom = max(top, float(height.max())), min(bottom, float(height.min()))
    return left, right, top, bottom


def _places(
    camera: Camera, bearing: Array, tangent: Array
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]]:
    """Return where directions show on a plate, and how far inside its edge [px]."""
    sine, cosine = np.sin(bearing), np.cos(bearing)
    shape = (tangent.size, bearing.size)
    way = np.empty((*shape, 3))
    way[..., 0], way[..., 1] = sine, cosine
    way[..., 2] = tangent[:, None]
    x, y = project(camera, way)
    inside = np.minimum(
        np.minimum(x, camera.width_px - x), np.minimum(y, camera.height_px - y)
    )
    depth = np.nan_to_num(inside, nan=-1.0)
    return (
        np.nan_to_num(x, nan=-1.0).astype(np.float32),
        np.nan_to_num(y, nan=-1.0).astype(np.float32),
        depth.astype(np.float32),
    )


def _chunks(count: int) -> list[slice]:
    return [slice(a, a + _ROWS_AT_ONCE) for a in range(0, count, _ROWS_AT_ONCE)]


def _depths(
    held: Sequence[Camera], bearing: Array, tangent: Array
) -> NDArray[np.float32]:
    """Return how far inside the plate that shows a place best it lies [px]."""
    deepest = np.full((tangent.size, bearing.size), -1.0, dtype=np.float32)
    for camera in held:
        for rows in _chunks(tangent.size):
            _, _, depth = _places(camera, bearing, tangent[rows])
            deepest[rows] = np.maximum(deepest[rows], depth)
    return deepest


def _lay(
    plate: Plate,
    longest_px: int,
    camera: Camera,
    bearing: Array,
    tangent: Array,
    deepest: NDArray[np.float32],
    total: NDArray[np.float32],
    weight: NDArray[np.float32],
) -> None:
    """Lay one plate where it shows a place best, and in its seams."""
    picture, factor = plate.reduced(longest_px)
    seam_px = SEAM * min(plate.width_px, plate.height_px)
    for rows in _chunks(tangent.size):
        x, y, depth = _places(camera, bearing, tangent[rows])
        # Pixel centres are at integers + 0.5; OpenCV counts from them.
        tones = cv2.remap(
            picture,
            x / np.float32(factor) - np.float32(0.5),
            y / np.float32(factor) - np.float32(0.5),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        # All of it where it lies deepest, none where another is deeper by a seam.
        share = np.clip(1.0 - (deepest[rows] - depth) / seam_px, 0.0, 1.0)
        share = np.where(depth > 0.0, share, 0.0).astype(np.float32)
        total[rows] += share * tones
        weight[rows] += share
