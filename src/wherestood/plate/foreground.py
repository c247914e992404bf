"""Tell where the traced line is no distant skyline."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from wherestood.plate.line_tones import LineTones, line_tones
from wherestood.plate.upright import SIDE_SHARE, upright_columns

__all__ = ["doubtful_columns"]

Grey = NDArray[np.float32]
Line = NDArray[np.float64]
Mask = NDArray[np.bool_]

MARGIN_SHARE = 0.006
LEAST_STEP = 0.03
STEP_GRAINS = 1.0
RIM_SHARE = 0.012
ROUGH_SHARE = 0.0012
ROUGH_RATIO = 3.0
DARK_RATIO = 0.6
ROOF_ARM_SHARE = 0.025
ROOF_TURN_RAD = np.deg2rad(25.0)
ROOF_STRAIGHT_PX = 0.3


def doubtful_columns(grey: Grey, line: Line, refined: Line) -> Mask:
    """Mark the columns where the line should not be taken for distant land.

    Parameters
    ----------
    grey : (height, width) float32 array
        Upright positive.
    line : (width,) float64 array
        The traced line [px].
    refined : (width,) float64 array
        The same below a pixel; NaN where no edge was found [px].

    Returns
    -------
    (width,) bool array
        True where the edge is weak, runs along the frame, has sky below it, or
        bounds something upright, rough and dark, or straight-edged.
    """
    width = line.size
    tones = line_tones(grey, line)
    weak = _weak(tones, line, grey.shape[0])
    place = np.where(np.isfinite(refined), refined, line)
    upright = upright_columns(line, tones, weak)
    found = weak | upright | _rough_and_dark(place, tones) | _roofs(place)
    margin = max(1, round(MARGIN_SHARE * width))
    doubtful: Mask = ndimage.binary_dilation(found, iterations=margin)
    return doubtful


def _weak(tones: LineTones, line: Line, height: int) -> Mask:
    """Mark faint steps, steps with sky below them, and the frame's own edge."""
    reach = max(1, round(SIDE_SHARE * line.size / 3))
    step = ndimage.median_filter(tones.above - tones.below, 2 * reach + 1)
    faint = step < max(LEAST_STEP, STEP_GRAINS * tones.grain)
    # Fog over clear sky, or a bare corner, has its middle tone above the sky's.
    middle = ndimage.median_filter((tones.above + tones.below) / 2.0, 2 * reach + 1)
    like_sky = middle > float(np.median(tones.above))
    rim = RIM_SHARE * height
    at_frame = (line < rim) | (line > height - rim)
    weak: Mask = faint | like_sky | at_frame
    return weak


def _rough_and_dark(place: Line, tones: LineTones) -> Mask:
    """Mark crowns of trees that rise without a steep side."""
    span = max(5, round(SIDE_SHARE * place.size)) | 1
    off = np.abs(place - ndimage.median_filter(place, span))
    rough = ndimage.uniform_filter1d(off, 2 * span)
    usual = max(float(np.median(rough)), 0.2)
    dark = ndimage.median_filter(tones.under, span) < DARK_RATIO * np.median(
        tones.under
    )
    very = rough > max(ROUGH_SHARE * place.size, ROUGH_RATIO * usual)
    marked: Mask = ndimage.binary_closing(very & dark, iterations=span)
    return marked


def _roofs(place: Line) -> Mask:
    """Mark straight arms that meet at an upward corner."""
    arm = max(8, round(ROOF_ARM_SHARE * place.size))
    marked = np.zeros(place.size, bool)
    slope, rough = _straight_fits(place, arm)
    for column in range(arm, place.size - arm):
        left, right = column - arm, column
        if max(rough[left], rough[right]) > ROOF_STRAIGHT_PX:
            continue
        turn = np.arctan(slope[right]) - np.arctan(slope[left])
        if turn > ROOF_TURN_RAD:
            first = _straight_reach(place, left, arm, slope[left], -1)
            last = _straight_reach(place, right, arm, slope[right], 1)
            marked[first : last + 1] = True
    return marked


def _straight_fits(place: Line, arm: int) -> tuple[Line, Line]:
    """Fit a line to each run of `arm` columns; return slopes and rms leftovers."""
    runs = np.lib.stride_tricks.sliding_window_view(place, arm)
    x = np.arange(arm) - (arm - 1) / 2.0
    slope = runs @ x / (x @ x)
    left = runs - runs.mean(axis=1, keepdims=True) - slope[:, None] * x
    return slope, np.sqrt(np.mean(left**2, axis=1))


def _straight_reach(place: Line, start: int, arm: int, slope: float, way: int) -> int:
    """Return how far the straight line through a run goes on."""
    middle = start + (arm - 1) / 2.0
    level = float(place[start : start + arm].mean())
    column = start + arm - 1 if way > 0 else start
    missed = 0
    while 0 <= column + way < place.size and missed < arm // 2:
        column += way
        off = abs(place[column] - level - slope * (column - middle))
        missed = missed + 1 if off > 5.0 * ROOF_STRAIGHT_PX else 0
    return column
