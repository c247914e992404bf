"""Leave out one group of evidence at a time and see how the fix moves.

Symbols
-------
d : movement of the mean station, east and north [m]
C, C_w : covariance of the station with all evidence, and without some of it [m2]
a : side of the cells about the station [m]

An answer and the one that rests on less of the same evidence are no two independent
answers: what is common to both moves both. Of efficient estimates the difference has
the covariance ``C_w - C`` (Hausman 1978, "Specification tests in econometrics",
Econometrica 46, section 2). Where leaving something out makes the answer surer, that
holds the other way round, so that the absolute values of the eigenvalues are taken;
``2 a^2 / 12`` is added for places that are known to a cell.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wherestood.fix.checked import Agreement, LeftOut
from wherestood.fix.groups import all_but, groups_of, kinds_of
from wherestood.fix.kept_ground import KeptGround, Spread, Weighing
from wherestood.fix.posterior import Posterior, find_places
from wherestood.fix.problem import Problem
from wherestood.progress import Progress

__all__ = ["agreement_of_kinds", "leave_out", "leave_out_each"]

Array = NDArray[np.float64]


def leave_out_each(
    problem: Problem, ground: KeptGround, progress: Progress
) -> tuple[LeftOut, ...]:
    """Return the fix without each group of its evidence, in turn.

    Parameters
    ----------
    ground : KeptGround
        What is weighed again: other cameras than those found there do not come back.
    """
    groups = groups_of(problem)
    if len(groups) < 2:
        return ()
    progress.stage("Leaving out each in turn", ground.count * (len(groups) + 1))
    whole = ground.less((), progress)
    return tuple(
        _left_out(problem, whole, name, ids, ground, progress)
        for name, ids in groups.items()
    )


def leave_out(
    problem: Problem,
    ground: KeptGround,
    name: str,
    ids: tuple[str, ...],
    progress: Progress,
) -> LeftOut:
    """Return the fix without some items together."""
    progress.stage(f"Leaving out {name}", 2 * ground.count)
    whole = ground.less((), progress)
    return _left_out(problem, whole, name, ids, ground, progress)


def agreement_of_kinds(
    problem: Problem, ground: KeptGround, progress: Progress
) -> tuple[Agreement, ...]:
    """Return whether each kind of evidence speaks of the place of all the others.

    Notes
    -----
    With E the density of some evidence summed over ground and cameras, both are of
    one station and camera ``E(all) E(none) / (E(kind) E(others))`` times likelier
    than of two. Each kind is screened anew: what it shows alone need not be what it
    shows together with the rest.
    """
    kinds = kinds_of(problem)
    if len(kinds) < 2:
        return ()
    progress.stage(
        "Setting each kind against the rest", ground.count * 2 * (len(kinds) + 1)
    )
    whole = ground.less((), progress, afresh=True)
    nothing = ground.less(all_but(problem, ()), progress, afresh=True)
    found = []
    for name, ids in kinds.items():
        # Of two kinds the one is all that is left without the other.
        alone = ground.less(all_but(problem, ids), progress, afresh=True)
        rest = ground.less(ids, progress, afresh=True)
        one, other = alone.spread(), rest.spread()
        off = np.array((one.east_m - other.east_m, one.north_m - other.north_m))
        # Two answers that share nothing: their doubts add up.
        doubt = one.covariance + other.covariance
        found.append(
            Agreement(
                name,
                ids,
                whole.log_evidence
                + nothing.log_evidence
                - alone.log_evidence
                - rest.log_evidence,
                float(np.hypot(*off)),
                float(np.sqrt(off @ np.linalg.solve(doubt, off))),
                one.area_m2,
            )
        )
    return tuple(found)


def _left_out(
    problem: Problem,
    whole: Weighing,
    name: str,
    ids: tuple[str, ...],
    ground: KeptGround,
    progress: Progress,
) -> LeftOut:
    """Set the fix without some items beside the whole."""
    less = ground.less(ids, progress)
    with_it, without_it = whole.spread(), less.spread()
    east_m = without_it.east_m - with_it.east_m
    north_m = without_it.north_m - with_it.north_m
    moved_m = float(np.hypot(east_m, north_m))
    doubt = _doubt_of_difference(whole, with_it, without_it)
    off = np.array((east_m, north_m))
    way = off / moved_m if moved_m > 0.0 else np.array((1.0, 0.0))
    at = int(np.argmax(whole.log_density))
    place = find_places(
        Posterior(less.cells, less.mass, 0.0), problem.settings.near_enough_m, 1
    )[0]
    lon, lat = problem.terrain.frame.to_lonlat(
        np.array([without_it.east_m]), np.array([without_it.north_m])
    )
    return LeftOut(
        name,
        ids,
        moved_m,
        east_m,
        north_m,
        without_it.area_m2 / with_it.area_m2,
        float(less.log_density[at] - less.log_density.max()),
        # Along the way it moved, whatever it did across.
        float(1.0 / np.sqrt(way @ np.linalg.solve(doubt, way))),
        float(np.sqrt(off @ np.linalg.solve(doubt, off))),
        without_it.area_m2,
        place.probability,
        float(lon[0]),
        float(lat[0]),
    )


def _doubt_of_difference(whole: Weighing, with_it: Spread, without_it: Spread) -> Array:
    """Return the covariance of the difference of two nested answers [m2]."""
    values, ways = np.linalg.eigh(without_it.covariance - with_it.covariance)
    cell = float(whole.mass @ whole.cells.side_m**2) / 12.0
    return np.asarray((ways * np.abs(values)) @ ways.T + 2.0 * cell * np.eye(2))
