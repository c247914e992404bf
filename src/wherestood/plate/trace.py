"""Trace the skyline of a plate."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from wherestood.errors import SkylineError
from wherestood.plate.best_path import cheapest_line
from wherestood.plate.faint_ridges import ridge_above
from wherestood.plate.foreground import doubtful_columns
from wherestood.plate.hand_marks import (
    bar_costs,
    inside_areas,
    led_by_pins,
    near_pins,
    pin_costs,
    seed_pins,
    under_walls,
)
from wherestood.plate.line_costs import (
    costs_from_levels,
    costs_from_sky,
    costs_from_split,
)
from wherestood.plate.ragged_border import border_depth
from wherestood.plate.reduced_scan import ReducedScan, open_reduced
from wherestood.plate.refine import RefinedLine, refine_line
from wherestood.plate.scan import Plate
from wherestood.plate.sky import BLOCK_PX, SkyModel, block_medians, first_split, fit_sky
from wherestood.plate.skyline import Skyline
from wherestood.plate.stained_rims import under_stained_rims
from wherestood.progress import SILENT, Progress

__all__ = ["trace_skyline"]

Grey = NDArray[np.float32]
Line = NDArray[np.float64]
Point = tuple[float, float]
Polyline = Sequence[Point]

# In units of one pixel that is clearly not sky: see line_costs.
STEP_COST = 0.6
JUMP_COST = 20.0
BLOCK_STEP_COST = 1.0
BLOCK_JUMP_COST = 6.0
# How much of what lies above the line is taken for sky, round by round: the
# first line may run below a faint ridge.
SKY_SHARES = (0.5, 0.75, 1.0, 1.0)
MARGIN_BLOCKS = 2
MOST_LIFTS = 2
LEVEL_REACH_PX = 12
LEVEL_STEP_COST = 0.15
LEVEL_JUMP_COST = 3.0
ROUGHEST_SKY = 0.15  # of the tonal range; skies full of cloud have 0.05
LEAST_SHARE_TRACED = 0.1
FRAME_SHARE = 0.01
SHORTEST_RUN_SHARE = 0.012
STEPS = 4  # read, find the sky, follow the line, settle it


def trace_skyline(
    plate: Plate | NDArray[np.generic],
    *,
    seeds: Sequence[Point] = (),
    barriers: Sequence[Polyline] = (),
    max_px: int = 1600,
    progress: Progress = SILENT,
) -> Skyline:
    """Trace the boundary of land and sky, with gaps where nothing honest shows.

    Parameters
    ----------
    plate : Plate, or (height, width) array
        The plate, or its upright positive as an image of any numeric type.
    seeds : sequence of (x, y)
        Points that the skyline passes through [px].
    barriers : sequence of polylines, each a sequence of (x, y)
        What the line must not cross [px]. A closed one (first point repeated at
        the end) is an area instead: where the line meets it there is a gap.
    max_px : int
        Longest side of the reduced image that the line is found on [px].
    progress : Progress, optional
        Told of one stage of four steps.

    Returns
    -------
    Skyline
        One sample a column of the reduced image, in full-size pixels.

    Raises
    ------
    SkylineError
        If the plate has no sky, nothing but sky, or no piece of skyline that can
        be told from houses, trees and damage.

    Notes
    -----
    The sky is modelled with its stains, not by its brightness; the cheapest line
    under that model is found by dynamic programming, again by the tones just
    above and below it, and settled below a pixel at full size. `docs/tracing.md`
    says how, and what it does not do.
    """
    progress.stage("tracing the skyline", STEPS)
    scan = open_reduced(plate, max_px)
    pins = seed_pins(seeds, scan)
    walls = [np.asarray(b, dtype=np.float64) for b in barriers]
    progress.advance()
    line, sky, border_px = _line_under_sky(scan, pins, walls)
    progress.advance()
    line = _line_between_levels(scan, line, pins, walls)
    barred = under_walls(walls, line, scan)
    held = barred | led_by_pins(pins, line.size)
    led_on = under_stained_rims(scan.without_dust, line, held)
    if not np.array_equal(led_on, line):
        line = _line_between_levels(scan, led_on, pins, walls)
    line, hidden = _line_on_faint_ridges(scan, line, pins, walls, held)
    _check_sky(scan.grey, line, sky)
    progress.advance()
    refined = refine_line(
        scan.window,
        (scan.width_px, scan.height_px),
        line * scan.steps[1],
        scan.steps,
    )
    doubtful = doubtful_columns(scan.grey, line, refined.y_px / scan.steps[1])
    doubtful |= (hidden & ~barred) | (line < border_px)
    doubtful &= ~near_pins(pins, line.size)
    doubtful |= inside_areas(walls, line, scan)
    progress.advance()
    return _skyline(scan, refined, doubtful)


def _line_under_sky(
    scan: ReducedScan, pins: dict[int, float], walls: list[Line]
) -> tuple[Line, SkyModel, Line]:
    """Fit the sky and find the line beneath it, in turns.

    Also returns how far down a line only follows the border above the sky [px].
    """
    grey = scan.grey
    blocks = block_medians(grey)
    split = first_split(blocks)
    border = border_depth(blocks, split)
    costs = costs_from_split(blocks, split, border)
    rows = cheapest_line(costs, BLOCK_STEP_COST, BLOCK_JUMP_COST)
    line = _by_column(rows, grey.shape[1])
    row = np.arange(blocks.shape[0])[:, None]
    clear = ~ndimage.binary_dilation(row < border[None, :], np.ones((3, 3)))
    clean = scan.without_dust
    for share in SKY_SHARES:
        parts = line[: blocks.shape[1] * BLOCK_PX].reshape(-1, BLOCK_PX)
        lowest = share * parts.min(axis=1)[None, :] / BLOCK_PX
        is_sky = (row + 1 + MARGIN_BLOCKS < lowest) & clear
        sky = fit_sky(blocks, is_sky, (grey.shape[0], grey.shape[1]))
        costs = costs_from_sky(clean, sky)
        bar_costs(costs, walls, scan)
        pin_costs(costs, pins)
        line = cheapest_line(costs, STEP_COST, JUMP_COST).astype(np.float64)
    return line, sky, _by_column(np.where(border > 0, border + 1, 0), grey.shape[1])


def _by_column(rows: NDArray[np.integer], width: int) -> Line:
    """Return rows of blocks, one to a block column, as rows of every column [px]."""
    line = np.repeat(rows * float(BLOCK_PX), BLOCK_PX)
    return np.pad(line, (0, width - line.size), mode="edge")


def _line_between_levels(
    scan: ReducedScan, line: Line, pins: dict[int, float], walls: list[Line]
) -> Line:
    """Find the line again by the tones just above and just below it."""
    smooth = scan.without_grain
    for _ in range(2):
        above = _tone_beside(smooth, line, -20, -4)
        below = _tone_beside(smooth, line, 4, 12)
        costs = costs_from_levels(smooth, line, above, below, LEVEL_REACH_PX)
        bar_costs(costs, walls, scan)
        pin_costs(costs, pins)
        line = cheapest_line(costs, LEVEL_STEP_COST, LEVEL_JUMP_COST).astype(float)
    return line


def _line_on_faint_ridges(
    scan: ReducedScan,
    line: Line,
    pins: dict[int, float],
    walls: list[Line],
    held: NDArray[np.bool_],
) -> tuple[Line, NDArray[np.bool_]]:
    """Lift the line onto fainter ridges; mark where one may still stand above.

    Where a person has led the line it is `held`.
    """
    clean = scan.without_dust
    faint = ridge_above(clean, line)
    doubtful = faint.doubtful
    for _ in range(MOST_LIFTS):
        lifted = faint.sure & ~held
        if not lifted.any():
            break
        line = np.where(lifted, faint.y_px, line)
        line = _line_between_levels(scan, line, pins, walls)
        faint = ridge_above(clean, line)
        # Beside a lifted piece the line still runs on the nearer hill.
        doubtful = (doubtful & ~lifted) | faint.doubtful
    return line, doubtful


def _tone_beside(grey: Grey, line: Line, first: int, last: int) -> Grey:
    """Return the median tone of the rows from first to last off the line."""
    rows = np.rint(line).astype(int)[:, None] + np.arange(first, last)[None, :]
    kept = np.clip(rows, 0, grey.shape[0] - 1)
    tone = np.median(grey[kept, np.arange(line.size)[:, None]], axis=1)
    smooth: Grey = ndimage.median_filter(tone, 15, mode="nearest").astype(np.float32)
    return smooth


def _check_sky(grey: Grey, line: Line, sky: SkyModel) -> None:
    """Stop if the line says that there is no sky, or no land."""
    height = grey.shape[0]
    above = np.arange(height)[:, None] < line[None, :]
    blank = above.any() and float(np.median(sky.scatter[above])) < ROUGHEST_SKY
    if not blank or np.median(line) < 2.0 * FRAME_SHARE * height:
        raise SkylineError(
            "No sky was found: nothing blank and brighter than the land reaches "
            "the top of the scan.",
            "Check that the scan is upright, and whether it is a negative; or give "
            "a skyline file.",
        )
    if np.median(line) > (1.0 - 2.0 * FRAME_SHARE) * height:
        raise SkylineError(
            "Nothing but sky was found: no edge of land crosses the scan.",
            "Give a scan that shows the land, or a skyline file.",
        )


def _skyline(
    scan: ReducedScan, refined: RefinedLine, doubtful: NDArray[np.bool_]
) -> Skyline:
    good = np.isfinite(refined.y_px) & ~doubtful
    good = _without_crumbs(good)
    share = float(good.mean())
    if share < LEAST_SHARE_TRACED:
        raise SkylineError(
            f"Only {100 * share:.0f}% of the width shows a skyline that can be told "
            "from houses, trees and damage.",
            "Lead the line by points on it (--through X,Y), or give a skyline file "
            "(--skyline).",
        )
    column = np.flatnonzero(good)
    broken = np.append(np.diff(column) > 1, False)
    return Skyline(
        x_px=(column.astype(np.float64) + 0.5) * scan.steps[0],
        y_px=refined.y_px[column],
        sd_px=refined.sd_px[column],
        width_px=scan.width_px,
        height_px=scan.height_px,
        break_after=broken,
        notes=(f"Traced over {100 * share:.0f}% of the width.",),
    )


def _without_crumbs(good: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Drop pieces too short to be told from what interrupts them."""
    labels, count = ndimage.label(good)
    sizes = ndimage.sum_labels(good, labels, np.arange(count + 1))
    long_enough = sizes >= SHORTEST_RUN_SHARE * good.size
    long_enough[0] = False
    kept: NDArray[np.bool_] = long_enough[labels]
    return kept
