"""Let ridge lines below the skyline weigh the cameras that the skyline found."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.ridge_lines import score_ridges
from wherestood.fix.answers import Chosen
from wherestood.fix.cells import Cells
from wherestood.fix.problem import Problem

__all__ = ["ridge_log_odds", "weigh_ridges"]

Array = NDArray[np.float64]

#: Cells this far below the best in log density are left as they are.
WITHIN = 12.0
#: So are cameras this far below the best of their cell: they are counted with the
#: best one's gain.
CAMERAS_WITHIN = 6.0
#: Power of the lines' likelihood over that of the skyline: they share the errors of
#: ground and camera. From 121 invented plates (`docs/coverage.md`): at 1 they made
#: regions 20% smaller and held the truth 4% less often, and answers no better; at
#: a half they made answers better.
POWER = 0.5


def weigh_ridges(problem: Problem, cells: Cells) -> Cells:
    """Return cells whose scores count the ridge lines too.

    Notes
    -----
    The cameras are those that the skyline found: each is asked whether the ground
    before it shows ridges where lines were traced (`evidence.ridge_lines`). The
    power of the skyline's likelihood, `SkylineNoise.whole_power`, holds for the lines
    as well, and `POWER` besides.
    """
    density = cells.log_density
    if not any(plate.ridges for plate in problem.plates) or not density.size:
        return cells
    likely = np.flatnonzero(density > density.max() - WITHIN)
    part = cells.take(likely)
    best = part.mode_score.max(axis=2, keepdims=True)
    asked = np.isfinite(part.mode_score) & (part.mode_score > best - CAMERAS_WITHIN)
    gain = np.zeros(part.mode_score.shape)
    for hand in range(len(problem.hands)):
        cell, mode = np.nonzero(asked[:, hand])
        for k, plate in enumerate(problem.plates):
            if not plate.ridges:
                continue
            # The level of roughness is unknown, and the same for all lines.
            levels = _scores(
                plate,
                hand,
                part.east_m[cell],
                part.north_m[cell],
                part.ground_m[cell] + problem.maker.lens_height_m,
                part.side_m[cell],
                part.of_plate(k).theta[cell, hand, mode],
            ).sum(axis=2)
            total = np.logaddexp.reduce(levels, axis=1) - math.log(levels.shape[1])
            own = _seen_by_it_alone(problem, part, k)[cell, hand, mode]
            gain[cell, hand, mode] += POWER * problem.noise.whole_power * own * total
    top = np.argmax(part.mode_score, axis=2)[..., None]
    gain = np.where(asked, gain, np.take_along_axis(gain, top, axis=2))
    log_score, mode_score = cells.log_score.copy(), cells.mode_score.copy()
    mode_score[likely] = part.mode_score + gain
    log_score[likely] += _risen(part.mode_score, mode_score[likely])
    return replace(cells, log_score=log_score, mode_score=mode_score)


def _seen_by_it_alone(problem: Problem, cells: Cells, plate: int) -> Array:
    """Return the share of a plate's view that no plate before it shows.

    The same ridge, traced on two plates, counts once.
    """

    def ends(k: int) -> tuple[Array, Array]:
        theta = cells.of_plate(k).theta
        samples = problem.plates[k].hands[0].samples
        half = np.arctan2(
            0.5 * samples.width_px / samples.diagonal_px, np.exp(theta[..., 1])
        )
        return theta[..., 0], half

    middle, half = ends(plate)
    share = np.ones(middle.shape)
    for k in range(plate):
        other, reach = ends(k)
        off = np.abs((other - middle + np.pi) % (2.0 * np.pi) - np.pi)
        share -= np.clip((half + reach - off) / (2.0 * half), 0.0, 1.0)
    return np.clip(share, 0.0, 1.0)


def ridge_log_odds(problem: Problem, chosen: Chosen) -> Array:
    """Return, for each line, the log odds that the chosen camera explains it.

    Returns
    -------
    (lines,) float64 array
        Log of the density with the ridges seen from there over that of a line
        that is none, at the level of roughness that fits best.
    """
    if not problem.ridges:
        return np.zeros(0)
    east, north, lens = chosen.cell_m[:, None]
    levels = _scores(
        problem, chosen.hand, east, north, lens, np.zeros(1), chosen.theta[None]
    )[0]
    return np.asarray(levels[int(np.argmax(levels.sum(axis=1)))])


def _scores(
    problem: Problem,
    hand: int,
    east_m: Array,
    north_m: Array,
    lens_m: Array,
    side_m: Array,
    theta: Array,
) -> Array:
    chosen = problem.hands[hand]
    lines = problem.ridges
    if chosen.reversed:
        lines = tuple(line.mirrored() for line in lines)
    return score_ridges(
        problem.maker.model,
        chosen.samples,
        lines,
        east_m,
        north_m,
        lens_m,
        side_m,
        theta,
        farthest_m=problem.settings.horizon_radius_m,
        wider=problem.ridge_doubt,
    )


def _risen(before: Array, after: Array) -> Array:
    """Return by how much the sum over cameras rose, none where there is no camera."""
    old = np.logaddexp.reduce(before, axis=2)
    new = np.logaddexp.reduce(after, axis=2)
    some = np.isfinite(old) & np.isfinite(new)
    return np.where(some, new - np.where(some, old, 0.0), 0.0)
