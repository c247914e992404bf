"""Invent two scans of one plate whose map to one another is known."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

Grey = NDArray[np.float32]
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class InventedPair:
    """Hold a reference, a copy, and the true map from copy to reference."""

    reference: Grey
    copy: Grey
    matrix: Floats
    k1: float

    def true_target(self, points_px: Floats) -> Floats:
        """Carry points of the copy to the reference by the truth [px]."""
        height, width = self.copy.shape
        centre = np.array([width / 2.0, height / 2.0])
        n = (points_px - centre) / (np.hypot(width, height) / 2.0)
        u = points_px + (points_px - centre) * self.k1 * (n**2).sum(-1, keepdims=True)
        above = u @ self.matrix[:2, :2].T + self.matrix[:2, 2]
        return above / (u @ self.matrix[2, :2] + self.matrix[2, 2])[:, None]


def invented_picture(
    rng: np.random.Generator, width_px: int = 640, height_px: int = 480
) -> Grey:
    """Draw hills, fields, houses and grain; nothing repeats."""
    shape = (height_px, width_px)
    picture = np.zeros(shape)
    for size in (2.0, 5.0, 12.0, 30.0):
        picture += ndimage.gaussian_filter(rng.standard_normal(shape), size) * size
    picture = 0.5 + 0.12 * picture / picture.std()
    for _ in range(60):
        x, y = rng.uniform(0, width_px), rng.uniform(0.4 * height_px, height_px)
        w, h = rng.uniform(6, 40, 2)
        box = cv2.boxPoints(((x, y), (w, h), float(rng.uniform(-8, 8))))
        cv2.fillPoly(picture, [box.astype(np.int32)], float(rng.uniform(0.1, 0.95)))
    sky = np.linspace(0.95, 0.8, height_px)[:, None]
    line = 0.3 * height_px + ndimage.gaussian_filter1d(
        rng.standard_normal(width_px).cumsum() * 4.0, 6.0
    )
    land = np.arange(height_px)[:, None] > line
    return np.where(land, np.clip(picture, 0.0, 1.0), sky).astype(np.float32)


def invented_pair(
    seed: int,
    *,
    tilt_deg: float = 0.0,
    turn_deg: float = 0.0,
    stretch: float = 1.0,
    size: float = 1.0,
    k1: float = 0.0,
    mirrored: bool = False,
    keep: tuple[float, float, float, float] = (0.0, 0.0, 1.0, 1.0),
    toned: bool = False,
    negative: bool = False,
    damaged: bool = False,
    screen_px: float = 0.0,
    width_px: int = 640,
    height_px: int = 480,
) -> InventedPair:
    """Make a pair: the copy photographed at an angle, stretched, trimmed, aged.

    `keep` is the part (left, top, right, bottom, as shares) of the reference that the
    copy shows; `stretch` its width over its height against the reference's;
    `screen_px` the pitch of a dot screen.
    """
    rng = np.random.default_rng(seed)
    reference = invented_picture(rng, width_px, height_px)
    left, right = keep[0] * width_px, keep[2] * width_px
    top, bottom = keep[1] * height_px, keep[3] * height_px
    wide, high = round((right - left) * size * stretch), round((bottom - top) * size)
    # Copy to the kept box of the reference, then turned and seen at an angle.
    half = np.array([wide / 2.0, high / 2.0])
    tilt, turn = np.radians([tilt_deg, turn_deg])
    distance = 1.5 * wide
    to_middle = np.array([[1, 0, -half[0]], [0, 1, -half[1]], [0, 0, 1.0]])
    if mirrored:
        to_middle = np.diag([-1.0, 1.0, 1.0]) @ to_middle
    turned = np.array(
        [[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1.0]]
    )
    # A plane leaning away to the right by the tilt, seen from the distance.
    lean = np.array(
        [[1.0, 0, 0], [0, np.cos(tilt), 0], [np.sin(tilt) / distance, 0, np.cos(tilt)]]
    )
    lean /= lean[2, 2]
    scale = np.diag([1.0 / (size * stretch), 1.0 / size, 1.0])
    back = np.array(
        [[1, 0, (left + right) / 2.0], [0, 1, (top + bottom) / 2.0], [0, 0, 1.0]]
    )
    matrix = back @ scale @ turned @ lean @ to_middle
    pair = InventedPair(reference, np.zeros((high, wide), np.float32), matrix, k1)
    x, y = np.meshgrid(np.arange(wide) + 0.5, np.arange(high) + 0.5)
    at = pair.true_target(np.column_stack([x.ravel(), y.ravel()])) - 0.5
    seen = ndimage.map_coordinates(
        reference, at[:, ::-1].T, order=3, mode="constant", cval=0.05
    ).reshape(high, wide)
    copy = _aged(seen, rng, toned, negative, damaged, screen_px)
    grain = 0.02 * rng.standard_normal(reference.shape)
    return InventedPair(
        np.clip(reference + grain, 0, 1).astype(np.float32), copy, matrix, k1
    )


def _aged(
    seen: Floats,
    rng: np.random.Generator,
    toned: bool,
    negative: bool,
    damaged: bool,
    screen_px: float,
) -> Grey:
    high, wide = seen.shape
    seen = np.clip(seen, 0.0, 1.0)
    if toned:
        blotch = ndimage.gaussian_filter(rng.standard_normal(seen.shape), wide / 10.0)
        blotch /= np.abs(blotch).max()
        seen = 0.25 + 0.55 * seen**1.6 + 0.15 * blotch
    if damaged:
        seen = seen.copy()
        for _ in range(40):
            a, b = rng.uniform(0, (wide, high), (2, 2)).astype(int)
            cv2.line(seen, tuple(map(int, a)), tuple(map(int, b)), 0.95, 1)
        for _ in range(12):
            centre = rng.uniform(0, (wide, high)).astype(int)
            radius = int(rng.uniform(0.01, 0.06) * wide)
            cv2.circle(seen, tuple(map(int, centre)), radius, 0.02, -1)
        corner = np.array([[0, 0], [wide // 3, 0], [0, high // 3]], np.int32)
        cv2.fillPoly(seen, [corner], 0.0)
    if screen_px:
        y, x = np.mgrid[:high, :wide]
        wave = np.cos(2 * np.pi * (x + y) / screen_px) + np.cos(
            2 * np.pi * (x - y) / screen_px
        )
        seen = 1.0 / (1.0 + np.exp(-12.0 * (seen - 0.5 + 0.22 * wave)))
    if negative:
        seen = 1.0 - seen
    seen = seen + 0.03 * rng.standard_normal(seen.shape)
    return np.clip(seen, 0.0, 1.0).astype(np.float32)
