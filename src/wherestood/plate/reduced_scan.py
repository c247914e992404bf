"""Hold the reduced image that a trace works on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from wherestood.errors import SkylineError
from wherestood.plate.scan import Plate
from wherestood.plate.sky import BLOCK_PX

__all__ = ["ReducedScan", "open_reduced"]

Grey = NDArray[np.float32]

LEAST_TONES = 0.02
DUST_PX = 11


@dataclass(frozen=True)
class ReducedScan:
    """Hold the reduced image, and how to read the full-size one."""

    grey: Grey
    window: Callable[[int, int, int, int], Grey]
    width_px: int
    height_px: int

    @property
    def steps(self) -> tuple[float, float]:
        """Return full-size pixels to one reduced, across and down."""
        height, width = self.grey.shape
        return self.width_px / width, self.height_px / height

    @cached_property
    def without_grain(self) -> Grey:
        """The image with each pixel the median of the 3 x 3 about it."""
        return np.asarray(
            cv2.medianBlur(np.ascontiguousarray(self.grey), 3), np.float32
        )

    @cached_property
    def without_dust(self) -> Grey:
        """The image without specks and scratches narrower than half of `DUST_PX`."""
        across = ndimage.median_filter(self.grey, size=(1, DUST_PX), mode="nearest")
        clean: Grey = ndimage.median_filter(across, size=(DUST_PX, 1), mode="nearest")
        return clean


def open_reduced(plate: Plate | NDArray[np.generic], max_px: int) -> ReducedScan:
    """Reduce a plate or image to at most `max_px` a side, its tones spread 0 to 1.

    Raises
    ------
    SkylineError
        If it is too small, not grey, or blank.
    """
    if isinstance(plate, Plate):
        grey, _ = plate.reduced(max_px)
        scan = ReducedScan(grey, plate.window, plate.width_px, plate.height_px)
    else:
        full = _as_grey(plate)
        height, width = full.shape
        factor = max(1.0, max(full.shape) / max_px)
        grey = _shrunk(full, (round(height / factor), round(width / factor)))
        scan = ReducedScan(
            grey,
            lambda left, top, w, h: full[top : top + h, left : left + w],
            width,
            height,
        )
    if min(scan.grey.shape) < 4 * BLOCK_PX:
        raise SkylineError(
            f"The scan is {scan.width_px} x {scan.height_px} px; a skyline needs at "
            f"least {4 * BLOCK_PX} px a side.",
            "Give a larger scan.",
        )
    low, high = np.percentile(scan.grey, [1.0, 99.0])
    if high - low < LEAST_TONES:
        raise SkylineError(
            f"The scan is blank: its tones span {100 * (high - low):.1f}% of the "
            f"range, and at least {100 * LEAST_TONES:.0f}% is needed.",
            "Give a scan that shows land and sky.",
        )
    level = np.float32(low), np.float32(high - low)
    window = scan.window
    return ReducedScan(
        (scan.grey - level[0]) / level[1],
        lambda left, top, w, h: (window(left, top, w, h) - level[0]) / level[1],
        scan.width_px,
        scan.height_px,
    )


def _as_grey(image: NDArray[np.generic]) -> Grey:
    pixels = np.asarray(image)
    if pixels.ndim != 2:
        raise SkylineError(
            f"An image of shape {pixels.shape} was given; (height, width) is needed.",
            "Give one band of grey.",
        )
    white = np.iinfo(pixels.dtype).max if pixels.dtype.kind in "iu" else 1.0
    return pixels.astype(np.float32) / np.float32(white)


def _shrunk(full: Grey, shape: tuple[int, int]) -> Grey:
    """Return the area mean, so that grain averages away."""
    if shape == full.shape:
        return full
    factors = full.shape[0] / shape[0], full.shape[1] / shape[1]
    blurred = ndimage.uniform_filter(full, [max(1, round(f)) for f in factors])
    y = ((np.arange(shape[0]) + 0.5) * factors[0]).astype(int)
    x = ((np.arange(shape[1]) + 0.5) * factors[1]).astype(int)
    return np.ascontiguousarray(blurred[np.ix_(y, x)])
