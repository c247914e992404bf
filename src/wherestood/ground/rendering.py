"""Draw the terrain as a plate's camera would show it from a place.

Every pixel's ray is followed to the ground (`wherestood.ground.whole_plate`); there the
ground is lit, covered with a picture that lies on it, and made paler with distance.
Where a pixel's ground lies far behind that of the pixel below it there is a ridge.
"""

from __future__ import annotations

from dataclasses import dataclass

import numba
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from wherestood.camera.model import Camera
from wherestood.fix.camera_draws import CameraDraws
from wherestood.ground.cameras import PlateCameras
from wherestood.ground.draped import Draped, draped_colours
from wherestood.ground.place import FARTHEST_M, Place
from wherestood.ground.whole_plate import follow_pixels
from wherestood.terrain.meet import BEYOND, GROUND, HOLE, NEAR, SolidGround

__all__ = ["HAZE_M", "Seen", "ViewLook", "camera_at", "follow_view", "render_view"]

Array = NDArray[np.float64]
#: A distance at which air hides two thirds of what is behind it; common practice of
#: drawing hills [m].
HAZE_M = 9_000.0
#: Tones: sky, ground in shade, how much light adds, haze, what is not known, a ridge.
_SKY, _SHADE, _LIT, _HAZE, _UNKNOWN, _RIDGE = 244.0, 70.0, 110.0, 205.0, 224.0, 38.0
#: What is draped is darkened no further than this, so that it can be read.
_DRAPED_SHADE = 0.55
#: Light from the left, behind and above the camera, as in drawings of hills.
_LIGHT = np.array([-0.55, -0.35, 0.76])
#: A ridge: the ground jumps by this share of its distance, and by so many times what it
#: does in the pixels about.
_JUMP_SHARE, _JUMP_TIMES = 0.03, 3.0
#: A line is one pixel wide for so many of the picture's longer side.
_LINE_PX = 1000
#: A line is at least this part of that side long.
_SHORTEST = 60


@dataclass(frozen=True)
class ViewLook:
    """Say how a view is drawn.

    Attributes
    ----------
    haze_m : float or None
        Distance at which air hides two thirds; None for clear air [m].
    ridge_lines : bool
        Whether the edges of ridges are drawn.
    draped : Draped or None
        A picture that lies on the ground.
    """

    haze_m: float | None = HAZE_M
    ridge_lines: bool = True
    draped: Draped | None = None


@dataclass(frozen=True)
class Seen:
    """Hold what every pixel of a view shows.

    Attributes
    ----------
    what : (height, width) int8 array
        As `wherestood.terrain.meet` has it.
    distance_m, east_m, north_m : (height, width) float32 array
        Along the ground, and the place; NaN for sky and what is not known. Nearer than
        the terrain tells the ground is level [m].
    angle_rad : (height, width) float32 array
        Between ray and ground; NaN where none is met [rad].
    """

    what: NDArray[np.int8]
    distance_m: NDArray[np.float32]
    east_m: NDArray[np.float32]
    north_m: NDArray[np.float32]
    angle_rad: NDArray[np.float32]


def camera_at(place: Place, camera: Camera) -> PlateCameras:
    """Return a camera that stands at a place; its bearing is the grid's."""

    def one(value: float) -> Array:
        return np.array([value], dtype=np.float64)

    draws = CameraDraws(
        one(place.east_m), one(place.north_m), one(place.lens_m),
        one(camera.bearing_rad), one(camera.tilt_rad), one(camera.roll_rad),
        one(camera.principal_distance_px), one(camera.rise_px), one(camera.cross_px),
        one(camera.k1), one(0.0), one(0.0), one(0.0), np.array([camera.reversed]),
    )  # fmt: skip
    return PlateCameras(draws, camera.width_px, camera.height_px)


def follow_view(
    ground: SolidGround,
    camera: PlateCameras,
    scan_px: tuple[int, int],
    longest_px: int,
    farthest_m: float = FARTHEST_M,
) -> Seen:
    """Follow every pixel of a view to the ground.

    Parameters
    ----------
    ground : SolidGround
    camera : PlateCameras
        One camera.
    scan_px : (int, int)
        Width and height of the scan [px].
    longest_px : int
        Longest side of the view; no more than the scan's own [px].
    farthest_m : float
        Nothing is seen beyond [m].
    """
    size = _size(scan_px, longest_px)
    parts = sorted(
        follow_pixels(ground, camera, scan_px, size, farthest_m),
        key=lambda stripe: stripe.first_row,
    )
    what, distance, east, north, angle = (
        np.concatenate([getattr(part, name) for part in parts])
        for name in ("what", "distance_m", "east_m", "north_m", "angle_rad")
    )
    near = what == NEAR
    if near.any():
        _put_near_ground(ground, camera, scan_px, near, distance, east, north)
    return Seen(what, distance, east, north, angle)


def render_view(
    ground: SolidGround,
    camera: PlateCameras,
    scan_px: tuple[int, int],
    longest_px: int,
    look: ViewLook | None = None,
    *,
    farthest_m: float = FARTHEST_M,
) -> NDArray[np.uint8]:
    """Return a picture of the terrain.

    Parameters
    ----------
    ground, camera, scan_px, longest_px, farthest_m
        As of `follow_view`.
    look : ViewLook, optional

    Returns
    -------
    (height, width) or (height, width, 3) uint8 array
        Grey, and in colour where something is draped; sky is nearly white.
    """
    drawn = look or ViewLook()
    seen = follow_view(ground, camera, scan_px, longest_px, farthest_m)
    known = np.isfinite(seen.distance_m)
    lit = np.clip(_lit(ground, camera, scan_px, seen), 0.0, 1.0)
    tone = np.where(known, _SHADE + _LIT * lit, _SKY)[..., None]
    if drawn.draped is not None:
        pixel_rad = max(scan_px) / longest_px / camera.draws.principal_distance_px[0]
        laid = draped_colours(drawn.draped, seen, float(pixel_rad))
        colour = (
            laid[..., :3] * (_DRAPED_SHADE + (1.0 - _DRAPED_SHADE) * lit)[..., None]
        )
        tone = tone + (colour - tone) * (laid[..., 3:] / 255.0)
    if drawn.ridge_lines:
        tone = np.where(_ridges(seen, max(tone.shape[:2]))[..., None], _RIDGE, tone)
    if drawn.haze_m is not None:
        far = -np.expm1(-np.nan_to_num(seen.distance_m) / drawn.haze_m)
        tone = tone + (far * known)[..., None] * (_HAZE - tone)
    # Beyond what is known there may be more ground: that is no sky.
    tone = np.where((seen.what == HOLE)[..., None], _UNKNOWN, tone)
    grey = drawn.draped is None
    return np.asarray(np.clip(tone[..., 0] if grey else tone, 0, 255), dtype=np.uint8)


def _size(scan_px: tuple[int, int], longest_px: int) -> tuple[int, int]:
    scale = min(1.0, longest_px / max(scan_px))
    return max(1, round(scan_px[0] * scale)), max(1, round(scan_px[1] * scale))


def _pixels(shape: tuple[int, ...], scan_px: tuple[int, int]) -> tuple[Array, Array]:
    """Return the scan's points at which a view's pixels lie."""
    height, width = shape
    x = (np.arange(width) + 0.5) * (scan_px[0] / width)
    y = (np.arange(height) + 0.5) * (scan_px[1] / height)
    across, down = np.meshgrid(x, y)
    return across, down


def _put_near_ground(
    ground: SolidGround,
    camera: PlateCameras,
    scan_px: tuple[int, int],
    near: NDArray[np.bool_],
    distance: NDArray[np.float32],
    east: NDArray[np.float32],
    north: NDArray[np.float32],
) -> None:
    """Put the tripod's own ground, level, where the terrain does not tell yet."""
    x, y = _pixels(near.shape, scan_px)
    bearing, tangent = camera.directions(x[near], y[near])
    draws, terrain = camera.draws, ground.model.terrain
    column = round((float(draws.east_m[0]) - terrain.west_m) / terrain.cell_m)
    row = round((float(draws.north_m[0]) - terrain.south_m) / terrain.cell_m)
    rows, columns = ground.pyramid.nodes.shape
    under = ground.pyramid.nodes[
        min(max(row, 0), rows - 1), min(max(column, 0), columns - 1)
    ]
    above_m = max(float(draws.lens_m[0]) - float(under), 0.5)
    reach_m = 2.0 * terrain.cell_m
    away = np.clip(above_m / np.maximum(-tangent[0], 1e-3), 0.0, reach_m)
    distance[near] = away
    east[near] = draws.east_m[0] + away * np.sin(bearing[0])
    north[near] = draws.north_m[0] + away * np.cos(bearing[0])


def _lit(
    ground: SolidGround, camera: PlateCameras, scan_px: tuple[int, int], seen: Seen
) -> Array:
    """Return how much light falls on what is seen, 0 to 1; 0 where nothing is."""
    middle, _ = camera.directions([0.5 * scan_px[0]], [0.5 * scan_px[1]])
    s, c = float(np.sin(middle[0, 0])), float(np.cos(middle[0, 0]))
    right, away, up = _LIGHT
    light = np.array([right * c + away * s, away * c - right * s, up])
    terrain = ground.model.terrain
    column = (seen.east_m.astype(np.float64) - terrain.west_m) / terrain.cell_m
    row = (seen.north_m.astype(np.float64) - terrain.south_m) / terrain.cell_m
    lit = np.zeros(seen.what.shape)
    _light_ground(ground.pyramid.nodes, column, row, terrain.cell_m, light, lit)
    return lit


@numba.njit(cache=True, nogil=True, parallel=True, error_model="numpy")
def _light_ground(nodes, column, row, cell_m, light, lit):  # type: ignore[no-untyped-def]
    """Light ground whose slope goes over smoothly from node to node."""
    rows, columns = nodes.shape
    for y in numba.prange(lit.shape[0]):
        for x in range(lit.shape[1]):
            at_x, at_y = column[y, x], row[y, x]
            if not np.isfinite(at_x + at_y):
                continue
            i = min(max(int(at_x), 0), columns - 2)
            j = min(max(int(at_y), 0), rows - 2)
            u = min(max(at_x - i, 0.0), 1.0)
            v = min(max(at_y - j, 0.0), 1.0)
            east = 0.0
            north = 0.0
            for b in range(2):
                for a in range(2):
                    share = (u if a else 1.0 - u) * (v if b else 1.0 - v)
                    w, e = max(i + a - 1, 0), min(i + a + 1, columns - 1)
                    s, n = max(j + b - 1, 0), min(j + b + 1, rows - 1)
                    east += share * (nodes[j + b, e] - nodes[j + b, w]) / (e - w)
                    north += share * (nodes[n, i + a] - nodes[s, i + a]) / (n - s)
            east /= cell_m
            north /= cell_m
            toward = light[2] - east * light[0] - north * light[1]
            lit[y, x] = toward / np.sqrt(1.0 + east * east + north * north)


def _ridges(seen: Seen, longest_px: int) -> NDArray[np.bool_]:
    """Return where the pixel above shows sky, or ground far behind."""
    distance = np.where(seen.what == GROUND, seen.distance_m, np.nan)
    # What is nearer than the terrain tells has no edge of its own.
    distance = np.where(seen.what == NEAR, seen.distance_m, distance)
    above = np.full_like(distance, np.nan)
    above[1:] = distance[:-1]
    open_above = np.zeros(distance.shape, dtype=bool)
    # No ground and nothing unknown above: the horizon.
    clear = (seen.what != GROUND) & (seen.what != HOLE) & (seen.what != NEAR)
    open_above[1:] = clear[:-1] & ~((seen.what == BEYOND)[:-1] & (distance[1:] > 2e4))
    with np.errstate(invalid="ignore"):
        step = above - distance
        usual = np.zeros_like(step)
        usual[:-1] = np.fmax(usual[:-1], step[1:])
        usual[1:] = np.fmax(usual[1:], step[:-1])
        jump = step > _JUMP_SHARE * distance + _JUMP_TIMES * np.fmax(usual, 0.0)
    lines = (jump | open_above) & np.isfinite(distance)
    # Stray dashes are ground seen along its own slope, and no ridge.
    parts, _ = ndimage.label(lines, structure=np.ones((3, 3)))
    long = np.bincount(parts.ravel()) >= max(4, longest_px / _SHORTEST)
    lines &= long[parts]
    wide = round(longest_px / _LINE_PX)
    if wide > 1:
        lines = ndimage.binary_dilation(lines, iterations=wide // 2)
        lines &= np.isfinite(distance)
    return np.asarray(lines)
