"""Bind a trace to the marks that a person sets."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from wherestood.errors import SkylineError
from wherestood.plate.reduced_scan import ReducedScan

__all__ = [
    "bar_costs",
    "inside_areas",
    "led_by_pins",
    "near_pins",
    "pin_costs",
    "seed_pins",
    "under_walls",
]

Grey = NDArray[np.float32]
Line = NDArray[np.float64]
Point = tuple[float, float]

SEED_REACH_SHARE = 0.01
CONE_SHARE = 0.05
CONE_FOOT_PX = 3.0
CONE_SLOPE = 1.0


def seed_pins(seeds: Sequence[Point], scan: ReducedScan) -> dict[int, float]:
    """Return the row that each seeded column must pass [reduced px]."""
    pins = {}
    for x, y in seeds:
        if not (0.0 <= x <= scan.width_px and 0.0 <= y <= scan.height_px):
            raise SkylineError(
                f"The point ({x:g}, {y:g}) lies outside the scan of "
                f"{scan.width_px} x {scan.height_px} px.",
                "Give points in pixels of the upright scan.",
            )
        column = min(int(x / scan.steps[0]), scan.grey.shape[1] - 1)
        pins[column] = y / scan.steps[1]
    return pins


def pin_costs(costs: Grey, pins: dict[int, float]) -> None:
    """Close, in place, the rows that a line through the seeds cannot reach.

    A seeded column is open at its row alone; columns near it within a cone, so
    that the line follows what was pointed at and does not jump to it and back.
    """
    if not pins:
        return
    columns = np.array(sorted(pins))
    rows = np.array([pins[int(column)] for column in columns])
    width, height = costs.shape
    reach = max(1, round(CONE_SHARE * width))
    place = np.arange(height)
    for column in range(width):
        nearest = int(np.argmin(np.abs(columns - column)))
        away = abs(int(columns[nearest]) - column)
        if away > reach:
            continue
        seed = float(np.clip(round(rows[nearest]), 0, height - 1))
        half = 0.0 if away == 0 else CONE_FOOT_PX + CONE_SLOPE * away
        closed = np.abs(place - seed) > half
        if away == 0 and not np.isfinite(costs[column, int(seed)]):
            costs[column, int(seed)] = 0.0
        costs[column, closed] = np.inf


def bar_costs(costs: Grey, walls: list[Line], scan: ReducedScan) -> None:
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


def inside_areas(walls: list[Line], line: Line, scan: ReducedScan) -> NDArray[np.bool_]:
    """Return the columns where the line runs through a closed barrier."""
    inside = np.zeros(line.size, bool)
    x = (np.arange(line.size) + 0.5) * scan.steps[0]
    y = line * scan.steps[1]
    for wall in walls:
        if not _closed(wall):
            continue
        odd = np.zeros(line.size, bool)
        for (x0, y0), (x1, y1) in itertools.pairwise(wall):
            across = (y0 > y) != (y1 > y)
            rise = y1 - y0 if y1 != y0 else 1.0
            odd ^= across & (x < x0 + (y - y0) * (x1 - x0) / rise)
        inside |= odd
    return inside


def near_pins(pins: dict[int, float], count: int) -> NDArray[np.bool_]:
    """Return the columns so near a seed that no doubt applies to them."""
    return _around(pins, count, SEED_REACH_SHARE)


def led_by_pins(pins: dict[int, float], count: int) -> NDArray[np.bool_]:
    """Return the columns in which a seed leads the line."""
    return _around(pins, count, CONE_SHARE)


def under_walls(walls: list[Line], line: Line, scan: ReducedScan) -> NDArray[np.bool_]:
    """Return the columns where the line runs below an open barrier."""
    under = np.zeros(line.size, bool)
    x = (np.arange(line.size) + 0.5) * scan.steps[0]
    y = line * scan.steps[1]
    for wall in walls:
        if _closed(wall):
            continue
        for (x0, y0), (x1, y1) in itertools.pairwise(wall):
            within = (x >= min(x0, x1)) & (x <= max(x0, x1))
            under |= within & (y > min(y0, y1))
    return under


def _around(pins: dict[int, float], count: int, share: float) -> NDArray[np.bool_]:
    near = np.zeros(count, bool)
    reach = max(1, round(share * count))
    for column in pins:
        near[max(0, column - reach) : column + reach + 1] = True
    return near


def _closed(wall: Line) -> bool:
    return len(wall) > 3 and bool(np.array_equal(wall[0], wall[-1]))
