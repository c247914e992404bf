"""Trace the skyline of a plate."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from wherestood.errors import SkylineError
from wherestood.plate.best_path import cheapest_line
from wherestood.plate.faint_ridges import ridge_above
from wherestood.plate.foreground import doubtful_columns
from wherestood.plate.line_costs import (
    costs_from_levels,
    costs_from_sky,
    costs_from_split,
)
from wherestood.plate.refine import RefinedLine, refine_line
from wherestood.plate.scan import Plate
from wherestood.plate.sky import BLOCK_PX, block_medians, first_split, fit_sky
from wherestood.plate.skyline import Skyline

__all__ = ["trace_skyline"]

Grey = NDArray[np.float32]
Line = NDArray[np.float64]
Point = tuple[float, float]
Polyline = Sequence[Point]
Progress = Callable[[str, float], None]

# In units of one pixel that is clearly not sky: see line_costs.
STEP_COST = 0.6
JUMP_COST = 20.0
BLOCK_STEP_COST = 1.0
BLOCK_JUMP_COST = 6.0
# How much of what lies above the line is taken for sky, round by round: the
# first line may run below a faint ridge.
SKY_SHARES = (0.5, 0.75, 1.0, 1.0)
MARGIN_BLOCKS = 2
DUST_PX = 11
LEVEL_REACH_PX = 12
LEVEL_STEP_COST = 0.15
LEVEL_JUMP_COST = 3.0
LEAST_TONES = 0.02
LEAST_SHARE_TRACED = 0.1
FRAME_SHARE = 0.01
SHORTEST_RUN_SHARE = 0.012


@dataclass(frozen=True)
class _Scan:
    """Hold the reduced image, and how to read the full-size one."""

    grey: Grey
    window: Callable[[int, int, int, int], Grey]
    width_px: int
    height_px: int

    @property
    def steps(self) -> tuple[float, float]:
        """Return full-size pixels to one reduced, across and down."""
        height, width = self.grey.shape
        return self.width_px / width, self.height_px / height


def trace_skyline(
    plate: Plate | NDArray[np.generic],
    *,
    seeds: Sequence[Point] = (),
    barriers: Sequence[Polyline] = (),
    max_px: int = 1600,
    progress: Progress | None = None,
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
    progress : callable, optional
        Called with a stage's name and the share done.

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
    told = progress or _silent
    told("reading the scan", 0.0)
    scan = _opened(plate, max_px)
    pins = _pins(seeds, scan)
    walls = [np.asarray(b, dtype=np.float64) for b in barriers]
    told("finding the sky", 0.2)
    line = _line_under_sky(scan, pins, walls)
    told("following the skyline", 0.6)
    line = _line_between_levels(scan.grey, line, pins)
    _check_sky(scan.grey, line)
    told("settling it at full size", 0.8)
    refined = refine_line(
        scan.window,
        (scan.width_px, scan.height_px),
        line * scan.steps[1],
        scan.steps,
    )
    doubtful = doubtful_columns(scan.grey, line, refined.y_px / scan.steps[1])
    doubtful |= ridge_above(_without_dust(scan.grey), line)
    doubtful &= ~_near_seeds(pins, line.size)
    doubtful |= _in_areas(walls, line, scan)
    told("done", 1.0)
    return _skyline(scan, refined, doubtful)


def _silent(stage: str, share: float) -> None:
    """Tell nobody."""


def _opened(plate: Plate | NDArray[np.generic], max_px: int) -> _Scan:
    if isinstance(plate, Plate):
        grey, _ = plate.reduced(max_px)
        scan = _Scan(grey, plate.window, plate.width_px, plate.height_px)
    else:
        full = _as_grey(plate)
        height, width = full.shape
        factor = max(1.0, max(full.shape) / max_px)
        grey = _shrunk(full, (round(height / factor), round(width / factor)))
        scan = _Scan(
            grey,
            lambda left, top, w, h: full[top : top + h, left : left + w],
            width,
            height,
        )
    if min(scan.grey.shape) < 4 * BLOCK_PX:
        raise SkylineError(
            f"The scan is {scan.width_px} x {scan.height_px} px; a skyline needs at "
            f"least {4 * BLOCK_PX} px a side.",
            "Give a larger scan.",
        )
    low, high = np.percentile(scan.grey, [1.0, 99.0])
    if high - low < LEAST_TONES:
        raise SkylineError(
            f"The scan is blank: its tones span {100 * (high - low):.1f}% of the "
            f"range, and at least {100 * LEAST_TONES:.0f}% is needed.",
            "Give a scan that shows land and sky.",
        )
    level = np.float32(low), np.float32(high - low)
    window = scan.window
    return _Scan(
        (scan.grey - level[0]) / level[1],
        lambda left, top, w, h: (window(left, top, w, h) - level[0]) / level[1],
        scan.width_px,
        scan.height_px,
    )


def _as_grey(image: NDArray[np.generic]) -> Grey:
    pixels = np.asarray(image)
    if pixels.ndim != 2:
        raise SkylineError(
            f"An image of shape {pixels.shape} was given; (height, width) is needed.",
            "Give one band of grey.",
        )
    white = np.iinfo(pixels.dtype).max if pixels.dtype.kind in "iu" else 1.0
    return pixels.astype(np.float32) / np.float32(white)


def _shrunk(full: Grey, shape: tuple[int, int]) -> Grey:
    """Return the area mean, so that grain averages away."""
    if shape == full.shape:
        return full
    factors = full.shape[0] / shape[0], full.shape[1] / shape[1]
    blurred = ndimage.uniform_filter(full, [max(1, round(f)) for f in factors])
    y = ((np.arange(shape[0]) + 0.5) * factors[0]).astype(int)
    x = ((np.arange(shape[1]) + 0.5) * factors[1]).astype(int)
    return np.ascontiguousarray(blurred[np.ix_(y, x)])


def _pins(seeds: Sequence[Point], scan: _Scan) -> dict[int, float]:
    """Return the row that each seeded column must pass [reduced px]."""
    pins = {}
    for x, y in seeds:
        if not (0.0 <= x <= scan.width_px and 0.0 <= y <= scan.height_px):
            raise SkylineError(
                f"The seed ({x:g}, {y:g}) lies outside the scan of "
                f"{scan.width_px} x {scan.height_px} px.",
                "Give seeds in pixels of the upright scan.",
            )
        column = min(int(x / scan.steps[0]), scan.grey.shape[1] - 1)
        pins[column] = y / scan.steps[1]
    return pins


def _line_under_sky(
    scan: _Scan, pins: dict[int, float], walls: list[Line]
) -> Line:
    """Fit the sky and find the line beneath it, in turns."""
    grey = scan.grey
    blocks = block_medians(grey)
    costs = costs_from_split(blocks, first_split(blocks))
    rows = cheapest_line(costs, BLOCK_STEP_COST, BLOCK_JUMP_COST)
    line = np.repeat(rows * float(BLOCK_PX), BLOCK_PX)
    line = np.pad(line, (0, grey.shape[1] - line.size), mode="edge")
    row = np.arange(blocks.shape[0])[:, None]
    clean = _without_dust(grey)
    for share in SKY_SHARES:
        parts = line[: blocks.shape[1] * BLOCK_PX].reshape(-1, BLOCK_PX)
        lowest = share * parts.min(axis=1)[None, :] / BLOCK_PX
        is_sky = row + 1 + MARGIN_BLOCKS < lowest
        sky = fit_sky(blocks, is_sky, (grey.shape[0], grey.shape[1]))
        costs = costs_from_sky(clean, sky)
        _bar(costs, walls, scan)
        _pin(costs, pins)
        line = cheapest_line(costs, STEP_COST, JUMP_COST).astype(np.float64)
    return line


def _without_dust(grey: Grey) -> Grey:
    """Take away specks and scratches narrower than half of `DUST_PX`."""
    across = ndimage.median_filter(grey, size=(1, DUST_PX), mode="nearest")
    clean: Grey = ndimage.median_filter(across, size=(DUST_PX, 1), mode="nearest")
    return clean


def _line_between_levels(grey: Grey, line: Line, pins: dict[int, float]) -> Line:
    """Find the line again by the tones just above and just below it."""
    smooth = ndimage.median_filter(grey, 3)
    for _ in range(2):
        above = _tone_beside(smooth, line, -20, -4)
        below = _tone_beside(smooth, line, 4, 12)
        costs = costs_from_levels(smooth, line, above, below, LEVEL_REACH_PX)
        _pin(costs, pins)
        line = cheapest_line(costs, LEVEL_STEP_COST, LEVEL_JUMP_COST).astype(float)
    return line


def _tone_beside(grey: Grey, line: Line, first: int, last: int) -> Grey:
    """Return the median tone of the rows from first to last off the line."""
    rows = np.rint(line).astype(int)[:, None] + np.arange(first, last)[None, :]
    kept = np.clip(rows, 0, grey.shape[0] - 1)
    tone = np.median(grey[kept, np.arange(line.size)[:, None]], axis=1)
    return ndimage.median_filter(tone, 15, mode="nearest").astype(np.float32)


def _pin(costs: Grey, pins: dict[int, float]) -> None:
    """Leave the line one place only where a seed is."""
    for column, y in pins.items():
        row = min(round(y), costs.shape[1] - 1)
        kept = costs[column, row]
        costs[column] = np.inf
        costs[column, row] = kept if np.isfinite(kept) else 0.0


def _bar(costs: Grey, walls: list[Line], scan: _Scan) -> None:
    """Close the rows that open barriers run along."""
    for wall in walls:
        if _closed(wall):
            continue
        x, y = wall[:, 0] / scan.steps[0], wall[:, 1] / scan.steps[1]
        for x0, y0, x1, y1 in zip(x[:-1], y[:-1], x[1:], y[1:], strict=True):
            count = 2 * int(max(abs(x1 - x0), abs(y1 - y0))) + 2
            column = np.linspace(x0, x1, count).astype(int)
            row = np.rint(np.linspace(y0, y1, count)).astype(int)
            inside = (column >= 0) & (column < costs.shape[0])
            inside &= (row >= 1) & (row < costs.shape[1] - 1)
            for off in (-1, 0, 1):
                costs[column[inside], row[inside] + off] = np.inf


def _closed(wall: Line) -> bool:
    return len(wall) > 3 and bool(np.array_equal(wall[0], wall[-1]))


def _in_areas(walls: list[Line], line: Line, scan: _Scan) -> NDArray[np.bool_]:
    """Return the columns where the line runs through a closed barrier."""
    inside = np.zeros(line.size, bool)
    x = (np.arange(line.size) + 0.5) * scan.steps[0]
    y = line * scan.steps[1]
    for wall in walls:
        if not _closed(wall):
            continue
        odd = np.zeros(line.size, bool)
        for (x0, y0), (x1, y1) in zip(wall[:-1], wall[1:], strict=True):
            across = (y0 > y) != (y1 > y)
            rise = y1 - y0 if y1 != y0 else 1.0
            odd ^= across & (x < x0 + (y - y0) * (x1 - x0) / rise)
        inside |= odd
    return inside


def _near_seeds(pins: dict[int, float], count: int) -> NDArray[np.bool_]:
    near = np.zeros(count, bool)
    reach = max(1, round(FRAME_SHARE * count))
    for column in pins:
        near[max(0, column - reach) : column + reach + 1] = True
    return near


def _check_sky(grey: Grey, line: Line) -> None:
    """Stop if the line says that there is no sky, or no land."""
    height = grey.shape[0]
    if np.median(line) < 2.0 * FRAME_SHARE * height:
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


def _skyline(scan: _Scan, refined: RefinedLine, doubtful: NDArray[np.bool_]) -> Skyline:
    good = np.isfinite(refined.y_px) & ~doubtful
    good = _without_crumbs(good)
    share = float(good.mean())
    if share < LEAST_SHARE_TRACED:
        raise SkylineError(
            f"Only {100 * share:.0f}% of the width shows a skyline that can be told "
            "from houses, trees and damage.",
            "Give seeds on the skyline, or a skyline file.",
        )
    column = np.flatnonzero(good)
    broken = np.append(np.diff(column) > 1, False)
    return Skyline(
        x_px=(column + 0.5) * scan.steps[0],
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
