"""Judge whether two scans show one picture where a map lays them together."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from wherestood.plate.copies.warp import Warp

__all__ = ["agreement", "laid_over"]

Grey = NDArray[np.float32]

_LOOK_PX = 400
_BLOCK_PX = 25
_LEAST_SHARE = 0.8
_LEAST_TEXTURE = 0.01
_EVEN_PX = 12.0


def agreement(source: Grey, target: Grey, warp: Warp) -> float:
    """Return the median likeness of two pictures where they overlap.

    Parameters
    ----------
    source, target : (height, width) float32 arrays
        Both pictures, reduced or not.
    warp : Warp
        Carries whole pixels of the source to whole pixels of the target.

    Returns
    -------
    float
        Correlation of tones, broad light and shade taken off, in blocks of a
        sixteenth of the longer side, their median: 1 the same, 0 nothing alike,
        -1 a negative. 0 where nothing overlaps or nothing shows.
    """
    share = _LOOK_PX / max(target.shape)
    shape = (
        max(_BLOCK_PX, round(target.shape[0] * share)),
        max(_BLOCK_PX, round(target.shape[1] * share)),
    )
    seen = laid_over(source, warp, shape)
    under = cv2.resize(target, shape[::-1], interpolation=cv2.INTER_AREA)
    known = np.isfinite(seen)
    first, second = (
        _evened(np.where(known, picture, 0.0).astype(np.float32), known)
        for picture in (seen, under)
    )
    likeness = []
    for top in range(0, shape[0] - _BLOCK_PX + 1, _BLOCK_PX):
        for left in range(0, shape[1] - _BLOCK_PX + 1, _BLOCK_PX):
            block = slice(top, top + _BLOCK_PX), slice(left, left + _BLOCK_PX)
            inside = known[block]
            if inside.mean() < _LEAST_SHARE:
                continue
            a, b = first[block][inside], second[block][inside]
            if min(a.std(), b.std()) > _LEAST_TEXTURE:
                likeness.append(float(np.corrcoef(a, b)[0, 1]))
    return float(np.median(likeness)) if likeness else 0.0


def laid_over(
    source: Grey,
    warp: Warp,
    shape: tuple[int, int],
    window_px: tuple[float, float, float, float] | None = None,
) -> Grey:
    """Draw a source picture as it lies on the target.

    Parameters
    ----------
    source : (height, width) float32 array
        The picture, reduced or not.
    warp : Warp
        Carries whole pixels of the source to whole pixels of the target.
    shape : (rows, columns)
        Size of the drawing.
    window_px : (left, top, right, bottom), optional
        Part of the target's plane that it shows; the whole target if left out [px].

    Returns
    -------
    (rows, columns) float32 array
        NaN where the source shows nothing.
    """
    frame = warp.target
    if window_px is None:
        window_px = (0.0, 0.0, 2.0 * frame.x_px, 2.0 * frame.y_px)
    left, top, right, bottom = window_px
    x = left + (np.arange(shape[1]) + 0.5) * (right - left) / shape[1]
    y = top + (np.arange(shape[0]) + 0.5) * (bottom - top) / shape[0]
    places = warp.backward(np.stack(np.meshgrid(x, y), axis=-1))
    height, width = source.shape
    factor = (2.0 * warp.source.x_px / width, 2.0 * warp.source.y_px / height)
    # Nodes much wider apart than the source's pixels would alias: shrink it first.
    step = (right - left) / shape[1] / float(np.sqrt(_area_ratio(warp)))
    shrink = max(1.0, step / max(factor))
    small: Grey = source
    if shrink > 1.5:
        size = (max(1, round(width / shrink)), max(1, round(height / shrink)))
        small = np.asarray(
            cv2.resize(source, size, interpolation=cv2.INTER_AREA), dtype=np.float32
        )
    scale = (
        (small.shape[1] / (2.0 * warp.source.x_px)),
        (small.shape[0] / (2.0 * warp.source.y_px)),
    )
    at = (places * scale - 0.5).astype(np.float32)
    at[~np.isfinite(at)] = -10.0
    drawn = cv2.remap(
        small,
        at[..., 0],
        at[..., 1],
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=float("nan"),
    )
    return np.asarray(drawn, dtype=np.float32)


def _area_ratio(warp: Warp) -> float:
    """Return target area over source area at the source's centre."""
    centre = np.array([warp.source.x_px, warp.source.y_px])
    return max(abs(float(np.linalg.det(warp.jacobian(centre)))), 1e-12)


def _evened(picture: Grey, known: NDArray[np.bool_]) -> Grey:
    """Take broad light and shade off, looking only at what is known."""
    weight = cv2.GaussianBlur(known.astype(np.float32), (0, 0), _EVEN_PX)
    broad = cv2.GaussianBlur(picture, (0, 0), _EVEN_PX) / np.maximum(weight, 1e-3)
    return np.asarray(np.where(known, picture - broad, 0.0), dtype=np.float32)
