"""Find lines below the skyline where near ground stands before farther ground."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from wherestood.plate.best_path import cheapest_line
from wherestood.plate.reduced_scan import open_reduced
from wherestood.plate.scan import Plate
from wherestood.plate.skyline import Skyline

__all__ = ["trace_ridges"]

Grey = NDArray[np.float32]
Line = NDArray[np.float64]
Mask = NDArray[np.bool_]

#: Rows above and below an edge, and columns, whose tones are averaged [px].
REACH_PX = 6
WIDE_PX = 15
BLOCK_PX = 8
#: Unrest of the ground is the median step of tone about a place: shares of the width.
UNREST_DOWN, UNREST_ACROSS = 0.05, 0.15
LEAST_UNREST = 2e-3  # of the tonal range
FULL_SD = 8.0
STEP_COST = 1.0
JUMP_COST = 60.0
STEEPEST_PX = 4  # rows a column: steeper edges are trunks and walls
WINDOW_SHARE = 0.06
EDGE_SHARE = 0.01
LEAST_MEAN_SD = 3.0
LEAST_EDGE_SD = 2.0
#: A line must be this long, over the width, and this strong on the average.
SHORTEST_SHARE = 0.06
LINE_MEAN_SD = 4.0
ROUNDS = 6
CLEAR_PX = 14  # of the skyline
APART_PX = 10  # of a line already found
RIM_SHARE = 0.02
FOOT_SHARE = 0.06  # of the height: rims, captions, the ground at the tripod's feet
LINE_SD_PX = 1.5


def trace_ridges(
    plate: Plate | NDArray[np.generic], skyline: Skyline, *, max_px: int = 1600
) -> tuple[Skyline, ...]:
    """Trace the strong edges of tone that run across the ground.

    Parameters
    ----------
    plate : Plate, or (height, width) array
        The plate, or its upright positive.
    skyline : Skyline
        Its skyline: lines are looked for below it, and only where it is traced.
    max_px : int
        Longest side of the reduced image that lines are found on [px].

    Returns
    -------
    tuple of Skyline
        Lines below the skyline, the strongest first; none is an honest answer.

    Notes
    -----
    Near hills are darker than far ones through haze, and ground at a slant to the
    light differs from ground beyond: an edge of tone, either way, that runs on
    across the plate. Its strength is measured against the unrest of the ground round
    about, so that streaks of a meadow do not count, and the strongest line is found
    by dynamic programming, then the next strongest apart from it.
    """
    scan = open_reduced(plate, max_px)
    grey = scan.without_dust
    height, width = grey.shape
    centre_px = (np.arange(width) + 0.5) * scan.steps[0]
    top = np.interp(centre_px, skyline.x_px, skyline.y_px) / scan.steps[1]
    closed = _closed(height, width, top)
    full = [_edges_over_unrest(grey, closed, sign) for sign in (1.0, -1.0)]
    edges = [np.minimum(edge, FULL_SD) for edge in full]
    found: list[tuple[float, Line, Line]] = []
    for _ in range(ROUNDS):
        both = [_lines(edge) for edge in edges]
        best = int(np.argmax([_strength(lines) for lines in both]))
        if not both[best]:
            break
        open_full = np.where(edges[best] > 0.0, full[best], 0.0)
        for strength, columns, rows in both[best]:
            settled = _settled(open_full, columns, rows)
            for edge in edges:
                _close(edge, columns, settled)
            found.append((strength, columns, settled))
    found.sort(key=lambda line: -line[0])
    return tuple(
        Skyline(
            (columns + 0.5) * scan.steps[0],
            (rows + 0.5) * scan.steps[1],
            np.full(columns.size, LINE_SD_PX * scan.steps[1]),
            scan.width_px,
            scan.height_px,
            np.zeros(columns.size, dtype=bool),
        )
        for _, columns, rows in found
    )


def _closed(height: int, width: int, top: Line) -> Mask:
    """Mark where no line is looked for: sky, rims and foot."""
    row = np.arange(height)[:, None]
    closed = row < top[None, :] + CLEAR_PX
    closed |= row > (1.0 - FOOT_SHARE) * height
    rim = max(1, round(RIM_SHARE * width))
    closed[:, :rim] = True
    closed[:, width - rim :] = True
    return closed


def _edges_over_unrest(grey: Grey, closed: Mask, sign: float) -> Grey:
    """Return how much darker (or lighter) it is below each row, over the unrest."""
    wide = ndimage.uniform_filter1d(grey, WIDE_PX, axis=1)
    kernel = np.zeros(2 * REACH_PX + 1, np.float32)
    kernel[:REACH_PX] = sign / REACH_PX
    kernel[REACH_PX + 1 :] = -sign / REACH_PX
    step = ndimage.correlate1d(wide, kernel, axis=0, mode="nearest")
    height, width = step.shape
    rows, columns = height // BLOCK_PX, width // BLOCK_PX
    blocks = np.abs(step[: rows * BLOCK_PX, : columns * BLOCK_PX])
    blocks = blocks.reshape(rows, BLOCK_PX, columns, BLOCK_PX).mean(axis=(1, 3))
    size = [max(3, int(share * columns)) | 1 for share in (UNREST_DOWN, UNREST_ACROSS)]
    unrest = ndimage.gaussian_filter(ndimage.median_filter(blocks, size), 2.0)
    # The mean absolute deviation of a normal variable is 0.8 sd.
    sd = 1.25 * ndimage.zoom(unrest, BLOCK_PX, order=1, grid_mode=True, mode="nearest")
    pad = [(0, height - sd.shape[0]), (0, width - sd.shape[1])]
    sd = np.maximum(np.pad(sd, pad, mode="edge"), LEAST_UNREST)
    over: Grey = np.maximum(step / sd, 0.0).astype(np.float32)
    over[closed] = 0.0
    return over


def _lines(edge: Grey) -> list[tuple[float, Line, Line]]:
    """Return the strong pieces of the best line: strength, columns, rows."""
    width = edge.shape[1]
    best = cheapest_line(np.ascontiguousarray(-edge.T), STEP_COST, JUMP_COST)
    along = edge[best, np.arange(width)]
    strong = _mean_over(along, WINDOW_SHARE) > LEAST_MEAN_SD
    strong &= _mean_over(along, EDGE_SHARE) > LEAST_EDGE_SD
    strong[1:] &= np.abs(np.diff(best)) <= STEEPEST_PX
    labels, count = ndimage.label(strong)
    lines = []
    for label in range(1, count + 1):
        columns = np.flatnonzero(labels == label)
        mean = float(along[columns].mean())
        if columns.size >= SHORTEST_SHARE * width and mean > LINE_MEAN_SD:
            lines.append(
                (
                    mean * columns.size,
                    columns.astype(np.float64),
                    best[columns].astype(np.float64),
                )
            )
    return lines


def _settled(edge: Grey, columns: Line, rows: Line) -> Line:
    """Return a line's rows moved to where its edge is steepest.

    A strong edge is full over as many rows as tones are averaged over, and the line
    runs anywhere among them.
    """
    offsets = np.arange(-2 * REACH_PX, 2 * REACH_PX + 1)
    at = rows.astype(int)[:, None] + offsets
    strip = edge[np.clip(at, 0, edge.shape[0] - 1), columns.astype(int)[:, None]]
    most = np.maximum(strip.max(axis=1, keepdims=True), LEAST_EDGE_SD)
    cost = np.ascontiguousarray(-FULL_SD * strip / most, dtype=np.float32)
    moved: Line = rows + offsets[cheapest_line(cost, STEP_COST, JUMP_COST)]
    return moved


def _strength(lines: list[tuple[float, Line, Line]]) -> float:
    return sum(line[0] for line in lines)


def _close(edge: Grey, columns: Line, rows: Line) -> None:
    """Let no other line run along one already found."""
    for off in range(-APART_PX, APART_PX + 1):
        row = np.clip(rows.astype(int) + off, 0, edge.shape[0] - 1)
        edge[row, columns.astype(int)] = 0.0


def _mean_over(along: Grey, share: float) -> Grey:
    mean: Grey = ndimage.uniform_filter1d(along, max(3, round(share * along.size)))
    return mean
