"""Read tones out of a tiled copy, at full size or reduced."""

from __future__ import annotations

import math

import numpy as np
import pyvips
from numpy.typing import NDArray

from wherestood.errors import PlateError
from wherestood.plate.served.tiled_copy import TiledCopy

__all__ = ["read_tones"]


def read_tones(
    copy: TiledCopy, left: int, top: int, width: int, height: int, factor: int = 1
) -> NDArray[np.float32]:
    """Read a window of a scan.

    Parameters
    ----------
    copy : TiledCopy
        Its tiled copy.
    left, top, width, height : int
        The window; what lies outside the scan is left out [px].
    factor : int
        Pixels of the scan to one that is returned: 1, 2, 4 ...

    Returns
    -------
    (height, width) float32 array
        Luminance of the positive, 0 (black) to 1 (white).

    Raises
    ------
    PlateError
        If the copy is damaged.
    """
    level = min(int(math.log2(max(factor, 1))), len(copy.levels) - 1)
    try:
        image = copy.level(level)
        scale = 2**level
        x0, y0 = (
            min(left // scale, image.width - 1),
            min(top // scale, image.height - 1),
        )
        x1 = min(max((left + width) // scale, x0 + 1), image.width)
        y1 = min(max((top + height) // scale, y0 + 1), image.height)
        image = image.crop(x0, y0, x1 - x0, y1 - y0)
        if image.bands > 1:
            image = image.colourspace("b-w")[0]
        pixels = np.asarray(image.numpy(), dtype=np.float32) / np.float32(255.0)
    except pyvips.Error as error:
        raise PlateError(
            "The tiled copy of a scan is damaged.",
            "Delete out/tiles in the daybook; it is made anew.",
        ) from error
    return pixels.reshape(y1 - y0, x1 - x0)
