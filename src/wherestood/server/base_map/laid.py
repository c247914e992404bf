"""Lay a base map on the grid of a ground."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
import pyproj
import pyvips
from numpy.typing import NDArray

from wherestood.earth.frame import Frame
from wherestood.errors import InputError
from wherestood.server.base_map.pyramid import Level, Pyramid

__all__ = ["lay_base_map"]

#: A tile of the map needs no more of the base map's; beyond, something is wrong.
MOST_TILES = 64
_TO_MERCATOR = pyproj.Transformer.from_crs(4326, 3857, always_xy=True)


@dataclass(frozen=True)
class _Block:
    level: Level
    columns: range
    rows: range


def lay_base_map(
    pyramid: Pyramid,
    get: Callable[[str], bytes],
    frame: Frame,
    west_m: float,
    north_m: float,
    resolution_m: float,
    tile_px: int,
) -> NDArray[np.uint8]:
    """Return a square of the base map as it lies on a ground's grid.

    Parameters
    ----------
    pyramid : Pyramid
        The base map.
    get : callable
        Gives what is at an address; an `InputError` leaves that part clear.
    frame : Frame
        The ground's grid.
    west_m, north_m : float
        The square's corner [m].
    resolution_m : float
        Metres a pixel [m].
    tile_px : int
        Its side [px].

    Returns
    -------
    (tile_px, tile_px, 4) uint8 array
        Red, green, blue, opacity.

    Raises
    ------
    InputError
        If nothing of it could be had.
    """
    step = (np.arange(tile_px) + 0.5) * resolution_m
    east_m, north = np.meshgrid(west_m + step, north_m - step)
    lon_deg, lat_deg = frame.to_lonlat(east_m.ravel(), north.ravel())
    x_m, y_m = _TO_MERCATOR.transform(lon_deg, lat_deg)
    if not np.all(np.isfinite(x_m)) or not np.all(np.isfinite(y_m)):
        return np.zeros((tile_px, tile_px, 4), dtype=np.uint8)
    # Web Mercator stretches away from the equator, by the secant of the latitude.
    stretch = 1.0 / max(math.cos(math.radians(float(np.mean(lat_deg)))), 0.05)
    level = pyramid.level_for(resolution_m * stretch)
    side_m = level.resolution_m * level.tile_px
    column = (x_m - level.west_m) / side_m
    row = (level.north_m - y_m) / side_m
    block = _Block(
        level,
        range(
            max(math.floor(column.min()), 0),
            min(math.floor(column.max()) + 1, level.columns),
        ),
        range(
            max(math.floor(row.min()), 0), min(math.floor(row.max()) + 1, level.rows)
        ),
    )
    mosaic = _mosaic(pyramid, block, get)
    across = (column - block.columns.start) * level.tile_px - 0.5
    down = (row - block.rows.start) * level.tile_px - 0.5
    shape = (tile_px, tile_px)
    drawn: NDArray[np.uint8] = cv2.remap(
        mosaic,
        across.reshape(shape).astype(np.float32),
        down.reshape(shape).astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    ).astype(np.uint8)
    return drawn


def _mosaic(
    pyramid: Pyramid, block: _Block, get: Callable[[str], bytes]
) -> NDArray[np.uint8]:
    side = block.level.tile_px
    count = len(block.columns) * len(block.rows)
    if not 0 < count <= MOST_TILES or not 0 < side <= 4096:
        raise InputError("The base map has nothing here.", "Look elsewhere, or nearer.")
    size = (len(block.rows) * side, len(block.columns) * side, 4)
    mosaic = np.zeros(size, dtype=np.uint8)
    trouble: InputError | None = None
    found = 0
    for i, row in enumerate(block.rows):
        for j, column in enumerate(block.columns):
            try:
                tile = _picture(get(pyramid.address(block.level, column, row)), side)
            except InputError as error:
                trouble = error
                continue
            found += 1
            mosaic[i * side : (i + 1) * side, j * side : (j + 1) * side] = tile
    if not found and trouble is not None:
        raise trouble
    return mosaic


def _picture(content: bytes, side: int) -> NDArray[np.uint8]:
    """Return a tile's pixels; what it is is told by its content."""
    try:
        image = pyvips.Image.new_from_buffer(content, "")
        if max(image.width, image.height) > 4096:
            raise InputError("A tile of the base map is too large.")
        if image.bands < 3 or image.interpretation != "srgb":
            image = image.colourspace("srgb")
        if image.format != "uchar":
            image = image.cast("uchar")
        if image.bands == 3:
            image = image.bandjoin(255)
        if (image.width, image.height) != (side, side):
            image = image.thumbnail_image(side, height=side, size="force")
        pixels: NDArray[np.uint8] = (
            image[:4].numpy() if image.bands > 4 else image.numpy()
        )
    except pyvips.Error as error:
        raise InputError("A tile of the base map is no picture.") from error
    return pixels
