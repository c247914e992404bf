"""Find the edge that a line drawn roughly by hand follows.

Symbols: g step of tone from just above to just below a pixel.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from wherestood.errors import SkylineError
from wherestood.plate.best_path import cheapest_line
from wherestood.plate.skyline import READ_SD_SHARE

__all__ = ["SnappedLine", "snap_line"]

Array = NDArray[np.float64]
#: Reads (left, top, width, height, factor): tones 0 to 1 of a window, each pixel the
#: mean of factor x factor of the scan's.
ReadWindow = Callable[[int, int, int, int, int], NDArray[np.float32]]
_WIDEST_PX = 1500
_SMOOTH_PX = 1.2
_STEP_COST, _JUMP_COST = 0.08, 1.5
#: An edge of so many times the window's usual step of tone is one without doubt.
_CLEAR = 4.0


@dataclass(frozen=True)
class SnappedLine:
    """Hold a line along an edge, x rising: its points and their doubt [px]."""

    x_px: Array
    y_px: Array
    sd_px: Array


def snap_line(
    read: ReadWindow,
    size_px: tuple[int, int],
    points_px: Sequence[tuple[float, float]],
    *,
    reach_px: float,
) -> SnappedLine:
    """Find the edge along points that a person set.

    Parameters
    ----------
    read : callable
        Reads a window of the scan, its tones a positive's.
    size_px : (int, int)
        Width and height of the scan [px].
    points_px : sequence of (x, y)
        Points that the line passes through, x rising [px].
    reach_px : float
        How far the line may stray from the straight way between them [px].

    Returns
    -------
    SnappedLine
        One point a pixel of what is read, the first and last point included.

    Raises
    ------
    SkylineError
        If x does not rise, or a point lies outside the scan.

    Notes
    -----
    The cheapest line by dynamic programming, where crossing a pixel costs less the
    more the tone falls from above to below; settled below a pixel by a parabola
    through the step of tone about it.
    """
    points = np.asarray(points_px, dtype=np.float64)
    width, height = size_px
    if len(points) < 2 or not (np.diff(points[:, 0]) > 0.0).all():
        raise SkylineError(
            "The points of the line do not run from left to right.",
            "Set them from left to right.",
        )
    outside = (points < 0.0) | (points > np.array([width, height]))
    if outside.any():
        raise SkylineError(
            "A point of the line lies outside the scan.", "Set it on the scan."
        )
    span = points[-1, 0] - points[0, 0]
    factor = 1
    while span / factor > _WIDEST_PX:
        factor *= 2
    left = max(int(points[0, 0]) - 2 * factor, 0)
    right = min(int(np.ceil(points[-1, 0])) + 2 * factor, width)
    reach = max(reach_px, 4.0 * factor)
    top = max(int(points[:, 1].min() - 2 * reach), 0)
    bottom = min(int(np.ceil(points[:, 1].max() + 2 * reach)), height)
    tones = read(left, top, right - left, bottom - top, factor)
    x_px = left + (np.arange(tones.shape[1], dtype=np.float64) + 0.5) * factor
    inside = (x_px > points[0, 0]) & (x_px < points[-1, 0])
    guess: Array = np.asarray(
        (np.interp(x_px, points[:, 0], points[:, 1]) - top) / factor, dtype=np.float64
    )
    fall = _fall(tones)
    usual = max(float(np.median(np.abs(fall))) * 1.4826, 1e-4)
    # Each column by its own clearest edge, so that the line lies on its crest.
    crest = np.maximum(fall.max(axis=0), _CLEAR * usual)
    cost = 1.0 - np.clip(fall / crest[None, :], -1.0, 1.0)
    _bar(cost, x_px, guess, points, (left, top), factor, reach)
    rows = cheapest_line(
        np.ascontiguousarray(cost.T, dtype=np.float32), _STEP_COST, _JUMP_COST
    )
    y_px = top + (_settled(fall, rows) + 0.5) * factor
    strength = fall[rows, np.arange(rows.size)] / usual
    clear_px = max(0.5 * factor, READ_SD_SHARE * width * 0.5)
    sd_px = clear_px * np.clip(_CLEAR / np.maximum(strength, 0.5), 1.0, 6.0)
    ends = points[[0, -1]]
    return SnappedLine(
        np.concatenate(([ends[0, 0]], x_px[inside], [ends[1, 0]])),
        np.concatenate(([ends[0, 1]], y_px[inside], [ends[1, 1]])),
        np.concatenate(([clear_px], sd_px[inside], [clear_px])),
    )


def _fall(tones: NDArray[np.float32]) -> Array:
    """Return by how much tones fall downwards, smoothed along and across."""
    smooth = ndimage.gaussian_filter(tones.astype(np.float64), _SMOOTH_PX)
    return np.asarray(-np.gradient(smooth, axis=0))


def _bar(
    cost: Array,
    x_px: Array,
    guess: Array,
    points: Array,
    corner: tuple[int, int],
    factor: int,
    reach: float,
) -> None:
    """Keep the line near the way drawn, and on the points that were set."""
    rows = np.arange(cost.shape[0])[:, None]
    off = np.abs(rows + 0.5 - guess[None, :])
    cost[off > reach / factor] = np.inf
    # Farther from the drawn way costs a little, so that a tie goes to the hand.
    cost += 0.3 * (off * factor / reach) ** 2
    for x, y in points:
        column = int(np.clip(np.argmin(np.abs(x_px - x)), 0, cost.shape[1] - 1))
        row = int(np.clip((y - corner[1]) / factor, 0, cost.shape[0] - 1))
        kept = cost[row, column]
        cost[:, column] = np.inf
        cost[row, column] = kept if np.isfinite(kept) else 1.0


def _settled(fall: Array, rows: NDArray[np.int32]) -> Array:
    """Return rows moved to the crest of a parabola through three steps of tone."""
    columns = np.arange(rows.size)
    inner = np.clip(rows, 1, fall.shape[0] - 2)
    above, at, below = (fall[inner + k, columns] for k in (-1, 0, 1))
    bend = above - 2.0 * at + below
    with np.errstate(divide="ignore", invalid="ignore"):
        shift = 0.5 * (above - below) / bend
    shift = np.where((bend < 0.0) & (np.abs(shift) <= 0.5), shift, 0.0)
    return np.asarray(rows + np.where(inner == rows, shift, 0.0))
