"""Find cameras to begin a climb from, by the skyline and by marks."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.item_rows import WATER
from wherestood.evidence.mark_table import MarkTable
from wherestood.evidence.plate_items import ItemTable
from wherestood.evidence.plate_rows import Aims, OnPlate
from wherestood.evidence.profile import Profiles
from wherestood.evidence.screen import screen_stations
from wherestood.evidence.water_rows import NO_EDGE
from wherestood.fix.problem import Hand, Problem

__all__ = [
    "APART_RAD",
    "BEARING_SD_RAD",
    "FROM_MARKS",
    "MODES",
    "MOST_SD",
    "SCREENED_BEARINGS",
    "SCREEN_COVER_M",
    "SCREEN_SD",
    "first_cameras",
]

Array = NDArray[np.float64]

#: Cameras kept at a station, for each hand.
MODES = 4
#: Cameras nearer in bearing than this are one peak of the screen [rad].
APART_RAD = math.radians(3.0)
#: Bearings round the circle that a screen looks along.
SCREENED_BEARINGS = 900
SCREEN_COVER_M = 8.0
#: The screen's tracing error is at least this: it knows no tilt and no lens error.
SCREEN_SD = 0.002
#: Of these, how many come from the marks beside a skyline; of one mark, one.
FROM_MARKS = 2
#: Errors that a first guess of bearing and of height on the plate may have.
BEARING_SD_RAD = 0.02
_HEIGHT_SD = 0.05
MOST_SD = 4.0
#: Most that a mark's features are trusted together: a blunder is always possible.
_SUREST = 1.0 - 1e-6
#: Bearings tried for waters, those that count as one, and the sd of the axis's height.
_WAYS = 72
_WAYS_APART_RAD = math.radians(20.0)
_AXIS_SD = 0.15
#: Two guesses this near in ln c are one.
_APART_LOG = 0.08


def first_cameras(
    problem: Problem,
    hand: Hand,
    profiles: Profiles,
    doubt: float,
    seen: OnPlate,
    aims: Aims,
) -> Array:
    """Return starting cameras at stations.

    Parameters
    ----------
    doubt : float
        Factor on the screen's errors.
    seen : OnPlate
        What is marked on this hand of the plate.
    aims : Aims
        Where the stations would show it.

    Returns
    -------
    (stations, MODES, unknowns) float64 array
        NaN in ln c where there is none.
    """
    count = len(profiles.table)
    starts = np.tile(problem.prior_mean, (count, MODES, 1))
    starts[..., 1] = np.nan
    by_marks = 0
    marks = seen.marks
    if len(marks.plate):
        # By one mark alone a skyline of many like hills is entered at the right one.
        most = min(len(marks.plate), FROM_MARKS)
        by_marks = most if problem.has_skyline else MODES
        starts[:, MODES - by_marks :] = _by_marks(problem, marks, aims.marks, by_marks)
    if problem.has_skyline:
        screened = _screened(problem, hand, profiles, doubt, marks, aims.marks)
        starts[:, : MODES - by_marks] = screened[:, : MODES - by_marks]
    if not problem.has_skyline and not by_marks:
        # Nothing tells where the camera looks: one stands for all.
        starts[:, 0, 0] = 0.0
        starts[:, 0, 1] = problem.lens.mean
        if np.any(seen.items.rows[:, 0] == WATER):
            starts[..., 1] = problem.lens.mean
            starts[..., 0] = _by_waters(problem, seen.items, aims.levels)
    return starts


def _by_waters(problem: Problem, items: ItemTable, levels: Array) -> Array:
    """Return the bearings, of the middling lens, that bring waters to their marks.

    Returns
    -------
    (stations, MODES) float64 array
        [rad]
    """
    c = math.exp(problem.lens.mean)
    turns = np.arange(_WAYS) * (2.0 * math.pi / _WAYS)
    bearings = levels.shape[2]
    heights, there = [], []
    for row in items.rows[items.rows[:, 0] == WATER]:
        first, count, water = int(row[1]), int(row[2]), int(row[5])
        x, y = items.points[first : first + count, :2].T
        way = turns[:, None] + np.arctan2(x, c)
        at = np.rint(way / (2.0 * math.pi) * bearings).astype(int) % bearings
        tangent = levels[:, water, :, 0][:, at]
        heights.append(tangent * np.hypot(c, x) - y)
        there.append(tangent > NO_EDGE)
    height, known = np.concatenate(heights, axis=2), np.concatenate(there, axis=2)
    height = np.where(known, height, 0.0)
    middle = height.sum(axis=2) / np.maximum(known.sum(axis=2), 1)
    off = np.minimum(np.abs(height - middle[..., None]) / _HEIGHT_SD, MOST_SD)
    # The lens's axis itself is lifted and lowered, but not by any amount.
    cost = np.where(known, off, MOST_SD) ** 2
    total = cost.sum(axis=2) + np.minimum(np.abs(middle) / _AXIS_SD, MOST_SD) ** 2
    found = np.empty((len(levels), MODES))
    each = np.arange(len(levels))
    for slot in range(MODES):
        best = np.argmin(total, axis=1)
        found[:, slot] = turns[best]
        apart = np.abs(turns[None, :] - turns[best][:, None])
        apart = np.minimum(apart, 2.0 * math.pi - apart)
        total = np.where(apart < _WAYS_APART_RAD, np.inf, total)
        total[each, best] = np.inf
    return found


def _by_marks(problem: Problem, marks: MarkTable, targets: Array, count: int) -> Array:
    """Return the cameras that bring most marks near their likeliest features."""
    grid = problem.lens.grid()
    likeliest = np.argmax(marks.log_weight, axis=1)
    aim = targets[:, np.arange(len(likeliest)), likeliest]
    azimuth, tangent = aim[..., 0], aim[..., 1]
    x, y = marks.plate[:, 0], marks.plate[:, 1]
    turned = np.arctan2(x, np.exp(grid)[:, None])
    reach = np.hypot(np.exp(grid)[:, None], x)
    # Each mark in turn is taken at its word: bearing and height of the axis.
    bearing = azimuth[:, None, :] - turned
    height = reach * tangent[:, None, :] - y
    cost = np.zeros(bearing.shape)
    for m in range(len(x)):
        off = bearing + turned[None, :, m, None] - azimuth[:, None, m, None]
        off = (off + np.pi) % (2.0 * np.pi) - np.pi
        cost += np.minimum(np.abs(off) / BEARING_SD_RAD, MOST_SD) ** 2
        level = y[m] + height - (reach[:, m] * tangent[:, m, None])[..., None]
        cost += np.minimum(np.abs(level) / _HEIGHT_SD, MOST_SD) ** 2
    cost -= 2.0 * problem.lens.log_density(grid)[None, :, None]
    flat = cost.reshape(len(cost), -1)
    starts = np.tile(problem.prior_mean, (len(cost), count, 1))
    each = np.arange(len(cost))
    for slot in range(count):
        best = np.argmin(flat, axis=1)
        lens, pivot = np.divmod(best, len(x))
        found = np.isfinite(flat[each, best])
        starts[:, slot, 0] = bearing[each, lens, pivot]
        starts[:, slot, 1] = np.where(found, grid[lens], np.nan)
        # Half of the height by the rise, half by the tilt.
        axis = 0.5 * height[each, lens, pivot]
        starts[:, slot, 4] = axis
        starts[:, slot, 2] = np.clip(axis / np.exp(grid[lens]), -0.2, 0.2)
        near = np.abs(grid[None, :] - grid[lens][:, None]) < _APART_LOG
        off = bearing - bearing[each, lens, pivot][:, None, None]
        off = np.abs((off + np.pi) % (2.0 * np.pi) - np.pi)
        same = near[..., None] & (off < APART_RAD)
        flat[same.reshape(flat.shape)] = np.inf
    return starts


def _screened(
    problem: Problem,
    hand: Hand,
    profiles: Profiles,
    doubt: float,
    marks: MarkTable,
    targets: Array,
) -> Array:
    """Return starting cameras from a screen of every bearing and lens."""
    # A quarter of the samples on so many bearings are enough to tell where a climb
    # may begin.
    table = hand.samples.table[::4]
    every = max(1, profiles.table.shape[1] // SCREENED_BEARINGS)
    profile = np.ascontiguousarray(profiles.table[:, ::every])
    grid = problem.lens.grid()
    stations, bearings = profile.shape[:2]
    found = np.empty((stations, MODES, 3))
    screen_stations(
        profile,
        profiles.ground_sd_m,
        np.ascontiguousarray(table[:, 0]),
        np.ascontiguousarray(table[:, 1]),
        doubt * np.maximum(table[:, 2], SCREEN_SD),
        grid,
        problem.lens.log_density(grid),
        doubt * SCREEN_COVER_M,
        math.hypot(problem.prior_sd[4], problem.prior_sd[2]),
        problem.prior_sd[3],
        max(1, round(APART_RAD / (2.0 * math.pi / bearings))),
        np.ascontiguousarray(marks.plate[:, 0]),
        np.stack((targets[..., 0], targets[..., 2] + BEARING_SD_RAD**2), axis=-1),
        marks.log_weight,
        # The odds of a blunder, wherever it may lie.
        np.log1p(-np.minimum(np.exp(marks.log_weight).sum(axis=1), _SUREST)),
        found,
    )
    starts = np.tile(problem.prior_mean, (stations, MODES, 1))
    starts[..., 0] = found[..., 0]
    starts[..., 1] = found[..., 1]
    return starts
