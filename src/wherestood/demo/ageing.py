"""Give exposed light the tones, faults and age of a collodion plate."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from wherestood.demo.fields import fractal_field, smooth_field, smooth_line

__all__ = ["aged_plate"]

Array = NDArray[np.float64]


def aged_plate(light: Array, rng: np.random.Generator) -> NDArray[np.uint8]:
    """Return the scanned positive of a plate exposed to ``light`` (sky 1).

    The order is that of the making: lens, coating, printing, then a century and
    a half of handling.
    """
    tone = _printed(_through_lens(light))
    tone = _coated_by_hand(tone, rng)
    tone = _scratched(tone, rng)
    tone = _dusty(tone, rng)
    tone = _ragged_edges(tone, rng)
    return np.asarray(np.clip(np.round(255.0 * tone), 0, 255), dtype=np.uint8)


def _radius(shape: tuple[int, int]) -> Array:
    """Return distance from the middle over the half-diagonal."""
    rows = np.linspace(-1.0, 1.0, shape[0])[:, None] * shape[0]
    columns = np.linspace(-1.0, 1.0, shape[1])[None, :] * shape[1]
    return np.asarray(np.hypot(rows, columns) / np.hypot(*shape))


def _through_lens(light: Array) -> Array:
    """Lose light and sharpness towards the corners."""
    radius = _radius(_shape(light))
    blurred = ndimage.gaussian_filter(light, 1.6)
    soft = np.clip((radius - 0.45) / 0.55, 0.0, 1.0)
    mixed = light * (1.0 - soft) + blurred * soft
    return np.asarray(mixed * (1.0 - 0.28 * radius**3))


def _printed(light: Array) -> Array:
    """Map light to tone with the short shoulder of an albumen print."""
    exposed = 1.0 - np.exp(-2.1 * np.clip(light, 0.0, None) ** 0.95)
    return np.asarray(0.085 + 0.96 * exposed)


def _coated_by_hand(tone: Array, rng: np.random.Generator) -> Array:
    """Vary density as collodion flows: clouds, and streaks to the draining corner."""
    shape = _shape(tone)
    coarse = (shape[0] // 3 + 1, shape[1] // 3 + 1)
    clouds = fractal_field(coarse, max(coarse) / 2.0, rng, roughness=1.7)
    streaks = ndimage.gaussian_filter(rng.standard_normal(coarse), (1.2, 70.0))
    streaks = ndimage.rotate(streaks, 32.0, reshape=False, order=1, mode="wrap")
    field = 0.013 * clouds + 0.0035 * streaks / streaks.std()
    field = ndimage.zoom(field, 3, order=1)[: shape[0], : shape[1]]
    return np.asarray(tone * (1.0 + field))


def _scratched(tone: Array, rng: np.random.Generator) -> Array:
    """Draw scratches through the film: black where a negative prints, some pale."""
    rows, columns = tone.shape
    depth = np.zeros_like(tone)
    for _ in range(8):
        length = int(rng.uniform(0.03, 0.35) * columns)
        angle = rng.normal(0.3, 0.8)
        bend = 3.0 * smooth_line(length, length / 2.0, rng)
        along = np.arange(length)
        y = rng.uniform(0, rows) + along * np.sin(angle) + bend * np.cos(angle)
        x = rng.uniform(0, columns) + along * np.cos(angle) - bend * np.sin(angle)
        kept = (y >= 0) & (y < rows - 1) & (x >= 0) & (x < columns - 1)
        strength = rng.choice([-0.3, -0.18, 0.3]) * (rng.random(length) < 0.85)
        depth[y[kept].astype(int), x[kept].astype(int)] += strength[kept]
    return np.asarray(tone + 1.6 * ndimage.gaussian_filter(depth, 0.8))


def _dusty(tone: Array, rng: np.random.Generator) -> Array:
    """Strew specks: pale from dust on the negative, black from holes in the film."""
    rows, columns = tone.shape
    result = tone.copy()
    for _ in range(int(tone.size / 19000)):
        reach = float(np.exp(rng.normal(0.3, 0.5)))
        y, x = rng.uniform(0, rows), rng.uniform(0, columns)
        half = int(3 * reach) + 2
        box = (
            slice(max(0, int(y) - half), min(rows, int(y) + half + 1)),
            slice(max(0, int(x) - half), min(columns, int(x) + half + 1)),
        )
        yy, xx = np.mgrid[box]
        away = np.hypot(yy + 0.5 - y, (xx + 0.5 - x) * rng.uniform(0.6, 1.0))
        speck = 1.0 / (1.0 + np.exp(2.5 * (away - reach)))
        target = 0.97 if rng.random() < 0.75 else 0.08
        result[box] += (target - result[box]) * speck * rng.uniform(0.4, 1.0)
    return result


def _ragged_edges(tone: Array, rng: np.random.Generator) -> Array:
    """Leave the film short of the glass, with stains creeping in from the sides."""
    rows, columns = tone.shape
    edge_px = np.minimum(
        np.minimum(
            _side(columns, rng)[None, :] + np.arange(rows)[:, None],
            _side(columns, rng)[None, :] + np.arange(rows)[::-1, None],
        ),
        np.minimum(
            _side(rows, rng)[:, None] + np.arange(columns)[None, :],
            _side(rows, rng)[:, None] + np.arange(columns)[None, ::-1],
        ),
    )
    edge_px = np.minimum(edge_px, _bare_corner(rows, columns, rng))
    stain = smooth_field((rows // 8 + 1, columns // 8 + 1), 9.0, rng)
    stain = ndimage.zoom(stain, 8, order=1)[:rows, :columns]
    creep = np.exp(-np.clip(edge_px, 0.0, None) / 38.0)
    stained = tone * (1.0 - creep * np.clip(0.3 + 0.3 * stain, 0.0, 0.75))
    fringe = 0.16 * np.exp(-(((edge_px - 5.0) / 2.5) ** 2))
    film = 1.0 / (1.0 + np.exp(-1.3 * edge_px))
    bare = 0.055 + 0.01 * stain
    return np.asarray((stained + fringe) * film + bare * (1.0 - film))


def _side(length_px: int, rng: np.random.Generator) -> Array:
    """Return minus the width of bare glass along a side [px]."""
    broad = 9.0 * smooth_line(length_px, 300.0, rng)
    narrow = 2.5 * smooth_line(length_px, 25.0, rng)
    fine = 0.8 * smooth_line(length_px, 5.0, rng)
    return -np.clip(17.0 + broad + narrow + fine, 3.0, None)


def _bare_corner(rows: int, columns: int, rng: np.random.Generator) -> Array:
    """Return distance from the corner by which the plate was held [px]."""
    down, across = np.ogrid[:rows, :columns]
    wave = 5.0 * smooth_line(rows, 40.0, rng)[:, None]
    held_px = 0.045 * columns
    return np.asarray((rows - 1 - down) * 0.9 + across * 0.75 - held_px + wave)


def _shape(tone: Array) -> tuple[int, int]:
    return int(tone.shape[0]), int(tone.shape[1])
