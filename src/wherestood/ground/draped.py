"""Lay a picture over the ground that a view shows, as fine as each pixel needs it."""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

__all__ = ["Draped", "draped_colours"]

Array = NDArray[np.float64]
#: No window of the picture is larger than this [px]: it is taken coarser instead.
_LONGEST_PX = 2500
_LEVELS = 12
#: A pixel looked at so flatly is as long as if it were not [rad].
_FLATTEST_RAD = 0.02


class Draped(Protocol):
    """Be a picture that lies on the ground of a view's frame."""

    @property
    def cell_m(self) -> float:
        """Return how large its own pixels are on the ground [m]."""

    def window(
        self, west_m: float, north_m: float, cell_m: float, size_px: tuple[int, int]
    ) -> NDArray[np.uint8]:
        """Return a window of it.

        Parameters
        ----------
        west_m, north_m : float
            Its upper left corner [m].
        cell_m : float
            Metres a pixel [m].
        size_px : (int, int)
            Width and height [px].

        Returns
        -------
        (height, width, 4) uint8 array
            Red, green, blue, opacity.
        """


class _Shown(Protocol):
    @property
    def distance_m(self) -> NDArray[np.float32]: ...
    @property
    def east_m(self) -> NDArray[np.float32]: ...
    @property
    def north_m(self) -> NDArray[np.float32]: ...
    @property
    def angle_rad(self) -> NDArray[np.float32]: ...


def draped_colours(picture: Draped, seen: _Shown, pixel_rad: float) -> Array:
    """Return the colours of a picture at what every pixel shows.

    Parameters
    ----------
    picture : Draped
    seen : Seen
        Of `wherestood.ground.rendering`.
    pixel_rad : float
        How wide a pixel of the view sees [rad].

    Returns
    -------
    (height, width, 4) float64 array
        Red, green, blue and opacity, 0 to 255; opacity 0 where the picture is not.
    """
    colours = np.zeros((*seen.distance_m.shape, 4))
    known = np.isfinite(seen.distance_m)
    # As wide as the pixel sees, and as long as that falls on the ground: between both.
    flat = np.maximum(np.nan_to_num(seen.angle_rad, nan=0.5), _FLATTEST_RAD)
    wide_m = np.nan_to_num(seen.distance_m) * pixel_rad / np.sqrt(np.sin(flat))
    with np.errstate(divide="ignore"):
        level = np.log2(np.maximum(wide_m / picture.cell_m, 1.0))
    level = np.clip(np.floor(level), 0, _LEVELS).astype(int)
    for number in np.unique(level[known]):
        which = known & (level == number)
        east = seen.east_m[which].astype(np.float64)
        north = seen.north_m[which].astype(np.float64)
        cell = picture.cell_m * 2.0**number
        west, top = east.min() - 2.0 * cell, north.max() + 2.0 * cell
        longest = max(east.max() - west, top - north.min()) + 2.0 * cell
        cell = max(cell, longest / _LONGEST_PX)
        size = (
            int(np.ceil((east.max() - west) / cell)) + 2,
            int(np.ceil((top - north.min()) / cell)) + 2,
        )
        held = picture.window(west, top, cell, size)
        if not held[..., 3].any():
            continue
        at = ((top - north) / cell - 0.5, (east - west) / cell - 0.5)
        colours[which] = np.stack(
            [
                ndimage.map_coordinates(
                    held[..., band], at, output=np.float64, order=1, mode="nearest"
                )
                for band in range(4)
            ],
            axis=-1,
        )
    return colours
