"""Paint invented plates whose skyline is known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage.draw import disk, line_aa, polygon


@dataclass(frozen=True)
class InventedPlate:
    """Hold a painted plate and the truth about it.

    Attributes
    ----------
    grey : (height, width) float32 array
        Upright positive, 0 to 1.
    skyline_px : (width,) float64 array
        Row where sky meets the hills, before anything stood in front [px].
    hidden : (width,) bool array
        True where a house, tree or mast stands against the sky.
    """

    grey: NDArray[np.float32]
    skyline_px: NDArray[np.float64]
    hidden: NDArray[np.bool_]


def _smooth_noise(
    rng: np.random.Generator, shape: tuple[int, int], scale: float
) -> NDArray[np.float64]:
    coarse = rng.normal(size=(int(shape[0] / scale) + 3, int(shape[1] / scale) + 3))
    y = np.linspace(0, coarse.shape[0] - 1, shape[0])
    x = np.linspace(0, coarse.shape[1] - 1, shape[1])
    return ndimage.map_coordinates(
        coarse, np.meshgrid(y, x, indexing="ij"), order=3, mode="nearest"
    )


def _ridge(rng: np.random.Generator, width: int, rough: float) -> NDArray[np.float64]:
    """Return a line of self-similar roughness, sd about 1."""
    x = np.arange(width) / width
    line = np.zeros(width)
    for octave in range(1, 9):
        waves = rng.normal(size=2) * 2.0 ** (-rough * octave)
        phase = rng.uniform(0, 2 * np.pi, 2)
        frequency = 2**octave * rng.uniform(0.7, 1.3, 2) / 2
        line += (waves * np.sin(2 * np.pi * frequency * x[:, None] + phase)).sum(axis=1)
    return line / max(float(line.std()), 1e-9)


def paint(
    seed: int,
    *,
    width: int = 1200,
    height: int = 900,
    haze: float = 0.25,
    stain: float = 0.25,
    clouds: float = 0.0,
    trees: int = 0,
    houses: int = 0,
    masts: int = 0,
    dust: int = 60,
    grain: float = 0.012,
) -> InventedPlate:
    """Paint hills under a blank sky, with what time and people added.

    Parameters
    ----------
    haze : float
        Tone of the farthest hills below the sky's; small is faint.
    stain : float
        How far the edges of the plate are darkened or fogged.
    clouds : float
        Contrast of clouds; 0 is the blank sky of a blue-sensitive plate.
    """
    rng = np.random.default_rng(seed)
    rows = np.arange(height)[:, None] + 0.5
    sky_tone = 0.8
    picture = np.full((height, width), sky_tone)
    picture += 0.04 * (rows / height - 0.3)
    if clouds:
        cloud = _smooth_noise(rng, (height, width), 90)
        cloud += 0.5 * _smooth_noise(rng, (height, width), 30)
        picture += clouds * cloud * np.clip(1.3 - rows / (0.45 * height), 0.15, 1.0)
    base = rng.uniform(0.3, 0.45) * height
    skyline = np.full(width, float(height))
    layers = 3
    for layer in range(layers):
        relief = rng.uniform(0.02, 0.07) * height * (1.0 + 0.5 * layer)
        line = base + layer * 0.07 * height - relief * _ridge(rng, width, 1.2)
        line = np.clip(line, 0.08 * height, 0.97 * height)
        tone = sky_tone - haze - layer * (0.75 - haze - 0.1) * 0.35
        texture = 0.03 * _smooth_noise(rng, (height, width), 40)
        cover = np.clip(rows - line[None, :] + 0.5, 0.0, 1.0)
        picture = picture * (1 - cover) + cover * (tone + texture)
        skyline = np.minimum(skyline, line)
    hidden = np.zeros(width, bool)
    for _ in range(houses):
        _house(rng, picture, skyline, hidden)
    for _ in range(trees):
        _tree(rng, picture, skyline, hidden)
    for _ in range(masts):
        _mast(rng, picture, skyline, hidden)
    picture = ndimage.gaussian_filter(picture, 0.8)
    picture *= _stains(rng, (height, width), stain)
    _damage(rng, picture, dust)
    picture += grain * rng.normal(size=picture.shape)
    return InventedPlate(np.clip(picture, 0, 1).astype(np.float32), skyline, hidden)


def _against_sky(
    outline: NDArray[np.bool_], skyline: NDArray[np.float64]
) -> NDArray[np.bool_]:
    rows = np.arange(outline.shape[0])[:, None] + 0.5
    return (outline & (rows < skyline[None, :] + 1.0)).any(axis=0)


def _house(rng, picture, skyline, hidden) -> None:  # type: ignore[no-untyped-def]
    height, width = picture.shape
    across = rng.uniform(0.08, 0.25) * width
    left = rng.uniform(-0.1, 1.0 - 0.5 * across / width) * width
    right = left + across
    here = skyline[int(np.clip(left, 0, width - 1)) : int(np.clip(right, 1, width))]
    eaves = float(here.min()) - rng.uniform(0.0, 0.08) * height
    apex = eaves - rng.uniform(0.03, 0.1) * height
    foot = min(height - 1.0, eaves + 0.4 * height)
    if rng.random() < 0.5:  # gable towards us
        x = [left, left, (left + right) / 2, right, right]
        y = [foot, eaves, apex, eaves, foot]
    else:  # ridge along the picture, hipped or plain
        hip = rng.choice([0.0, 0.2 * across])
        x = [left, left, left + hip, right - hip, right, right]
        y = [foot, eaves, apex, apex, eaves, foot]
    outline = np.zeros(picture.shape, bool)
    outline[polygon(np.array(y), np.array(x), picture.shape)] = True
    rows = np.nonzero(outline)
    picture[rows] = rng.uniform(0.25, 0.5) + 0.02 * np.sin(rows[0] / 2.0)
    hidden |= _against_sky(outline, skyline)


def _tree(rng, picture, skyline, hidden) -> None:  # type: ignore[no-untyped-def]
    width = picture.shape[1]
    crown = rng.uniform(0.03, 0.08) * width
    x = rng.uniform(0.0, 1.0) * width
    here = skyline[int(np.clip(x, 0, width - 1))]
    y = here - rng.uniform(0.2, 0.9) * crown
    outline = np.zeros(picture.shape, bool)
    for _ in range(25):
        angle, away = rng.uniform(0, 2 * np.pi), crown * rng.uniform(0.2, 0.75)
        centre = (y + away * np.sin(angle) * 1.2, x + away * np.cos(angle))
        outline[disk(centre, crown * rng.uniform(0.2, 0.35), shape=picture.shape)] = 1
    trunk = polygon(
        np.array([y, y, y + 3 * crown, y + 3 * crown]),
        np.array([x - 4, x + 4, x + 5, x - 5]),
        picture.shape,
    )
    outline[trunk] = True
    tone = rng.uniform(0.08, 0.2) + 0.05 * _smooth_noise(rng, picture.shape, 7)
    picture[outline] = tone[outline]
    hidden |= _against_sky(outline, skyline)


def _mast(rng, picture, skyline, hidden) -> None:  # type: ignore[no-untyped-def]
    height, width = picture.shape
    x = int(rng.uniform(0.05, 0.95) * width)
    top = max(5, int(skyline[x] - rng.uniform(0.08, 0.2) * height))
    half = int(rng.integers(1, 4))
    outline = np.zeros(picture.shape, bool)
    outline[top : int(skyline[x] + 0.2 * height), x - half : x + half + 1] = True
    picture[outline] = 0.15
    hidden |= _against_sky(outline, skyline)


def _stains(
    rng: np.random.Generator, shape: tuple[int, int], strength: float
) -> NDArray[np.float64]:
    height, width = shape
    y, x = np.arange(height)[:, None] + 0.5, np.arange(width)[None, :] + 0.5
    inside = np.minimum(np.minimum(x, width - x), np.minimum(y, height - y)) / width
    reach = 0.03 * np.exp(0.5 * _smooth_noise(rng, shape, 120))
    sign = rng.choice([-1.0, -1.0, 0.6])
    edge = 1.0 + sign * strength * 2.0 * np.exp(-inside / reach)
    return np.clip(edge, 0.05, 2.0) * (1.0 + 0.03 * _smooth_noise(rng, shape, 250))


def _damage(rng: np.random.Generator, picture: NDArray[np.float64], dust: int) -> None:
    height, width = picture.shape
    for _ in range(dust):
        centre = (rng.uniform(0, height), rng.uniform(0, width))
        spot = disk(centre, rng.uniform(1.0, 3.0), shape=picture.shape)
        picture[spot] = rng.choice([0.1, 1.0])
    for _ in range(3):
        y, x = rng.uniform(0.05, 0.9) * height, rng.uniform(0.05, 0.9) * width
        y1 = np.clip(y + rng.uniform(-150, 150), 0, height - 1)
        x1 = np.clip(x + rng.uniform(-150, 150), 0, width - 1)
        rr, cc, _ = line_aa(int(y), int(x), int(y1), int(x1))
        picture[rr, cc] = 1.0
