"""Turn scored cells into probabilities, regions and places."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array, eye_array
from scipy.spatial import KDTree
from shapely.geometry import MultiPolygon, Polygon

from wherestood.fix.cells import Cells

__all__ = [
    "Place",
    "Posterior",
    "find_places",
    "posterior_of",
    "region",
    "smoothed_log_density",
]

Array = NDArray[np.float64]

#: Cells that together hold less than this are left out of answers, not of sums.
NEGLIGIBLE = 1e-4
_SEEDS = 400


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
    """Return log density averaged over near cells of the same size.

    Parameters
    ----------
    reach_m : float
        Sd of the average [m]: that of a sideways shift of the whole model, which
        nobody knows. It is never less than a cell, so that the scatter of single
        scores, summed over few cameras, does not make some cells stand out.

    Notes
    -----
    A shift of the model moves all likelihoods with it, so that averaging over it
    is averaging the density over shifted stations.
    """
    density = cells.log_density.copy()
    for side in np.unique(cells.side_m):
        which = np.flatnonzero(cells.side_m == side)
        points = np.column_stack((cells.east_m[which], cells.north_m[which]))
        reach = max(side, reach_m)
        tree = KDTree(points)
        pairs = tree.query_pairs(2.5 * reach, output_type="ndarray")
        own = density[which]
        away = np.hypot(*(points[pairs[:, 0]] - points[pairs[:, 1]]).T)
        share = np.exp(-0.5 * (away / reach) ** 2)
        shape = (which.size, which.size)
        kernel = coo_array((share, (pairs[:, 0], pairs[:, 1])), shape=shape).tocsr()
        kernel = kernel + kernel.T + eye_array(which.size)
        total = kernel.sum(axis=1)
        # In steps, so that faint ground far below the best is not lost to rounding.
        top = own.max()
        values = np.exp(np.maximum(own - top, -700.0))
        density[which] = top + np.log(kernel @ values / total)
    return density


def posterior_of(cells: Cells, reach_m: float = 0.0) -> Posterior:
    """Return the probabilities of cells, densest first.

    Parameters
    ----------
    reach_m : float
        As `smoothed_log_density`; 0 for no averaging.
    """
    density = (
        smoothed_log_density(cells, reach_m) if reach_m > 0.0 else cells.log_density
    )
    within = np.flatnonzero(cells.inside)
    order = within[np.argsort(-density[within], kind="stable")]
    weight = density[order] + cells.log_area[order]
    mass = np.exp(weight - weight.max())
    # A cell across the outline counts inside by its share, in the ring by the rest.
    whole = density + 2.0 * np.log(cells.side_m)
    whole = np.exp(whole - whole.max())
    ring = float(np.sum(whole * (1.0 - cells.share)) / whole.sum())
    return Posterior(cells.take(order), mass / mass.sum(), ring)


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
