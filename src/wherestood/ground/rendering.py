"""Draw the terrain as a camera at a place would show it, by shaded hills.

First along each bearing: which ground is seen at which elevation, and how it is lit;
then through the camera, pixel by pixel.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from wherestood.camera.model import Camera, bearing_elevation
from wherestood.ground.place import FARTHEST_M, Place, frame_bearings_rad
from wherestood.terrain.horizon import nearest_start_m
from wherestood.terrain.resample import sample_bilinear

__all__ = ["render_view"]

Array = NDArray[np.float64]
#: Steps along a ray grow with distance: a pixel sees no finer.
_GROWTH = 0.004
_COLUMNS, _ROWS = 1200, 900
_MARGIN_RAD = 0.02
_SKY, _NEAR, _FAR = 244.0, 70.0, 205.0
_HAZE_M = 9_000.0
#: Light from the left and above the camera, as in drawings of hills.
_LIGHT = np.array([-0.55, -0.35, 0.76])


def render_view(place: Place, camera: Camera, longest_px: int) -> NDArray[np.uint8]:
    """Return a picture of the terrain.

    Parameters
    ----------
    place : Place
        Where the camera stands.
    camera : Camera
        How it is held; its bearing is the grid's.
    longest_px : int
        Longest side of the picture [px].

    Returns
    -------
    (height, width) uint8 array
        Grey; sky is nearly white, far hills are paler.
    """
    scale = min(1.0, longest_px / max(camera.width_px, camera.height_px))
    width, height = round(camera.width_px * scale), round(camera.height_px * scale)
    x_px, y_px = np.meshgrid(
        (np.arange(width) + 0.5) / scale, (np.arange(height) + 0.5) / scale
    )
    bearing, elevation = bearing_elevation(camera, x_px, y_px)
    left, right = frame_bearings_rad(camera)
    left, right = left - _MARGIN_RAD, right + _MARGIN_RAD
    off = (bearing - left) % (2.0 * np.pi)
    low, high = float(elevation.min()), float(elevation.max())
    tones = _unrolled_tones(place, left, right, low, high)
    columns = off / (right - left) * (_COLUMNS - 1)
    rows = (elevation - low) / max(high - low, 1e-9) * (_ROWS - 1)
    picture = ndimage.map_coordinates(
        tones, [rows, columns], order=1, mode="nearest", prefilter=False
    )
    return np.asarray(np.clip(picture, 0, 255), dtype=np.uint8)


def _unrolled_tones(
    place: Place, left: float, right: float, low: float, high: float
) -> Array:
    """Return tones over elevation (rows, lowest first) and bearing (columns)."""
    terrain = place.model.terrain
    bearing = np.linspace(left, right, _COLUMNS)
    distance = _distances(terrain.cell_m, nearest_start_m(terrain.source_cell_m))
    east = place.east_m + np.outer(distance, np.sin(bearing))
    north = place.north_m + np.outer(distance, np.cos(bearing))
    across = (east - terrain.west_m) / terrain.cell_m
    up = (north - terrain.south_m) / terrain.cell_m
    heights = sample_bilinear(terrain.elevation_m, across, up).astype(np.float64)
    drop = place.model.curvature_per_m * distance**2
    rising = (heights - place.lens_m - drop[:, None]) / distance[:, None]
    elevation = np.arctan(np.where(np.isfinite(rising), rising, -np.inf))
    highest = np.maximum.accumulate(elevation, axis=0)
    lit = _lit(heights, distance, bearing)
    haze = 1.0 - np.exp(-distance / _HAZE_M)
    tone = _NEAR + 110.0 * np.clip(lit, 0.0, 1.0)
    tone = tone + haze[:, None] * (_FAR - tone)
    wanted = np.linspace(low, high, _ROWS)
    tones = np.full((_ROWS, _COLUMNS), _SKY)
    for column in range(_COLUMNS):
        first = np.searchsorted(highest[:, column], wanted)
        ground = first < len(distance)
        tones[ground, column] = tone[first[ground], column]
    return tones


def _distances(cell_m: float, nearest_m: float) -> Array:
    """Return where rays are sampled: each cell near by, wider apart far away."""
    distance = [nearest_m]
    while distance[-1] < FARTHEST_M:
        distance.append(distance[-1] + max(cell_m / 2.0, _GROWTH * distance[-1]))
    return np.asarray(distance)


def _lit(heights: Array, distance: Array, bearing: Array) -> Array:
    """Return how much light falls on ground sampled along rays, 0 to 1."""
    away = np.gradient(heights, distance, axis=0)
    width = distance[:, None] * np.gradient(bearing)[None, :]
    sideways = np.gradient(heights, axis=1) / np.maximum(width, 1e-6)
    length = np.sqrt(1.0 + away**2 + sideways**2)
    # Normal of the ground: to the right, away, up.
    light = (-sideways * _LIGHT[0] - away * _LIGHT[1] + _LIGHT[2]) / length
    return np.asarray(np.nan_to_num(light))
