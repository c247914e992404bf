"""Settle the skyline below one pixel, at the full size of the scan."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from wherestood.plate.line_costs import MOST_DROP

__all__ = ["RefinedLine", "refine_line"]

Window = Callable[[int, int, int, int], NDArray[np.float32]]
Line = NDArray[np.float64]

CHUNK_PX = 512
REACH_STEPS = 6.0  # in pixels of the reduced image
CLEAR_OF_EDGE_STEPS = 2.0
# A scan's grain, its sharpening and what the eye calls the edge differ by about
# half a pixel of the reduced image, however clean the profile (measured on
# invented plates of known skyline).
FLOOR_STEPS = 0.5
MAD_TO_SD = 1.4826


@dataclass(frozen=True)
class RefinedLine:
    """Hold what the full-size scan says of each sample.

    Attributes
    ----------
    y_px, sd_px : (n,) float64 array
        Place and standard error [px]; NaN where no edge was found.
    contrast_sd : (n,) float64 array
        Step of tone from sky to land over the sky's grain.
    """

    y_px: Line
    sd_px: Line
    contrast_sd: Line


def refine_line(
    window: Window, size_px: tuple[int, int], line_px: Line, steps: tuple[float, float]
) -> RefinedLine:
    """Find the half-way tone between sky and land near a first line.

    Parameters
    ----------
    window : callable
        ``window(left, top, width, height)`` reads (height, width) pixels.
    size_px : (int, int)
        Width and height of the scan [px].
    line_px : (n,) float64 array
        First line, one value for each of n equal columns across the scan [px].
    steps : (float, float)
        Full-size pixels to one of the reduced image, across and down.

    Returns
    -------
    RefinedLine
        One value a column of the first line.

    Notes
    -----
    Profiles are read down every full-size column, shifted to follow the first
    line, and averaged along it over one reduced column; the crossing of the mean
    of the sky's tone and that of the land where it begins is the edge.
    The standard error is grain over the profile's steepness, with a floor of half
    a reduced pixel.
    """
    width, height = size_px
    reach = max(6, round(REACH_STEPS * steps[1]))
    centre = (np.arange(line_px.size) + 0.5) * steps[0]
    guess = np.interp(np.arange(width) + 0.5, centre, line_px)
    edge = np.full(width, np.nan)
    error = np.full(width, np.nan)
    contrast = np.zeros(width)
    for left in range(0, width, CHUNK_PX):
        right = min(width, left + CHUNK_PX)
        pad = min(left, 8), min(width - right, 8)
        span = slice(left - pad[0], right + pad[1])
        profiles = _profiles(window, height, span, guess[span], reach)
        found = _crossings(profiles, steps)
        inner = slice(pad[0], pad[0] + right - left)
        edge[left:right] = np.floor(guess[left:right]) - reach + found.y_px[inner]
        error[left:right] = found.sd_px[inner]
        contrast[left:right] = found.contrast_sd[inner]
    return _per_column(edge, error, contrast, line_px.size, steps)


def _profiles(
    window: Window, height: int, span: slice, guess: Line, reach: int
) -> NDArray[np.float64]:
    """Read the (columns, 2 reach) profiles centred on the first line."""
    first = np.floor(guess).astype(int) - reach
    top = int(np.clip(first.min(), 0, height - 1))
    bottom = int(np.clip(first.max() + 2 * reach, top + 1, height))
    pixels = window(span.start, top, span.stop - span.start, bottom - top)
    rows = first[:, None] + np.arange(2 * reach)[None, :] - top
    kept = np.clip(rows, 0, pixels.shape[0] - 1)
    return pixels[kept, np.arange(pixels.shape[1])[:, None]].astype(np.float64)


def _crossings(
    profiles: NDArray[np.float64], steps: tuple[float, float]
) -> RefinedLine:
    count = profiles.shape[1]
    clear = max(2, round(CLEAR_OF_EDGE_STEPS * steps[1]))
    middle = count // 2
    smooth = ndimage.gaussian_filter1d(profiles, 0.6 * steps[0], axis=0)
    smooth = ndimage.gaussian_filter1d(smooth, 0.35 * steps[1], axis=1)
    above = np.median(smooth[:, : middle - clear], axis=1)
    below = np.median(smooth[:, middle + clear : middle + 3 * clear], axis=1)
    grain = MAD_TO_SD * np.median(
        np.abs(profiles[:, : middle - clear] - above[:, None]), axis=1
    )
    grain = np.maximum(ndimage.median_filter(grain, 31, mode="nearest"), 1e-4)
    row = np.arange(profiles.shape[0])
    centre = np.full(row.size, middle)
    # Where land begins its tone is taken, not that of what stands farther down: a
    # pale slope above dark woods is land already.
    sky_ends = above - np.clip((above - below) / 2.0, 0.0, MOST_DROP)
    first, begins = _nearest_fall(smooth, sky_ends, centre)
    rows = first[:, None] + np.arange(clear, 2 * clear + 1)[None, :]
    under = np.median(smooth[row[:, None], np.clip(rows, 0, count - 1)], axis=1)
    below = np.where(begins, under, below)
    half = (above + below) / 2.0
    best, falls = _nearest_fall(smooth, half, np.where(begins, first + 1, centre))
    drop = smooth[row, best] - smooth[row, best + 1]
    found = falls & (drop > 0.0)
    safe = np.where(found, drop, 1.0)
    part = (smooth[row, best] - half) / safe
    # Samples sit at pixel centres, hence the half.
    place = np.where(found, best + part + 0.5, np.nan)
    averaged = np.sqrt(max(1.0, 2.0 * steps[0]))
    spread = np.where(found, grain / safe / averaged, np.nan)
    return RefinedLine(place, spread, np.where(found, (above - below) / grain, 0.0))


def _nearest_fall(
    smooth: NDArray[np.float64], level: Line, near: NDArray[np.intp]
) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """Return the row above each profile's fall through a level nearest to a row."""
    falls = (smooth[:, :-1] >= level[:, None]) & (smooth[:, 1:] < level[:, None])
    away = np.abs(np.arange(falls.shape[1])[None, :] + 1 - near[:, None])
    best = np.argmin(np.where(falls, away, smooth.shape[1]), axis=1)
    return best, falls[np.arange(best.size), best]


def _per_column(
    edge: Line, error: Line, contrast: Line, count: int, steps: tuple[float, float]
) -> RefinedLine:
    """Take the median over the full-size columns of each reduced column."""
    bounds = np.linspace(0, edge.size, count + 1).round().astype(int)
    y = np.full(count, np.nan)
    sd = np.full(count, np.nan)
    clear = np.zeros(count)
    for column in range(count):
        part = slice(bounds[column], max(bounds[column + 1], bounds[column] + 1))
        good = np.isfinite(edge[part])
        if 2 * good.sum() < good.size or not good.any():
            continue
        y[column] = np.median(edge[part][good])
        sd[column] = np.hypot(np.median(error[part][good]), FLOOR_STEPS * steps[1])
        clear[column] = np.median(contrast[part][good])
    return RefinedLine(y, sd, clear)
