"""Find the one station of several plates."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wherestood.errors import InputError
from wherestood.evidence import joint_batch
from wherestood.evidence import ties as ties_of_plates
from wherestood.evidence.items.tie import TieMark
from wherestood.evidence.joint_batch import joint_covariance
from wherestood.evidence.ties import tie_state
from wherestood.fix import beside, joint_scores, panorama_problem
from wherestood.fix import one_station as station
from wherestood.fix.answers import Chosen
from wherestood.fix.area import Area
from wherestood.fix.beside import joint_prior
from wherestood.fix.locate import Clock, answered
from wherestood.fix.one_station import one_station
from wherestood.fix.panorama_problem import PanoramaPlate, set_up_panorama
from wherestood.fix.panorama_result import OneStation, Panorama, TieTold
from wherestood.fix.plate_order import hanging_orders, order_probability
from wherestood.fix.problem import Problem
from wherestood.fix.result import Fix, Proposed
from wherestood.fix.settings import LocateSettings
from wherestood.fix.sight import sight_gradient, sight_of
from wherestood.fix.told import station_of
from wherestood.progress import SILENT, Progress
from wherestood.terrain.model import Terrain

__all__ = ["BELONGS", "locate_panorama"]

Array = NDArray[np.float64]

#: A plate less likely than this to share the station of the others does not belong.
BELONGS = 0.5
FEWEST, MOST = 2, 12


def locate_panorama(
    plates: Sequence[PanoramaPlate],
    terrain: Terrain,
    area: Area,
    *,
    settings: LocateSettings,
    ties: Sequence[TieMark] = (),
    one_lens: bool = True,
    proposed: Sequence[Proposed] = (),
    progress: Progress | None = None,
) -> Panorama:
    """Find the station from which all plates of a panorama were taken.

    Parameters
    ----------
    plates : sequence of PanoramaPlate
        Two or more, in any order.
    terrain, area, settings, proposed, progress
        As `wherestood.fix.locate.locate` takes them.
    ties : sequence of TieMark
        Things seen on two plates.
    one_lens : bool
        Whether all plates were exposed through one lens.

    Returns
    -------
    Panorama
        Where a plate hardly shares the station of the others, the verdict is "not
        determined", and the reasons name it.

    Raises
    ------
    WherestoodError
        If an input cannot be used.
    """
    if not FEWEST <= len(plates) <= MOST:
        raise InputError(
            f"A panorama of {len(plates)} plates was given; {FEWEST} to {MOST} can be "
            "solved together.",
            "Give neighbouring plates, or one plate alone.",
        )
    shown = progress or SILENT
    clock = Clock()
    shown.stage("Preparing the terrain")
    problem = set_up_panorama(plates, terrain, area, settings, ties, one_lens=one_lens)
    clock.mark("prepare")
    evidence = [one.evidence for one in plates]
    found = answered(problem, evidence, proposed, shown, clock)
    chosen = found.chosen
    stations = one_station(problem, chosen, shown)
    clock.mark("one station")
    fixes = tuple(_judged(fix, stations, plates, clock) for fix in found.fixes)
    sights = [math.radians(fix.camera.sight_bearing_deg) for fix in fixes]
    order = tuple(int(k) for k in hanging_orders(np.array(sights)))
    turns, sds = _turns(problem, chosen, order)
    return Panorama(
        fixes,
        order,
        order_probability(found.posterior, order),
        turns,
        sds,
        stations,
        _ties_told(problem, chosen),
        one_lens,
        _assumptions(),
    )


def _assumptions() -> dict[str, Any]:
    """Return every prior and setting that concerns the plates together."""
    return {
        "cover_shared": joint_batch.COVER_SHARED,
        "climbs": joint_batch.CLIMBS,
        "look": list(joint_batch.LOOK),
        "same_lens_sd_ln": beside.SAME_LENS_SD,
        "same_k1_share": beside.SAME_K1_SHARE,
        "same_air_share": beside.SAME_AIR_SHARE,
        "turn_over_field": beside.TURN_SHARE,
        "turn_sd_over_field": beside.TURN_SHARE_SD,
        "any_turn": beside.ANY_TURN,
        "any_turn_tied": beside.ANY_TURN_TIED,
        "tied_sd_rad": beside.TIED_SD_RAD,
        "given_order": beside.GIVEN_ORDER,
        "most_orders": beside.MOST_ORDERS,
        "screen_within": joint_scores.SCREEN_WITHIN,
        "scans_alike": panorama_problem.ALIKE,
        "turned_about_tripod_m": ties_of_plates.TURNED_M,
        "usual_tie_distance_m": ties_of_plates.USUAL_DISTANCE_M,
        "belongs": BELONGS,
        "one_station": {
            "prior": station.PRIOR_ONE,
            "anywhere": station.ANYWHERE,
            "radii_m": station.RADII_M,
            "places": station.PLACES,
            "somewhere": station.SOMEWHERE,
            "tied_within_rad": station.TIED_WITHIN_RAD,
            "distance_share": station.DISTANCE_SHARE,
        },
    }


def _judged(
    fix: Fix,
    stations: Sequence[OneStation],
    plates: Sequence[PanoramaPlate],
    clock: Clock,
) -> Fix:
    """Return a fix that stands only if the plates belong together."""
    strange = [one for one in stations if one.probability < BELONGS]
    timed = replace(fix, timing_s=dict(clock.seconds))
    if not strange:
        return timed
    names = " and ".join(plates[one.plate].name for one in strange)
    word = "was" if len(strange) == 1 else "were"
    reason = (
        f"{names} {word} hardly taken from the station of the others: locate them "
        "apart, or leave out what does not belong."
    )
    reasons = fix.reasons if fix.verdict != "located" else ()
    return replace(timed, verdict="not determined", reasons=(reason, *reasons))


def _turns(
    problem: Problem, chosen: Chosen, order: Sequence[int]
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return the turns between neighbours and their standard errors [deg]."""
    theta = _cameras(chosen)
    covariance = _covariance(problem, chosen, theta)
    gradient = sight_gradient(theta)[:, 0]
    bearing = np.array([float(sight_of(one)[0]) for one in theta])
    turns, sds = [], []
    for left, right in pairwise(order):
        turn = (bearing[right] - bearing[left]) % (2.0 * math.pi)
        change = np.zeros((len(theta), theta.shape[1]))
        change[left], change[right] = -gradient[left], gradient[right]
        variance = np.einsum("kp,kpmq,mq->", change, covariance, change)
        turns.append(math.degrees(turn))
        sds.append(math.degrees(math.sqrt(max(float(variance), 0.0))))
    return tuple(turns), tuple(sds)


def _cameras(chosen: Chosen) -> Array:
    assert chosen.more_theta is not None
    return np.concatenate((chosen.theta[None], chosen.more_theta))


def _covariance(problem: Problem, chosen: Chosen, theta: Array) -> Array:
    joined = problem.beside
    assert joined is not None
    plates = problem.plates
    mirrored = problem.hands[chosen.hand].reversed
    seen = [p.seen.mirrored() if mirrored else p.seen for p in plates]
    stations = station_of(problem, chosen)
    profiles = problem.profiles(stations.east_m, stations.north_m)
    return joint_covariance(
        theta,
        [plate.hands[chosen.hand].samples for plate in plates],
        profiles,
        problem.curvature_per_m,
        joint_prior(plates, joined),
        0.0,
        problem.lens.limits,
        problem.noise,
        seen=seen,
        aims=[one.aims(stations) for one in seen],
        ties=joined.ties.mirrored() if mirrored else joined.ties,
    )


def _ties_told(problem: Problem, chosen: Chosen) -> tuple[TieTold, ...]:
    """Return what became of each tie mark."""
    joined = problem.beside
    assert joined is not None
    table = joined.ties
    if not len(table.pair):
        return ()
    theta = _cameras(chosen)
    mirrored = problem.hands[chosen.hand].reversed
    odds, off = tie_state(table.mirrored() if mirrored else table, theta)
    told = []
    for number, mark in enumerate(table.marks):
        first, second = (int(k) for k in table.pair[number])
        diagonal = problem.plates[first].hands[0].samples.diagonal_px
        c_px = math.exp(theta[first, 1]) * diagonal
        told.append(
            TieTold(
                mark.id,
                (first, second),
                float(odds[number]),
                float(np.hypot(*off[number])) * c_px,
            )
        )
    return tuple(told)
