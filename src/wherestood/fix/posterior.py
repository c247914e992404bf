"""Turn scored cells into probabilities, regions and places."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import KDTree
from shapely.geometry import MultiPolygon, Polygon

from wherestood.fix.cells import LIGHT, Cells

__all__ = [
    "BESIDE",
    "SKYLINE_ALONE",
    "UNSURE_NATS",
    "Place",
    "Posterior",
    "Powers",
    "doubted",
    "find_places",
    "posterior_of",
    "region",
    "smoothed_log_density",
]

Array = NDArray[np.float64]

#: Cells that together hold less than this are left out of answers, not of sums.
NEGLIGIBLE = 1e-4
_SEEDS = 400
#: Sds at which an average of near cells is cut off.
_CUT_OFF = 2.5
#: Log density that ground is taken to have at least, against the best.
_FAINTEST = -700.0
#: What a plate tells of the ground [nats] is doubted by this much: the powers of
#: `SkylineNoise` suit plates that tell more. From invented plates (`docs/coverage.md`).
UNSURE_NATS = 0.15
#: Shares of the probability, and the power to which each raises the density.
Powers = tuple[tuple[float, float], ...]
#: How far a skyline's errors hang together differs from plate to plate, and nobody
#: knows it: half of the probability counts it twice as high, half lower. Where the
#: model's near ground is wrong the station lies farther out than either says.
SKYLINE_ALONE: Powers = ((0.485, 2.0), (0.485, 0.8), (0.03, 0.25))
#: Where anything else is seen besides.
BESIDE: Powers = ((1.0, 1.0),)


@dataclass(frozen=True)
class Posterior:
    """Hold the probability of each cell inside the ground searched.

    Attributes
    ----------
    cells : Cells
        Likeliest per area first, with their own scores.
    mass : (n,) float64 array
        Probability of each, averaged with its neighbours'; sums to one.
    ring : float
        Share of all the weight that lies in the ring outside.
    """

    cells: Cells
    mass: Array
    ring: float


@dataclass(frozen=True)
class Place:
    """Hold one place: the circle that takes in most probability.

    Attributes
    ----------
    east_m, north_m : float
        Its middle, weighted by probability [m].
    probability : float
        Inside the circle.
    members : (k,) int64 array
        Cells inside, as indices of the posterior's.
    """

    east_m: float
    north_m: float
    probability: float
    members: NDArray[np.int64]


def smoothed_log_density(cells: Cells, reach_m: float) -> Array:
    """Return log density averaged over near cells.

    Parameters
    ----------
    reach_m : float
        Sd of the average [m]: that of a sideways shift of the whole model, which
        nobody knows. It is never less than a cell, so that the scatter of single
        scores, summed over few cameras, does not make some cells stand out.

    Notes
    -----
    A shift of the model moves all likelihoods with it, so that averaging over it
    is averaging the density over shifted stations. Cells of one size are weighed by
    their distance under that sd; between two sizes it is wider by what the larger
    cell spreads more, side^2 / 12. A good place is split into small cells and the
    ground about it is not: without that, nothing of it would reach its neighbours.
    """
    sizes = np.unique(cells.side_m)
    members = [np.flatnonzero(cells.side_m == side) for side in sizes]
    points = np.column_stack((cells.east_m, cells.north_m))
    trees = [KDTree(points[which]) for which in members]
    own = cells.log_density
    top = own.max(initial=LIGHT)
    # So that ground far below the best is not lost to rounding.
    values = np.exp(np.maximum(own - top, _FAINTEST))
    held, weight = np.zeros(own.size), np.zeros(own.size)
    for one, side in enumerate(sizes):
        for other, beside in enumerate(sizes):
            small, large = min(side, beside), max(side, beside)
            variance = max(small, reach_m) ** 2 + (large**2 - small**2) / 12.0
            pairs = trees[one].sparse_distance_matrix(
                trees[other], _CUT_OFF * math.sqrt(variance), output_type="ndarray"
            )
            here, there = members[one][pairs["i"]], members[other][pairs["j"]]
            share = beside**2 / variance * np.exp(-0.5 * pairs["v"] ** 2 / variance)
            held += np.bincount(here, share * values[there], own.size)
            weight += np.bincount(here, share, own.size)
    return np.asarray(top + np.log(held / weight))


def posterior_of(
    cells: Cells, reach_m: float = 0.0, powers: Powers | None = None
) -> Posterior:
    """Return the probabilities of cells, densest first.

    Parameters
    ----------
    reach_m : float
        As `smoothed_log_density`; 0 for no averaging.
    powers : tuple of (float, float), optional
        Where given, what the picture tells is doubted, as `doubted`: its errors are
        never quite those that the model of noise has.
    """
    density = (
        smoothed_log_density(cells, reach_m) if reach_m > 0.0 else cells.log_density
    )
    # A cell across the outline counts inside by its share, in the ring by the rest.
    whole = density + 2.0 * np.log(cells.side_m)
    whole = np.exp(whole - whole.max())
    ring = float(np.sum(whole * (1.0 - cells.share)) / whole.sum())
    within = np.flatnonzero(cells.inside)
    log_area = cells.log_area[within]
    density = density[within]
    if powers is not None:
        free = np.zeros(within.size) if cells.free is None else cells.free[within]
        log_mass = doubted(density - free, free + log_area, powers)
    else:
        log_mass = _log_shares(density + log_area)
    order = np.argsort(log_area - log_mass, kind="stable")
    return Posterior(cells.take(within[order]), np.exp(log_mass[order]), ring)


def doubted(told: Array, log_before: Array, powers: Powers) -> Array:
    """Return log probabilities in which what the picture tells is doubted.

    Parameters
    ----------
    told : (n,) float64 array
        Log density by the picture.
    log_before : (n,) float64 array
        Log weight of each cell without it.
    powers : tuple of (float, float)
        Shares of the probability, which sum to one, and the power of each.

    Notes
    -----
    Errors that no model of noise has are as large whether a plate tells much or
    nothing. A plate's densities are scaled by I / (I + `UNSURE_NATS`), I being what it
    tells: the relative entropy [nats] of its probabilities to those before. Each share
    is scaled by its own power besides.
    """
    before = _log_shares(log_before)
    after = _log_shares(told + log_before)
    gained = max(0.0, float(np.sum(np.exp(after) * (after - before))))
    scale = gained / (gained + UNSURE_NATS)
    parts = [
        math.log(share) + _log_shares(power * scale * told + log_before)
        for share, power in powers
    ]
    return np.asarray(np.logaddexp.reduce(parts))


def _log_shares(log_weight: Array) -> Array:
    return np.asarray(log_weight - np.logaddexp.reduce(log_weight))


def region(posterior: Posterior, probability: float) -> MultiPolygon:
    """Return the smallest region that holds a probability, in frame metres."""
    running = np.cumsum(posterior.mass)
    count = int(np.searchsorted(running, probability * running[-1])) + 1
    cells = posterior.cells.take(np.arange(min(count, len(running))))
    half = cells.side_m / 2 + 1e-6
    boxes = shapely.box(
        cells.east_m - half,
        cells.north_m - half,
        cells.east_m + half,
        cells.north_m + half,
    )
    whole = shapely.union_all(boxes, grid_size=0.01)
    return as_multi(whole)


def as_multi(shape: shapely.Geometry) -> MultiPolygon:
    """Return a polygonal shape as a MultiPolygon."""
    if isinstance(shape, MultiPolygon):
        return shape
    if isinstance(shape, Polygon) and not shape.is_empty:
        return MultiPolygon([shape])
    parts = [part for part in shapely.get_parts(shape) if isinstance(part, Polygon)]
    return MultiPolygon(parts)


def find_places(
    posterior: Posterior, radius_m: float, most: int, least: float = 0.005
) -> list[Place]:
    """Find the circles that take in most probability, one after another.

    Parameters
    ----------
    radius_m : float
        Radius of each circle [m].
    most : int
        How many to find at most.
    least : float
        Stop where the next would hold less than this.

    Notes
    -----
    A bent region's mean may lie outside it, so a place is a circle, not a mean.
    What lies within twice the radius of a place is not offered again.
    """
    cells = posterior.cells
    points = np.column_stack((cells.east_m, cells.north_m))
    left = posterior.mass.copy()
    places: list[Place] = []
    while len(places) < most:
        held = np.flatnonzero(left > 0)
        if held.size == 0:
            break
        tree = KDTree(points[held])
        seeds = held[np.argsort(-left[held], kind="stable")[:_SEEDS]]
        around = tree.query_ball_point(points[seeds], radius_m)
        sums = np.array([left[held[near]].sum() for near in around])
        best = int(np.argmax(sums))
        centre = points[seeds[best]]
        for _ in range(5):
            near = held[tree.query_ball_point(centre, radius_m)]
            centre_next = np.average(points[near], axis=0, weights=left[near])
            if left[held[tree.query_ball_point(centre_next, radius_m)]].sum() < (
                left[near].sum() - 1e-9
            ):
                break
            centre = centre_next
        near = held[tree.query_ball_point(centre, radius_m)]
        share = float(left[near].sum())
        if places and share < least:
            break
        places.append(Place(float(centre[0]), float(centre[1]), share, near))
        left[held[tree.query_ball_point(centre, 2.0 * radius_m)]] = 0.0
    return places
