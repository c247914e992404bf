"""Test whether each plate of a panorama was taken from the station of the others.

Symbols
-------
S : station of the panorama; D : how far from it a plate's own station would lie
L(D) : log density of the plate by itself, its camera free, at S + D
r, g(D) : what is left at tie marks with one station, and what parallax would make of it
J : change of r with the plate's bearing, tilt and roll, which may make up for some

A plate taken elsewhere has another skyline, and what is near stands before other
ground. Both are asked on rings about S, each as likely as the others, and anywhere in
the ground searched.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from wherestood.camera.priors import distance_prior
from wherestood.evidence.mark_rows import seen_from_plate
from wherestood.evidence.ties import TURNED_M, TieTable, tie_state
from wherestood.evidence.unknowns import COUNT
from wherestood.fix.answers import Chosen
from wherestood.fix.beside import SAME_LENS_SD
from wherestood.fix.cells import Cells, score_cells
from wherestood.fix.lens import LensPrior
from wherestood.fix.panorama_result import OneStation
from wherestood.fix.problem import Problem
from wherestood.fix.search import first_cells, starts_from
from wherestood.progress import SILENT, Progress

__all__ = ["one_station"]

Array = NDArray[np.float64]

#: Probability that plates handed over as a panorama were taken from one station.
PRIOR_ONE = 0.95
#: Of the rest, that a plate's station is anywhere and not near the others'.
ANYWHERE = 0.2
#: Rings about the station: radii [m], and places on each.
RADII_M = 6.0 * 2.0 ** np.arange(9)
PLACES = 12
#: Side of the cell that a place on a ring stands for, over its radius.
SIDE_SHARE = 0.6
#: The station itself is looked at on five cells of this side [m].
HERE_SIDE_M = 4.0
#: Stations that stand for anywhere.
SOMEWHERE = 120
#: A tied plate looks where its ties say, but for so much [rad].
TIED_WITHIN_RAD = math.radians(5.0)
#: How well a tied thing's distance is known from the ground, a share of it.
DISTANCE_SHARE = 0.3
_STEPS = np.geomspace(15.0, 30_000.0, 400)


def one_station(
    problem: Problem, chosen: Chosen, progress: Progress
) -> tuple[OneStation, ...]:
    """Return, for each plate, the odds that it shares the station of the others.

    Parameters
    ----------
    problem : Problem
        Of a panorama.
    chosen : Chosen
        The best cameras, of all plates.
    """
    assert problem.beside is not None
    assert chosen.more_theta is not None
    theta = np.concatenate((chosen.theta[None], chosen.more_theta))
    reversed_ = problem.hands[chosen.hand].reversed
    ties = problem.beside.ties.mirrored() if reversed_ else problem.beside.ties
    rng = np.random.default_rng(problem.settings.seed)
    progress.stage("Asking whether the plates share one station", len(theta))
    found = []
    for k in range(len(theta)):
        found.append(_tested(problem, chosen, k, theta, ties, rng))
        progress.advance()
    return tuple(found)


def _tested(
    problem: Problem,
    chosen: Chosen,
    k: int,
    theta: Array,
    ties: TieTable,
    rng: np.random.Generator,
) -> OneStation:
    """Test one plate."""
    plate = _alone(problem, chosen, k, theta[k])
    own = _ties_of(ties, k, theta)
    tied = len(own.pair) > 0
    within = TIED_WITHIN_RAD if tied else math.pi
    east, north = chosen.cell_m[:2]
    cross = HERE_SIDE_M * np.array([[0, 0], [1, 0], [-1, 0], [0, 1], [0, -1]])
    here = _mean(_density(plate, east, north, cross, HERE_SIDE_M, theta[k, 0], within))
    # Where the plate by itself finds no camera that looks the way all plates say, its
    # lines tell nothing here or there: its ties alone do.
    silent = not math.isfinite(here)
    parallax = _Parallax.of(problem, chosen, own, k, theta) if tied else None
    weight, away = [], []
    turn = np.arange(PLACES) * (2.0 * np.pi / PLACES)
    for number, radius in enumerate(RADII_M):
        angle = turn + number * np.pi / PLACES
        offset = radius * np.column_stack((np.sin(angle), np.cos(angle)))
        # Of a plate that has moved what is near shows at another bearing.
        loose = within + math.atan(radius / 500.0)
        scored = _density(
            plate, east, north, offset, SIDE_SHARE * radius, theta[k, 0], loose
        )
        told = parallax.log_ratio(offset) if parallax else np.zeros(PLACES)
        weight.append(told if silent else scored - here + told)
        away.append(offset)
    rings = np.concatenate(weight) - math.log(len(RADII_M) * PLACES)
    anywhere = 0.0 if silent else _somewhere(plate, rng) - here
    if tied:
        # From elsewhere not one of the ties would hold.
        anywhere += float(tie_state(own, theta)[0].sum())
    near = float(np.logaddexp.reduce(rings)) + math.log(1.0 - ANYWHERE)
    apart = float(np.logaddexp(near, anywhere + math.log(ANYWHERE)))
    log_odds = math.log(PRIOR_ONE / (1.0 - PRIOR_ONE)) - apart
    return OneStation(
        k,
        float(1.0 / (1.0 + math.exp(-np.clip(log_odds, -50.0, 50.0)))),
        *_how_far(rings, np.concatenate(away)),
        float(np.exp(anywhere + math.log(ANYWHERE) - apart)),
        len(own.pair),
    )


def _alone(problem: Problem, chosen: Chosen, k: int, theta: Array) -> Problem:
    """Return one plate by itself, its lens that of the panorama, one hand."""
    plate = problem.plates[k]
    assert problem.beside is not None
    hands = (replace(plate.hands[chosen.hand], log_prior=0.0),)
    if not problem.beside.one_lens:
        return replace(plate, hands=hands, free=None)
    sd = 5.0 * SAME_LENS_SD
    lens = LensPrior(theta[1], sd, True, distance_prior(math.exp(theta[1]), sd))
    mean, prior_sd = plate.prior_mean.copy(), plate.prior_sd.copy()
    mean[1], prior_sd[1] = theta[1], sd
    return replace(
        plate, hands=hands, free=None, lens=lens, prior_mean=mean, prior_sd=prior_sd
    )


def _ties_of(ties: TieTable, k: int, theta: Array) -> TieTable:
    """Return the ties of a plate that are no blunders."""
    if not len(ties.pair):
        return ties
    good = tie_state(ties, theta)[0] < 0.0
    return ties.take(good & (ties.pair == k).any(axis=1))


def _density(
    plate: Problem,
    east_m: float,
    north_m: float,
    offset_m: Array,
    side_m: float,
    bearing: float,
    within: float,
) -> Array:
    """Return the log density at places, of cameras that look the right way."""
    east, north = east_m + offset_m[:, 0], north_m + offset_m[:, 1]
    density = np.full(len(east), -np.inf)
    ground, _ = plate.maker.heights(east, north)
    known = np.isfinite(ground)
    if not known.any():
        return density
    whole = np.ones(int(known.sum()))
    first = score_cells(plate, east[known], north[known], side_m, whole, SILENT)
    closer = score_cells(
        plate, first.east_m, first.north_m, side_m, whole, SILENT, starts_from(first)
    )
    density[known] = _looking(closer, bearing, within)
    return density


def _looking(cells: Cells, bearing: float, within: float) -> Array:
    off = np.abs((cells.theta[..., 0] - bearing + np.pi) % (2.0 * np.pi) - np.pi)
    score = np.where(off <= within, cells.mode_score, -np.inf)
    return np.asarray(np.logaddexp.reduce(score, axis=(1, 2)))


def _mean(log_density: Array) -> float:
    return float(np.logaddexp.reduce(log_density) - math.log(len(log_density)))


def _somewhere(plate: Problem, rng: np.random.Generator) -> float:
    """Return the log density of a plate from anywhere in the ground searched."""
    shape = plate.area.in_frame(plate.terrain.frame)
    east, north, share, side_m = first_cells(shape)
    ground, _ = plate.maker.heights(east, north)
    inside = np.flatnonzero((share > 0.0) & np.isfinite(ground))
    some = rng.choice(inside, size=min(SOMEWHERE, inside.size), replace=False)
    cells = score_cells(plate, east[some], north[some], side_m, share[some], SILENT)
    return _mean(cells.log_density)


def _how_far(rings: Array, offset_m: Array) -> tuple[float, float, float]:
    """Return how far apart stations would be: likeliest, 9 in 10 between [m]."""
    away = np.hypot(*offset_m.T)
    share = np.exp(rings - rings.max())
    share = share / share.sum()
    by_radius = np.array([share[np.isclose(away, r)].sum() for r in RADII_M])
    running = np.cumsum(by_radius)
    low, high = (int(np.searchsorted(running, p)) for p in (0.05, 0.95))
    return (
        float(RADII_M[int(np.argmax(by_radius))]),
        float(RADII_M[low]),
        float(RADII_M[min(high, len(RADII_M) - 1)]),
    )


class _Parallax:
    """Say what tie marks tell of a station that is off."""

    def __init__(
        self, residual: Array, jacobian: Array, by_place: Array, variance: Array
    ) -> None:
        self.residual = residual
        self.jacobian = jacobian
        self.by_place = by_place
        self.variance = variance

    @classmethod
    def of(
        cls, problem: Problem, chosen: Chosen, ties: TieTable, k: int, theta: Array
    ) -> _Parallax:
        """Work out how each tie would move, at the ground's own distances."""
        _, off = tie_state(ties, theta)
        rows = np.zeros((2, COUNT))
        residual, jacobian, by_place, variance = [], [], [], []
        for number, pair in enumerate(ties.pair):
            side = 0 if pair[0] == k else 1
            sign = 1.0 if side == 0 else -1.0
            place = ties.place[number]
            alpha, tangent, *_ = seen_from_plate(theta[k], place[side], rows)
            azimuth = theta[k, 0] + alpha
            away = _distance_m(problem, chosen, azimuth, tangent)
            noise = np.zeros(2)
            for end in range(2):
                seen = seen_from_plate(
                    theta[pair[end]], place[end], np.zeros((2, COUNT))
                )
                noise += place[end, 2] ** 2 * np.array(
                    (seen[2] ** 2 + seen[3] ** 2, seen[4] ** 2 + seen[5] ** 2)
                )
            noise[0] += (TURNED_M / away) ** 2
            residual.append(sign * off[number])
            jacobian.append(rows[:, (0, 2, 3)].copy())
            by_place.append(
                np.array(
                    (
                        (-math.cos(azimuth), math.sin(azimuth)),
                        (tangent * math.sin(azimuth), tangent * math.cos(azimuth)),
                    )
                )
                / away
            )
            variance.append(noise)
        return cls(
            np.concatenate(residual),
            np.concatenate(jacobian),
            np.concatenate(by_place),
            np.concatenate(variance),
        )

    def log_ratio(self, offset_m: Array) -> Array:
        """Return the log density with the station moved over that with it here."""
        here = self._log_density(np.zeros(2))
        return np.array([self._log_density(move) - here for move in offset_m])

    def _log_density(self, move: Array) -> float:
        expected = self.by_place @ move
        variance = self.variance + (DISTANCE_SHARE * expected) ** 2
        left = self.residual - expected
        weighed = self.jacobian / variance[:, None]
        # A turn of the camera makes up for what it can.
        normal = weighed.T @ self.jacobian + 1e-9 * np.eye(3)
        pulled = weighed.T @ left
        square = left @ (left / variance) - pulled @ np.linalg.solve(normal, pulled)
        log_det = float(np.log(variance).sum()) + np.linalg.slogdet(normal)[1]
        return float(-0.5 * (square + log_det))


def _distance_m(
    problem: Problem, chosen: Chosen, azimuth: float, tangent: float
) -> float:
    """Return how far away the ground is that a ray meets, or passes nearest [m]."""
    east, north, lens = chosen.cell_m
    ground = problem.maker.ground.at(
        east + _STEPS * math.sin(azimuth), north + _STEPS * math.cos(azimuth)
    ).astype(np.float64)
    seen = (ground - lens) / _STEPS - problem.curvature_per_m * _STEPS
    seen = np.where(np.isfinite(seen), seen, -np.inf)
    meets = np.flatnonzero(seen >= tangent)
    # Above all ground known, things stand on the horizon.
    return float(_STEPS[meets[0] if meets.size else int(np.argmax(seen))])
