"""Find where to begin: cameras along their own doubt, and things on their rays."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np
from numpy.typing import NDArray

from wherestood.ground.together.plate_prior import PlatePrior
from wherestood.ground.together.projected import seen_at
from wherestood.ground.together.told import Link, Thing

__all__ = ["MOST_WALKED", "NEAREST_M", "beginnings", "first_places"]

Array = NDArray[np.float64]
#: Nearer than this to a camera that shows it no thing begins [m].
_BEGINS_M = 5.0
#: And nearer than this none ever comes: a thing inside a camera fits whatever it shows.
NEAREST_M = 2.0
#: Distances that are tried along a ray [m].
_TRIED_M = np.geomspace(8.0, 20_000.0, 160)


#: A plate's own doubt is walked along so many standard errors either way, for no more
#: plates than this.
_WALKED_SDS, MOST_WALKED = 1.2, 4


def beginnings(
    plates: Sequence[PlatePrior],
    things: Sequence[Thing],
    links: Sequence[Link],
    curvature_per_m: float,
    most: int,
) -> list[tuple[Array, Array]]:
    """Return plates' unknowns and things' places to begin with, the best first.

    Parameters
    ----------
    plates, things, links, curvature_per_m
        As of `wherestood.ground.together.solve.solve_together`.
    most : int
        How many.

    Notes
    -----
    A weak fix knows its station along a strip, and steps from its middle may end where
    a thing stands in a camera. Few plates are therefore tried from three places of
    their strips each, all else following the station as each plate's covariance says.
    """
    free = any(thing.place_m is None for thing in things)
    walked = free and len(plates) <= MOST_WALKED
    ways = (-_WALKED_SDS, 0.0, _WALKED_SDS) if walked else (0.0,)
    strips = [_strip(plate) for plate in plates]
    tried = []
    for steps in product(ways, repeat=len(plates)):
        values = np.array(
            [
                plate.mean + step * strip
                for plate, step, strip in zip(plates, steps, strips, strict=True)
            ]
        )
        places, cost = first_places(plates, values, things, links, curvature_per_m)
        tried.append((cost + 0.5 * sum(step**2 for step in steps), values, places))
    tried.sort(key=lambda one: one[0])
    return [(values, places) for _, values, places in tried[:most]]


def _strip(plate: PlatePrior) -> Array:
    """Return a standard error along the longest axis of the station, with all else."""
    spread, axes = np.linalg.eigh(plate.covariance[:2, :2])
    return np.asarray(plate.covariance[:, :2] @ axes[:, -1] / np.sqrt(spread[-1]))


def first_places(
    plates: Sequence[PlatePrior],
    values: Array,
    things: Sequence[Thing],
    links: Sequence[Link],
    curvature_per_m: float,
    within_sds: float | None = None,
) -> tuple[Array, float]:
    """Return a first place of each thing: where its rays pass one another closest.

    Parameters
    ----------
    plates, things, links, curvature_per_m
        As of `wherestood.ground.together.solve.solve_together`.
    values : (plates, 13) float64 array
        Where the plates' unknowns stand.
    within_sds : float, optional
        How far off marks may be, in their standard errors; as far as the plates' own
        doubt puts them unless told.

    Returns
    -------
    places : (things, 3) float64 array
        [m]
    cost : float
        How badly rays meet, all things together; no unit.

    Notes
    -----
    Along the ray of each mark in turn; what other plates make of a place is measured
    against how far off their own doubt may put it, and no single plate decides.
    """
    places, whole = np.empty((len(things), 3)), 0.0
    for number, thing in enumerate(things):
        if thing.place_m is not None:
            places[number] = thing.place_m
            continue
        seen = [link for link in links if link.thing == number]
        tried = np.vstack(
            [
                _along(plates[one.plate], values[one.plate], one, curvature_per_m)
                for one in seen
            ]
        )
        cost = np.zeros(len(tried))
        for link in seen:
            p = link.plate
            cost += _far_off(
                plates[p], values[p], link, tried, curvature_per_m, within_sds
            )
        places[number] = tried[int(np.argmin(cost))]
        whole += float(cost.min())
    return places, whole


def _along(plate: PlatePrior, own: Array, link: Link, curvature_per_m: float) -> Array:
    bearing, tangent = plate.cameras(own[None]).directions([link.x_px], [link.y_px])
    d = _TRIED_M
    return np.column_stack(
        (
            own[0] + d * np.sin(bearing[0, 0]),
            own[1] + d * np.cos(bearing[0, 0]),
            own[2] + d * np.nan_to_num(tangent[0, 0]) + curvature_per_m * d**2,
        )
    )


def _far_off(
    plate: PlatePrior,
    own: Array,
    link: Link,
    places: Array,
    curvature_per_m: float,
    within_sds: float | None,
) -> Array:
    x, y = seen_at(plate.cameras(own[None]), places[None], curvature_per_m)
    d = np.hypot(places[:, 0] - own[0], places[:, 1] - own[1])
    c = np.exp(own[6])
    across = np.sqrt(np.linalg.eigvalsh(plate.covariance[:2, :2])[0])
    turned = plate.covariance[3, 3] + plate.covariance[4, 4]
    doubt = link.sd_px**2 + c**2 * (turned + (across / np.maximum(d, 1.0)) ** 2)
    if within_sds is not None:
        doubt = np.full(len(places), (within_sds * link.sd_px) ** 2)
    off = (x[0] - link.x_px) ** 2 + (y[0] - link.y_px) ** 2
    # No thing stands in a camera.
    cost = np.log1p(off / doubt) + np.where(d < _BEGINS_M, 50.0, 0.0)
    return np.where(np.isfinite(off), cost, 50.0)
