"""Follow every pixel of a plate to the ground, stripe by stripe from the bottom up.

A ray a row higher passes over all that the ray below it passed, so that it is followed
from shortly before where that one ended. Where it begins under the ground after all, as
a camera with roll may make it, it is followed from the beginning.

Symbols: see `wherestood.ground.cameras`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numba
import numpy as np
from numpy.typing import NDArray

from wherestood.ground.cameras import PlateCameras
from wherestood.ground.mapping import Mapping
from wherestood.ground.standing import central_standing
from wherestood.terrain.meet import (
    GROUND,
    NEAR,
    SolidGround,
    nearest_told_m,
    walk_to_ground,
)

__all__ = ["Stripe", "follow_pixels", "whole_plate"]

Array = NDArray[np.float64]
#: Rows of a stripe: with its working arrays some 100 MB at 12 000 px across.
_ROWS = 256
#: A ray begins this share before the end of the one below it, and this many cells.
_BACK_SHARE, _BACK_CELLS = 0.98, 1.0


@dataclass(frozen=True)
class Stripe:
    """Hold some rows of the plate on the ground.

    Attributes
    ----------
    first_row : int
        The topmost of them.
    distance_m, east_m, north_m : (rows, width) float32 arrays
        From the camera along the ground, and the place in frame metres; NaN where
        no ground is met [m].
    angle_rad : (rows, width) float32 array
        Between the ray and the ground [rad].
    what : (rows, width) int8 array
        What became of the ray (`wherestood.terrain.meet`).
    """

    first_row: int
    distance_m: NDArray[np.float32]
    east_m: NDArray[np.float32]
    north_m: NDArray[np.float32]
    angle_rad: NDArray[np.float32]
    what: NDArray[np.int8]


@numba.njit(cache=True, nogil=True, parallel=True, error_model="numpy")
def _fill(  # type: ignore[no-untyped-def]
    nodes, lids, unknown, down, top, highest, cell_m, x0, y0, z0, kappa, start, stop,
    lens, axes, x_px, y_px, below, distance, dx, dy, sine, became,
):  # fmt: skip
    """Fill a stripe, columns side by side; ``below`` is where the row below ended."""
    c, rise, cross, k1, vertical, two, three, width, height, half_square, hand = lens
    rows, columns = x_px.shape
    for i in numba.prange(columns):
        last = below[i]
        for r in range(rows):
            j = rows - 1 - r
            right_of = (x_px[j, i] - 0.5 * width) * hand
            up_of = 0.5 * height - y_px[j, i]
            across = right_of / (0.5 * width)
            a = right_of + cross
            b = (
                up_of * (1.0 + vertical)
                + two * (1.5 * across * across - 0.5)
                + three * (2.5 * across * across - 1.5) * across
                + rise
            )
            bent = 1.0 + k1 * (a * a + b * b) / half_square
            a *= bent
            b *= bent
            east = a * axes[0, 0] + b * axes[1, 0] + c * axes[2, 0]
            north = a * axes[0, 1] + b * axes[1, 1] + c * axes[2, 1]
            up = a * axes[0, 2] + b * axes[1, 2] + c * axes[2, 2]
            level = np.sqrt(east * east + north * north)
            east /= level
            north /= level
            tangent = up / level * cell_m
            begin = start
            if last == last:
                begin = max(start, last * _BACK_SHARE - _BACK_CELLS)
            what, at, angle = walk_to_ground(
                nodes, lids, unknown, down, top, highest, cell_m, x0, y0, z0, east,
                north, tangent, kappa, begin, stop,
            )  # fmt: skip
            if what == NEAR and begin > start:
                what, at, angle = walk_to_ground(
                    nodes, lids, unknown, down, top, highest, cell_m, x0, y0, z0, east,
                    north, tangent, kappa, start, stop,
                )  # fmt: skip
            last = at if what == GROUND else np.nan
            distance[j, i] = last
            dx[j, i] = east
            dy[j, i] = north
            sine[j, i] = angle
            became[j, i] = what
        below[i] = last


def whole_plate(mapping: Mapping, rows: int = _ROWS) -> Iterator[Stripe]:
    """Yield the whole plate on the ground, the lowest stripe first.

    Parameters
    ----------
    mapping : Mapping
        Cameras, terrain and doubts; the camera in the middle of all is used, on its
        own ground (`wherestood.ground.standing`).
    rows : int
        Rows of a stripe.

    Notes
    -----
    Where `wherestood.ground.points` would flag a point as grazing the angle says so;
    the doubt of the fix is not in it.
    """
    one = central_standing(mapping)
    yield from follow_pixels(
        one.ground, one.cameras, mapping.scan_px, mapping.scan_px,
        mapping.doubts.farthest_m, rows,
    )  # fmt: skip


def follow_pixels(
    ground: SolidGround,
    camera: PlateCameras,
    scan_px: tuple[int, int],
    size_px: tuple[int, int],
    farthest_m: float,
    rows: int = _ROWS,
) -> Iterator[Stripe]:
    """Yield a picture of so many pixels on the ground, the lowest stripe first.

    Parameters
    ----------
    ground : SolidGround
    camera : PlateCameras
        One camera.
    scan_px, size_px : (int, int)
        Width and height of the scan and of the picture of it that is followed [px].
    farthest_m : float
        Rays are given up there [m].
    rows : int
        Rows of a stripe.
    """
    width, height = size_px
    across, down = scan_px[0] / width, scan_px[1] / height
    one = camera.draws
    terrain, pyramid = ground.model.terrain, ground.pyramid
    cell = terrain.cell_m
    lens = (
        float(one.principal_distance_px[0]), float(one.rise_px[0]),
        float(one.cross_px[0]), float(one.k1[0]), float(one.vertical_scale[0]),
        float(one.warp_two_px[0]), float(one.warp_three_px[0]),
        float(camera.width_px), float(camera.height_px),
        0.25 * (camera.width_px**2 + camera.height_px**2),
        -1.0 if one.reversed[0] else 1.0,
    )  # fmt: skip
    axes = _axes(float(one.bearing_rad[0]), float(one.tilt_rad[0]), one.roll_rad[0])
    x0 = (float(one.east_m[0]) - terrain.west_m) / cell
    y0 = (float(one.north_m[0]) - terrain.south_m) / cell
    start = nearest_told_m(terrain.source_cell_m or cell) / cell
    below = np.full(width, np.nan)
    for first in range(((height - 1) // rows) * rows, -1, -rows):
        count = min(rows, height - first)
        x, y = np.meshgrid(
            (np.arange(width) + 0.5) * across, (first + np.arange(count) + 0.5) * down
        )
        if camera.straight is not None:
            laid = camera.straight.to_plate(np.stack((x, y), axis=-1))
            x, y = (
                np.ascontiguousarray(laid[..., 0]),
                np.ascontiguousarray(laid[..., 1]),
            )
        found = [np.empty((count, width), np.float32) for _ in range(4)]
        distance, dx, dy, sine = found
        became = np.empty((count, width), np.int8)
        _fill(
            pyramid.nodes, pyramid.lids, ground.unknown, pyramid.down,
            pyramid.top, ground.highest_m, cell, x0, y0, float(one.lens_m[0]),
            ground.model.curvature_per_m * cell * cell, start,
            farthest_m / cell, lens, axes, x, y, below, distance, dx, dy, sine, became,
        )  # fmt: skip
        distance *= np.float32(cell)
        yield Stripe(
            first,
            distance,
            np.float32(one.east_m[0]) + distance * dx,
            np.float32(one.north_m[0]) + distance * dy,
            np.arcsin(np.clip(sine, -1.0, 1.0)),
            became,
        )


def _axes(bearing: float, tilt: float, roll: float) -> Array:
    """Return rows right, up, forward; columns east, north, up."""
    sb, cb, st, ct = np.sin(bearing), np.cos(bearing), np.sin(tilt), np.cos(tilt)
    sr, cr = np.sin(roll), np.cos(roll)
    level, square = np.array([cb, -sb, 0.0]), np.array([-sb * st, -cb * st, ct])
    forward = np.array([sb * ct, cb * ct, st])
    return np.stack([level * cr - square * sr, square * cr + level * sr, forward])
