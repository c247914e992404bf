"""Lead the skyline on under a dark stain that reaches in from a rim."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from wherestood.plate.best_path import cheapest_line
from wherestood.plate.line_costs import edges_over_unrest

__all__ = ["under_stained_rims"]

Grey = NDArray[np.float32]
Line = NDArray[np.float64]
Mask = NDArray[np.bool_]

#: How far in from a rim a stain is looked for, and how high the line must have
#: climbed over it: shares of the width.
RIM_SHARE = 0.15
CLIMB_SHARE = 0.06
STEEPEST_PX = 6  # rows a column: no hill rises so
#: How far above and below where it left off the skyline may go on: share of the width.
REACH_SHARE = 0.08
FULL_SD = 8.0
STEP_COST = 1.0
JUMP_COST = 30.0
LEAST_MEAN_SD = 3.0


def under_stained_rims(clean: Grey, line: Line, held: Mask) -> Line:
    """Return the line, led on under stains at either rim where an edge shows there.

    Parameters
    ----------
    clean : (height, width) float32 array
        Upright positive, without dust.
    line : (width,) float64 array
        The traced line [px].
    held : (width,) bool array
        Where a person has led the line: left alone.

    Notes
    -----
    Fogged and stained rims are as dark as land, and the line climbs over them. If
    a sharp edge goes on from where it left off as far as the rim, strong against the
    unrest of the stain, that edge is the skyline; if not, the line stays and is
    found doubtful later.
    """
    led = line.copy()
    for mirrored in (False, True):
        way = slice(None, None, -1) if mirrored else slice(None)
        part = _led_on(clean[:, way], led[way], held[way])
        led = part[way]
    return led


def _led_on(clean: Grey, line: Line, held: Mask) -> Line:
    """Lead the line on under a stain at the right rim."""
    width = line.size
    first = round((1.0 - RIM_SHARE) * width)
    steep = np.flatnonzero(np.diff(line[first:]) < -STEEPEST_PX) + first
    if not steep.size or held[steep[0] :].any():
        return line
    start = int(steep[0])
    level = float(np.median(line[max(0, start - 8) : start + 1]))
    if level - float(np.median(line[start + 1 :])) < CLIMB_SHARE * width:
        return line
    # What is sky over the stain is land to the line as it stands: begin from below.
    below = np.full(width, level, np.float32)
    begin = max(0, start - round(RIM_SHARE * width))
    edges = edges_over_unrest(clean, below)[:, begin:]
    reach = REACH_SHARE * width
    row = np.arange(clean.shape[0])[:, None]
    near = np.abs(row - level) <= reach
    edges = np.where(near, np.clip(edges, 0.0, FULL_SD), 0.0).astype(np.float32)
    # It goes on from where the line is sure.
    kept = np.arange(begin, start + 1) - begin
    edges[:, kept] = 0.0
    edges[np.rint(line[begin : start + 1]).astype(int), kept] = 2.0 * FULL_SD
    best = cheapest_line(np.ascontiguousarray(-edges.T), STEP_COST, JUMP_COST)
    after = np.arange(start + 1 - begin, width - begin)
    along = edges[best[after], after]
    smooth = ndimage.uniform_filter1d(along, max(3, round(0.02 * width)))
    if along.mean() < LEAST_MEAN_SD or smooth.min() < 0.5 * LEAST_MEAN_SD:
        return line
    led = line.copy()
    led[start + 1 :] = best[after]
    return led
