"""Weigh several in lines that share features or plans.

A feature in two in lines errs in both alike, and a plan's shift moves all that were
taken from it: weighed one by one they would count one error as several that cancel.

Symbols
-------
r : residuals of the items [rad]; R their readings' variances
G_f : change of the differences of bearings as feature f moves, (items, 2) [rad/m]
s_f, p : standard errors of a feature's own place and of a plan's shift [m]

    C = R + sum over features s_f^2 G_f G_f' + sum over plans p^2 H H' + cell
    H = sum of G_f over the plan's features

Blunders are summed over: for every set of items that may be blunders together,
``prod(e / U) prod(1 - e) N(r of the others; 0, C of the others)``.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.directions import ANY_BEARING_SD, directions
from wherestood.evidence.in_line import BLUNDER_SPAN_RAD, read_in_line, weigh_in_line
from wherestood.evidence.items.relations import InLine
from wherestood.evidence.lean import Lean
from wherestood.evidence.placed import Candidates, Placement
from wherestood.evidence.stations import Stations
from wherestood.evidence.weighed import turned

__all__ = ["Residuals", "in_line_residuals", "weigh_in_lines"]

Array = NDArray[np.float64]

#: All sets of blunders are gone through up to so many items that hang together;
#: beyond it, sets of two at most, and all of them at once.
_ALL_SETS = 5
_MOST_BLUNDERS = 2


class Residuals:
    """Hold residuals of in lines between single points.

    Attributes
    ----------
    residual_rad : (stations, items) float64 array
        As read less as computed, from -pi to pi [rad].
    covariance : (stations, items, items) float64 array
        Of their errors [rad2].
    by_station : (stations, items, 2) float64 array
        Change of the *computed* difference with the station's east and north
        [rad/m].
    """

    def __init__(self, residual_rad: Array, covariance: Array, by_station: Array):
        self.residual_rad = residual_rad
        self.covariance = covariance
        self.by_station = by_station


def in_line_residuals(
    items: Sequence[InLine], placement: Placement, stations: Stations, lean: Lean
) -> Residuals:
    """Return the residuals of in lines between single points.

    Parameters
    ----------
    items : sequence of InLine
        Each between two details that are one point each.
    placement, stations, lean
        As of `weigh_in_line`.

    Raises
    ------
    ValueError
        If a detail may be more than one point.
    """
    shape = (stations.count, len(items))
    residual = np.empty(shape)
    reading = np.empty(len(items))
    moves: dict[str, Array] = {}
    points: dict[str, Candidates] = {}
    by_station = np.zeros((*shape, 2))
    for column, item in enumerate(items):
        read = read_in_line(item, placement, lean)
        reading[column] = read.sd_rad**2
        azimuths = []
        for sign, name in zip((-1.0, 1.0), item.speaks_of(), strict=True):
            point = placement.candidates(name)
            if point.count != 1:
                raise ValueError(f"{name!r} is not a single point")
            way = directions(stations, point)
            azimuth = way.azimuth_rad[:, 0]
            softened = np.sqrt(
                way.distance_m[:, 0] ** 2
                + (point.sd_m**2 + point.shift_sd_m**2) / ANY_BEARING_SD**2
            )
            turn = sign * np.stack([np.cos(azimuth), -np.sin(azimuth)], axis=-1)
            turn /= softened[:, None]
            feature = point.feature_ids[0]
            points[feature] = point
            moved = moves.setdefault(feature, np.zeros((*shape, 2)))
            moved[:, column] += turn
            by_station[:, column] -= turn
            azimuths.append(azimuth)
        residual[:, column] = turned(read.left_rad - (azimuths[1] - azimuths[0]))
    covariance = _covariance(moves, points) + stations.cell_sd_m**2 * (
        by_station @ by_station.swapaxes(1, 2)
    )
    covariance += np.diag(reading)
    return Residuals(residual, covariance, by_station)


def _covariance(moves: dict[str, Array], points: dict[str, Candidates]) -> Array:
    """Return the covariance, (stations, items, items), that features' errors make."""
    total: Array = np.zeros(1)
    plans: dict[str, Array] = {}
    shifts: dict[str, float] = {}
    for name, moved in moves.items():
        point = points[name]
        total = total + point.sd_m[0] ** 2 * (moved @ moved.swapaxes(1, 2))
        # Without a plan a shift of its own is one more error of the feature.
        plan = point.plan_ids[0] or f"of {name}"
        plans[plan] = plans.get(plan, np.zeros(1)) + moved
        shifts[plan] = float(point.shift_sd_m[0])
    for plan, moved in plans.items():
        total = total + shifts[plan] ** 2 * (moved @ moved.swapaxes(1, 2))
    return total


def weigh_in_lines(
    items: Sequence[InLine], placement: Placement, stations: Stations, lean: Lean
) -> tuple[Array, Array]:
    """Weigh in lines together, sharing the errors of what they share.

    Parameters
    ----------
    items : sequence of InLine
        Any; those with a line, an area or an uncertain identity in them are
        weighed by themselves.
    placement, stations, lean
        As of `weigh_in_line`.

    Returns
    -------
    log_likelihood : (stations,) float64 array
        Log density of all readings, each a radian.
    blunder_log_odds : (stations, items) float64 array
        Log odds that each is a blunder.
    """
    total = np.zeros(stations.count)
    odds = np.empty((stations.count, len(items)))
    for group in _hanging_together(items, placement):
        if len(group) == 1:
            one = weigh_in_line(items[group[0]], placement, stations, lean)
            total += one.log_likelihood
            odds[:, group[0]] = one.blunder_log_odds
            continue
        chosen = [items[index] for index in group]
        residuals = in_line_residuals(chosen, placement, stations, lean)
        log_likelihood, each = _over_blunders(
            residuals, np.array([item.trust for item in chosen])
        )
        total += log_likelihood
        odds[:, group] = each
    return total, odds


def _hanging_together(
    items: Sequence[InLine], placement: Placement
) -> Iterator[list[int]]:
    """Give the numbers of items that share a feature or a plan, in groups."""
    groups: list[tuple[set[str], list[int]]] = []
    for number, item in enumerate(items):
        each = [placement.candidates(name) for name in item.speaks_of()]
        if any(points.count != 1 for points in each):
            yield [number]
            continue
        shared = {f"feature {points.feature_ids[0]}" for points in each}
        shared |= {f"plan {p.plan_ids[0]}" for p in each if p.plan_ids[0]}
        joined = [group for group in groups if group[0] & shared]
        for names, _ in joined:
            shared |= names
        groups = [group for group in groups if not group[0] & shared]
        numbers = sorted(n for _, part in joined for n in part)
        groups.append((shared, [*numbers, number]))
    for _, numbers in groups:
        yield numbers


def _over_blunders(residuals: Residuals, trust: Array) -> tuple[Array, Array]:
    """Sum over sets of blunders; return the log density and each item's log odds."""
    count = len(trust)
    stations = len(residuals.residual_rad)
    good = np.full((stations, count), -np.inf)
    bad = np.full((stations, count), -np.inf)
    with np.errstate(divide="ignore"):
        log_bad = np.log1p(-trust) - math.log(BLUNDER_SPAN_RAD)
    total = np.full(stations, -np.inf)
    for blunders in _sets(count):
        sound = [index for index in range(count) if index not in blunders]
        chance = float(np.log(trust[sound]).sum() + log_bad[list(blunders)].sum())
        here = chance + _log_normal(residuals, sound)
        total = np.logaddexp(total, here)
        for index in range(count):
            into = bad if index in blunders else good
            into[:, index] = np.logaddexp(into[:, index], here)
    return total, bad - good


def _sets(count: int) -> Iterator[tuple[int, ...]]:
    most = count if count <= _ALL_SETS else _MOST_BLUNDERS
    for size in range(most + 1):
        yield from itertools.combinations(range(count), size)
    if most < count:
        yield tuple(range(count))


def _log_normal(residuals: Residuals, which: list[int]) -> Array:
    """Return the log density of some residuals, (stations,)."""
    if not which:
        return np.zeros(len(residuals.residual_rad))
    r = residuals.residual_rad[:, which]
    lower = np.linalg.cholesky(residuals.covariance[:, which][:, :, which])
    white = np.linalg.solve(lower, r[..., None])[..., 0]
    log_root = np.log(np.diagonal(lower, axis1=1, axis2=2)).sum(axis=1)
    half_turns = 0.5 * len(which) * math.log(2.0 * math.pi)
    return np.asarray(-0.5 * (white**2).sum(axis=1) - log_root - half_turns)
