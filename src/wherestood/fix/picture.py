"""Draw the computed horizon and ridges of a camera in scan pixels."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.ridge_lines import (
    FARTHER_BY,
    HIGHER_BY,
    MOST_RIDGES,
    SAME,
)
from wherestood.evidence.samples import SkylineSamples
from wherestood.evidence.unknowns import CAMERA
from wherestood.fix.answers import INDEX, Chosen
from wherestood.fix.problem import Problem
from wherestood.terrain.horizon import nearest_start_m
from wherestood.terrain.ridges import ridge_lines

__all__ = ["computed_ridges", "computed_skyline", "misfit_px"]

Array = NDArray[np.float64]

_BEARINGS = 1600
_RIDGE_BEARINGS = 400
_BEYOND_FRAME = 1.15


def computed_skyline(problem: Problem, chosen: Chosen) -> tuple[Array, Array]:
    """Return the horizon as the camera would show it, and its distance.

    Seen from the best camera's own cell; the model's horizon is raised by the cover
    that the fit found.

    Returns
    -------
    pixels : (n, 2) float64 array
        Scan pixels, left to right on the scan as read; NaN outside the frame.
    distance_m : (n,) float64 array
        Distance of each point [m].
    """
    theta = chosen.theta
    samples = problem.hands[chosen.hand].samples
    alpha = _across(chosen, samples, _BEARINGS)
    c = math.exp(theta[INDEX["log_distance"]])
    east_m, north_m, lens_m = chosen.cell_m[:, None]
    seen = problem.maker.model.horizons(
        east_m,
        north_m,
        lens_m,
        theta[0] + alpha,
        nearest_m=nearest_start_m(problem.terrain.source_cell_m),
        farthest_m=problem.settings.horizon_radius_m,
    )
    distance = seen.distance_m[0]
    tangent = seen.tangent[0]
    x, _ = _to_plate(theta, c, alpha, tangent)
    profile = problem.maker.make(east_m, north_m).table[0]
    turns = (theta[0] + alpha) / (2.0 * np.pi) * len(profile)
    inverse = np.interp(
        turns, np.arange(len(profile)), 1.0 / profile[:, 2], period=len(profile)
    )
    # Cover and refraction as they were fitted (`evidence.linearise`).
    span = 4.0 * x
    cover, slope, bend, refraction = theta[CAMERA : CAMERA + 4]
    tangent = tangent + (cover + slope * span + bend * (span**2 - 0.8)) * inverse
    tangent = tangent + refraction * distance * problem.curvature_per_m
    pixels = _on_scan(problem, chosen, alpha, tangent)
    if problem.hands[chosen.hand].reversed:
        pixels, distance = pixels[::-1], distance[::-1]
    return pixels, distance


def computed_ridges(problem: Problem, chosen: Chosen) -> Array:
    """Return the ridges below the horizon as the camera would show them.

    Each raised by the cover that the fit found, as ridge lines are scored
    (`evidence.ridge_lines`).

    Returns
    -------
    (k, 2, 2) float64 array
        Ends of short stretches, from one bearing to the next, in scan pixels.
    """
    alpha = _across(chosen, problem.hands[chosen.hand].samples, _RIDGE_BEARINGS)
    east_m, north_m, lens_m = chosen.cell_m[:, None]
    found = ridge_lines(
        problem.maker.model,
        east_m,
        north_m,
        lens_m,
        chosen.theta[0] + alpha,
        most=MOST_RIDGES,
        farther_by=FARTHER_BY,
        higher_by=HIGHER_BY,
        nearest_m=nearest_start_m(problem.terrain.source_cell_m),
        farthest_m=problem.settings.horizon_radius_m,
    )
    distance = found.distance_m[0]
    tangent = found.tangent[0] + chosen.theta[CAMERA] / distance
    points = np.stack(
        [_on_scan(problem, chosen, alpha, tangent[:, j]) for j in range(MOST_RIDGES)],
        axis=1,
    )
    # The nearest in distance, if near enough, is the same ridge one bearing on.
    with np.errstate(invalid="ignore"):
        apart = np.abs(np.log(distance[1:, None, :] / distance[:-1, :, None]))
    apart = np.where(np.isfinite(apart), apart, np.inf)
    following = apart.argmin(axis=2)
    row, ridge = np.nonzero(apart.min(axis=2) < SAME)
    ends = np.stack(
        (points[row, ridge], points[row + 1, following[row, ridge]]), axis=1
    )
    return np.asarray(ends[np.isfinite(ends).all(axis=(1, 2))])


def _across(chosen: Chosen, samples: SkylineSamples, count: int) -> Array:
    """Return bearings from the lens axis over the plate's width and a little more."""
    c = math.exp(chosen.theta[INDEX["log_distance"]])
    half = math.atan(0.5 * samples.width_px / samples.diagonal_px / c) * _BEYOND_FRAME
    centre = math.atan(chosen.theta[INDEX["cross"]] / c)
    return np.linspace(centre - half, centre + half, count)


def _on_scan(problem: Problem, chosen: Chosen, alpha: Array, tangent: Array) -> Array:
    """Return scan pixels of directions, warp included; NaN outside the frame."""
    theta = chosen.theta
    samples = problem.hands[chosen.hand].samples
    c = math.exp(theta[INDEX["log_distance"]])
    x, y = _to_plate(theta, c, alpha, tangent)
    across = x * samples.diagonal_px / (0.5 * samples.width_px)
    warp = theta[INDEX["warp_two"]] * (1.5 * across**2 - 0.5)
    warp = warp + theta[INDEX["warp_three"]] * (2.5 * across**3 - 1.5 * across)
    y = y - warp / (1.0 + theta[INDEX["vertical_scale"]])
    if problem.hands[chosen.hand].reversed:
        x = -x
    diagonal = samples.diagonal_px
    pixels = np.column_stack(
        (x * diagonal + samples.width_px / 2, samples.height_px / 2 - y * diagonal)
    )
    outside = (
        (pixels[:, 0] < 0)
        | (pixels[:, 0] > samples.width_px)
        | (pixels[:, 1] < 0)
        | (pixels[:, 1] > samples.height_px)
    )
    pixels[outside] = np.nan
    return pixels


def _to_plate(
    theta: Array, c: float, alpha: Array, tangent: Array
) -> tuple[Array, Array]:
    """Project directions (bearing from the axis, tangent) to plate over diagonal."""
    tilt, roll = theta[INDEX["tilt"]], theta[INDEX["roll"]]
    right, ahead, up = np.sin(alpha), np.cos(alpha), tangent
    axis = ahead * math.cos(tilt) + up * math.sin(tilt)
    over = -ahead * math.sin(tilt) + up * math.cos(tilt)
    x = c * (right * math.cos(roll) - over * math.sin(roll)) / axis
    y = c * (right * math.sin(roll) + over * math.cos(roll)) / axis
    seen_x, seen_y = x, y
    for _ in range(5):
        lens = 1.0 + theta[INDEX["radial"]] * 4.0 * (seen_x**2 + seen_y**2)
        seen_x, seen_y = x / lens, y / lens
    plate_y = seen_y - theta[INDEX["rise"]]
    return seen_x - theta[INDEX["cross"]], plate_y / (
        1.0 + theta[INDEX["vertical_scale"]]
    )


def misfit_px(problem: Problem, pixels: Array) -> Array:
    """Return traced minus computed height at each sample of the skyline [px]."""
    samples = problem.hands[0].samples
    if problem.hands[0].reversed:
        samples = samples.mirrored()
    x = samples.table[:, 0] * samples.diagonal_px + samples.width_px / 2
    y = samples.height_px / 2 - samples.table[:, 1] * samples.diagonal_px
    shown = np.isfinite(pixels[:, 0])
    if shown.sum() < 2:
        return np.full(x.shape, np.nan)
    order = np.argsort(pixels[shown, 0])
    computed = np.interp(
        x,
        pixels[shown, 0][order],
        pixels[shown, 1][order],
        left=np.nan,
        right=np.nan,
    )
    return np.asarray(y - computed)
