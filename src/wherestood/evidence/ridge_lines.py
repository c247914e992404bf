"""Score traced ridge lines against the ridges that a station would show.

Symbols
-------
t, T_j, d_j : tangent of a sample's elevation, of ridge j's at its bearing, and the
    ridge's distance [m]
m : cover found above the horizon [m]
s : slope of the traced line, dY/dX
c : principal distance over the diagonal
sigma_j^2 = (h^2 + (s l)^2 + s^2 A^2 / 12) / d_j^2 + (p / c)^2 : variance of
    t - T_j - m / d_j, with h the error of heights, l that sideways, A the side of the
    cell, p the error on the plate

How rough the model and its trees are is not known beforehand: h and l are taken at
several levels, the same for all lines, and the levels are mixed.

A line follows one ridge, goes over to another where the first ends, or is none
(an edge of shade or of a wood): a hidden Markov chain along the line, summed by the
forward pass (Rabiner 1989, "A tutorial on hidden Markov models", section III.A). A line
that follows no ridge may stand anywhere in a range of tangents. Neighbouring
samples share one ridge's error, so a line counts only as often as it spans a fifth
of the plate.
"""

from __future__ import annotations

from math import atan2, cos, exp, log, pi, sin, sqrt

import numba
import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.ridge_samples import STRIPS, RidgeSamples
from wherestood.evidence.samples import SkylineSamples
from wherestood.evidence.unknowns import CAMERA
from wherestood.terrain.horizon import HorizonModel, nearest_start_m
from wherestood.terrain.ridges import ridges_along

__all__ = ["MACHINE_TRUST", "score_ridges"]

Array = NDArray[np.float64]

#: Error of a ridge's height, trees and model together, and sideways [m], at the
#: least level; and the factors of the levels.
HEIGHT_SD_M = 6.0
LATERAL_M = 15.0
LEVELS = (1.0, 2.0, 4.0)
#: Error on the plate of lens and warp far from the skyline, over the diagonal.
PLATE_SD = 0.002
#: A skyline hardly tells tilt from rise; far below it they part, by this angle [rad]
#: times the square of the tangent between.
TILT_SD_RAD = 0.04
#: Degrees of freedom of the Student law: one ridge in some is simply otherwise.
FREEDOM = 4.0
#: How often a line that a machine traced is a ridge: on invented plates about four in
#: ten are, the others are edges of shade and of woods (`docs/coverage.md`).
MACHINE_TRUST = 0.4
#: Tangents among which a line that is no ridge may stand.
ANYWHERE = 0.15
#: A line stays on its ridge from strip to strip; one that follows none takes one up.
STAY, TAKE_UP = 0.93, 0.05
#: The same ridge if its distance changes by no more than this factor, from strip
#: to strip [log].
SAME = 0.15
#: Strips that count as one: a ridge's error is shared along it.
SHARED_STRIPS = STRIPS / 5
MOST_RIDGES = 5
FARTHER_BY = 1.2
HIGHER_BY = 1e-3


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _direction(theta, sample):  # type: ignore[no-untyped-def]
    """Return bearing [rad] and tangent of a point of the plate, and c / cos there."""
    c = exp(theta[1])
    x_axis = sample[0] + theta[5]
    y_axis = (
        sample[1] * (1.0 + theta[7])
        + sample[3] * theta[8]
        + sample[4] * theta[9]
        + theta[4]
    )
    lens = 1.0 + theta[6] * 4.0 * (x_axis * x_axis + y_axis * y_axis)
    x = x_axis * lens
    y = y_axis * lens
    a = x * cos(theta[3]) + y * sin(theta[3])
    e = -x * sin(theta[3]) + y * cos(theta[3])
    forward = c * cos(theta[2]) - e * sin(theta[2])
    up = c * sin(theta[2]) + e * cos(theta[2])
    flat = sqrt(a * a + forward * forward)
    return theta[0] + atan2(a, forward), up / flat, flat


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _density(  # type: ignore[no-untyped-def]
    tangent, below, flat, ridge, cover_m, sample, side_m, rough, wider
):
    """Return the Student density of a sample about one ridge."""
    distance = ridge[1]
    slope2 = sample[5] * sample[5]
    metres2 = (
        rough * rough * (HEIGHT_SD_M**2 + slope2 * LATERAL_M**2)
        + slope2 * side_m * side_m / 12.0
    ) / distance**2
    plate = (PLATE_SD**2 + sample[2] * sample[2]) / (flat * flat)
    plate += (TILT_SD_RAD * below * below) ** 2
    variance = wider * wider * (metres2 + plate)
    off = tangent - ridge[0] - cover_m / distance
    # 3 / 8 is the height of a Student law of 4 degrees of freedom.
    return 0.375 / sqrt(variance) * (1.0 + off * off / (FREEDOM * variance)) ** -2.5


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _one_line(  # type: ignore[no-untyped-def]
    theta, samples, trust, ridges, level_tangent, side_m, rough, wider
):
    """Return the log density of one line over that of a line that is no ridge."""
    count, most = ridges.shape[:2]
    none = 1.0 / ANYWHERE
    share = np.zeros(most + 1)
    after = np.zeros(most + 1)
    total = 0.0
    for k in range(count):
        _, tangent, flat = _direction(theta, samples[k])
        known = 0
        for j in range(most):
            if np.isfinite(ridges[k, j, 0]):
                known += 1
        if k == 0:
            lost = 0.0
            for j in range(most):
                after[j] = trust / known if j < known else 0.0
            after[most] = 1.0 - trust if known else 1.0
        else:
            lost = 0.0
            for j in range(most):
                after[j] = 0.0
            for i in range(most):
                if share[i] <= 0.0:
                    continue
                matches = 0
                for j in range(known):
                    if abs(log(ridges[k, j, 1] / ridges[k - 1, i, 1])) < SAME:
                        matches += 1
                for j in range(known):
                    if abs(log(ridges[k, j, 1] / ridges[k - 1, i, 1])) < SAME:
                        after[j] += STAY * share[i] / matches
                lost += share[i] * ((1.0 - STAY) if matches else 1.0)
            free = 0.5 * lost + TAKE_UP * share[most]
            after[most] = 0.5 * lost + (1.0 - TAKE_UP) * share[most]
            if known == 0:
                after[most] += free
            for j in range(known):
                after[j] += free / known
        sum_ = after[most] * none
        after[most] *= none
        for j in range(known):
            after[j] *= _density(
                tangent, level_tangent - tangent, flat, ridges[k, j], theta[CAMERA],
                samples[k], side_m, rough, wider,
            )  # fmt: skip
            sum_ += after[j]
        total += log(sum_ / none)
        for j in range(most + 1):
            share[j] = after[j] / sum_
    return total * (1.0 / SHARED_STRIPS + (1.0 - 1.0 / SHARED_STRIPS) / count)


@numba.njit(cache=True, nogil=True, parallel=True, error_model="numpy")
def _score(  # type: ignore[no-untyped-def]
    nodes, x, y, z, side_m, theta, middle, samples, ends, trust, start, stop, kappa,
    cell_m, levels, wider, score,
):  # fmt: skip
    for s in numba.prange(x.size):
        _, level_tangent, _ = _direction(theta[s], middle)
        found = np.empty((samples.shape[0], MOST_RIDGES, 3))
        found[:] = np.nan
        for k in range(samples.shape[0]):
            bearing, _, _ = _direction(theta[s], samples[k])
            bearing %= 2.0 * pi
            ridges_along(
                nodes, x[s], y[s], z[s], sin(bearing), cos(bearing), start, stop,
                kappa, FARTHER_BY, HIGHER_BY * cell_m, found[k],
            )  # fmt: skip
            for j in range(MOST_RIDGES):
                found[k, j, 0] /= cell_m
                found[k, j, 1] *= cell_m
        for level in range(levels.size):
            first = 0
            for line in range(ends.size):
                part = slice(first, ends[line])
                score[s, level, line] = _one_line(
                    theta[s], samples[part], trust[line], found[part], level_tangent,
                    side_m[s], levels[level], wider,
                )  # fmt: skip
                first = ends[line]


def score_ridges(
    model: HorizonModel,
    skyline: SkylineSamples,
    lines: tuple[RidgeSamples, ...],
    east_m: Array,
    north_m: Array,
    lens_m: Array,
    side_m: Array,
    theta: Array,
    *,
    farthest_m: float,
    wider: float = 1.0,
) -> Array:
    """Return how much better each line is explained by a station's ridges than by none.

    Parameters
    ----------
    model : HorizonModel
        The terrain.
    skyline : SkylineSamples
        The skyline that the cameras were fitted to.
    lines : tuple of RidgeSamples
        Lines as traced, of the hand that the cameras are of.
    east_m, north_m, lens_m : (cameras,) float64 array
        Position of each camera in the terrain's frame and datum [m].
    side_m : (cameras,) float64 array
        Side of the cell that each stands for [m].
    theta : (cameras, unknowns) float64 array
        The cameras, as `evidence.unknowns.UNKNOWNS`.
    farthest_m : float
        How far rays go [m].
    wider : float
        Factor on every standard error.

    Returns
    -------
    (cameras, levels, lines) float64 array
        Log of the ratio of densities at each level of roughness; what cannot be
        matched costs little.
    """
    terrain = model.terrain
    cell = terrain.cell_m
    score = np.zeros((east_m.size, len(LEVELS), len(lines)))
    if not lines or not east_m.size:
        return score
    _score(
        model.pyramid.nodes,
        (east_m - terrain.west_m) / cell,
        (north_m - terrain.south_m) / cell,
        np.ascontiguousarray(lens_m, dtype=np.float64),
        np.ascontiguousarray(side_m, dtype=np.float64),
        np.ascontiguousarray(theta),
        # Without a skyline the plate's middle stands in for that of the line.
        skyline.table.mean(axis=0) if len(skyline.table) else np.zeros(5),
        np.concatenate([line.table for line in lines]),
        np.cumsum([len(line.table) for line in lines]),
        np.array([line.trust for line in lines]),
        nearest_start_m(terrain.source_cell_m) / cell,
        farthest_m / cell,
        model.curvature_per_m * cell * cell,
        cell,
        np.array(LEVELS),
        wider,
        score,
    )
    return score
