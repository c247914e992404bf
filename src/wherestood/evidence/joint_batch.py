"""Score many stations at once for the plates of a panorama, all together."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.batch import (
    ASTRAY,
    POINTS,
    SAME_BEARING_RAD,
    SAME_LOG_DISTANCE,
    WORTHWHILE,
    StationScores,
)
from wherestood.evidence.in_shares import in_shares
from wherestood.evidence.joint_integrate import integrate_joint_mode, joint_points
from wherestood.evidence.joint_look import joint_index, joint_workspace
from wherestood.evidence.joint_mode import fit_joint_mode
from wherestood.evidence.joint_sums import Belief, PlateMarks, at_station
from wherestood.evidence.noise import SkylineNoise
from wherestood.evidence.normal_rows import YES
from wherestood.evidence.plate_rows import Aims, OnPlate
from wherestood.evidence.profile import Profiles
from wherestood.evidence.samples import SkylineSamples
from wherestood.evidence.ties import NO_TIES, TieTable
from wherestood.evidence.unknowns import CAMERA, COUNT

__all__ = ["JointPrior", "joint_covariance", "score_joint_stations"]

Array = NDArray[np.float64]

#: How much of the variance of cover's mean is common to plates that look to different
#: sides: woods and clearings differ from hill to hill. A judgement.
COVER_SHARED = 0.5
#: Rounds and legs of a climb. Ties begin as doubtful as marks do, a fifth of it each
#: leg: after two legs good ties still looked like blunders, and scores were out by
#: dozens either way.
LOOK = (5, 4)
#: Climbs from one start at most: more cost much and seldom find more than one plate's.
CLIMBS = 2


@dataclass(frozen=True)
class JointPrior:
    """Hold what is believed of the unknowns of all plates of a panorama.

    Attributes
    ----------
    mean : (plates, unknowns) float64 array
    shared_sd : (unknowns,) float64 array
        Sd of what all plates have in common; 0 where each is by itself.
    own_sd : (plates, unknowns) float64 array
        Sd of what each has beyond that; infinite for bearings.
    """

    mean: Array
    shared_sd: Array
    own_sd: Array

    def variances(
        self, noise: SkylineNoise, ground_sd_m: Array, side_m: float
    ) -> tuple[Array, Array, Array]:
        """Return mean, shared and own variances, cover and cells filled in.

        Returns
        -------
        mean, own : (plates, unknowns) float64 array
        shared : (stations, unknowns) float64 array
        """
        mean, own = self.mean.copy(), self.own_sd**2
        mean[:, CAMERA] = noise.cover_mean_m
        shared = np.tile(self.shared_sd**2, (len(ground_sd_m), 1))
        own[:, CAMERA] = (1.0 - COVER_SHARED) * noise.cover_sd_m**2
        # Cover and the doubt of the ground under the station act as one.
        shared[:, CAMERA] = COVER_SHARED * noise.cover_sd_m**2 + ground_sd_m**2
        cell = max(side_m, 1e-3) ** 2 / 12.0
        shared[:, COUNT - 2 :] = cell
        own[:, COUNT - 2 :] = 1e-4 * cell
        return mean, shared, own


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _belief(mean, shared, own):  # type: ignore[no-untyped-def]
    """Return precisions: ``(diag(own) + shared 1 1')^-1`` of each unknown."""
    plates = mean.shape[0]
    inverse = np.zeros((plates, COUNT))
    between = np.zeros((plates, plates, COUNT))
    log_det = 0.0
    for p in range(COUNT):
        total = 0.0
        for k in range(plates):
            if np.isfinite(own[k, p]):
                inverse[k, p] = 1.0 / own[k, p]
                log_det -= np.log(own[k, p])
            total += inverse[k, p]
        if shared[p] > 0.0 and total > 0.0:
            log_det -= np.log(1.0 + shared[p] * total)
            factor = shared[p] / (1.0 + shared[p] * total)
            for k in range(plates):
                for m in range(plates):
                    between[k, m, p] = factor * inverse[k, p] * inverse[m, p]
    return Belief(mean, inverse, between, log_det)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _same(one, other):  # type: ignore[no-untyped-def]
    """Say whether two sets of cameras are one."""
    for k in range(one.shape[0]):
        turn = one[k, 0] - other[k, 0]
        turn = (turn + np.pi) % (2.0 * np.pi) - np.pi
        if abs(turn) > SAME_BEARING_RAD:
            return False
        if abs(one[k, 1] - other[k, 1]) > SAME_LOG_DISTANCE:
            return False
    return True


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _drop_repeated(theta, score):  # type: ignore[no-untyped-def]
    for m in range(score.size):
        for before in range(m):
            if _same(theta[m], theta[before]):
                if score[m] > score[before]:
                    score[before] = -np.inf
                else:
                    score[m] = -np.inf


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _sd_of(covariance, plates, sd):  # type: ignore[no-untyped-def]
    linear = COUNT - CAMERA
    for k in range(plates):
        for p in range(COUNT):
            i = k * CAMERA + p
            if p >= CAMERA:
                i = plates * CAMERA + k * linear + p - CAMERA
            sd[k, p] = np.sqrt(max(covariance[i, i], 0.0))


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _marks_at(told, targets, aims, edges):  # type: ignore[no-untyped-def]
    """Return all that is marked, and where one station would show it."""
    return PlateMarks(
        told[0], told[1], told[2], told[3], told[4], told[5], told[6], told[7],
        told[8], told[9], told[10], told[11], told[12], told[13], targets, aims, edges,
    )  # fmt: skip


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _score(  # type: ignore[no-untyped-def]
    begin, past, starts, samples, first, profiles, curvature_per_m, mean, shared, own,
    limits, levels, level_log_weight, middle, foreground_log_odds, temper, power,
    rounds, legs, points, floor, near, told, targets, aims, edges, ties, score, theta,
    sd,
):  # fmt: skip
    for s in range(begin, past):
        modes, plates = starts.shape[1:3]
        size = plates * COUNT
        belief = _belief(mean, shared[s], own)
        marks = _marks_at(told, targets[s], aims[s], edges[s])
        work = joint_workspace(first)
        covariance = np.empty((modes, size, size))
        level_score = np.empty((modes, levels.shape[0]))
        by_shape = np.full(modes, -np.inf)
        best = -np.inf
        for m in range(modes):
            score[s, m] = -np.inf
            if not np.isfinite(starts[s, m, 0, 1]):
                continue
            value = fit_joint_mode(
                starts[s, m], samples, first, profiles[s], curvature_per_m, belief,
                limits, levels, level_log_weight, middle, foreground_log_odds,
                rounds, legs, marks, ties, work, theta[s, m], covariance[m],
                level_score[m], temper, near,
            )  # fmt: skip
            if np.isfinite(value):
                by_shape[m] = value
                score[s, m] = at_station(value, power, theta[s, m], marks, ties, work)
                best = max(best, score[s, m])
                _sd_of(covariance[m], plates, sd[s, m])
        _drop_repeated(theta[s], score[s])
        if points.shape[0] == 0:
            continue
        likeliest = np.empty((plates, COUNT))
        found = np.empty((plates, COUNT))
        for m in range(modes):
            if not score[s, m] > max(floor, best - WORTHWHILE):
                continue
            promised = summed = by_shape[m]
            found[:] = theta[s, m]
            for climb in range(CLIMBS):
                value = integrate_joint_mode(
                    found, covariance[m], points, samples, first, profiles[s],
                    curvature_per_m, belief, limits, levels, level_log_weight,
                    foreground_log_odds, marks, ties, work, level_score[m], likeliest,
                    temper,
                )  # fmt: skip
                if not np.isfinite(value):
                    break
                # The sum stands in for what the shape of the mode promised.
                if climb == 0 or value > summed:
                    summed = value
                    score[s, m] = at_station(value, power, found, marks, ties, work)
                    theta[s, m] = found
                    _sd_of(covariance[m], plates, sd[s, m])
                if value < promised + ASTRAY or climb == CLIMBS - 1:
                    break
                # More lies about than the mode promised: climb from there.
                promised = fit_joint_mode(
                    likeliest, samples, first, profiles[s], curvature_per_m, belief,
                    limits, levels, level_log_weight, middle, foreground_log_odds,
                    rounds, legs, marks, ties, work, found, covariance[m],
                    level_score[m], temper, YES,
                )  # fmt: skip
        _drop_repeated(theta[s], score[s])


def score_joint_stations(
    starts: Array,
    samples: Sequence[SkylineSamples],
    profiles: Profiles,
    curvature_per_m: float,
    prior: JointPrior,
    side_m: float,
    limits: Array,
    noise: SkylineNoise,
    *,
    closely: bool = False,
    floor: float = -math.inf,
    near: bool = False,
    seen: Sequence[OnPlate] = (),
    aims: Sequence[Aims] = (),
    ties: TieTable = NO_TIES,
) -> StationScores:
    """Climb from all starting cameras of every station, plates together.

    Parameters
    ----------
    starts : (stations, starts, plates, unknowns) float64 array
        Starting unknowns; NaN in the first plate's ln c for no start.
    samples : sequence of SkylineSamples
        One a plate.
    prior : JointPrior
    side_m : float
        Side of the cell that each station stands for [m].
    seen, aims : sequences
        One a plate, as `batch.score_stations` takes them; none where nothing is marked.
    ties : TieTable
        Tie marks between plates.
    profiles, curvature_per_m, limits, noise, closely, floor, near
        As `batch.score_stations` takes them.

    Returns
    -------
    StationScores
        ``theta`` and ``sd`` are (stations, starts, plates, unknowns). Powers are those
        of `batch.score_stations`; tie marks are among what is marked.
    """
    count = starts.shape[:2]
    score = np.full(count, -np.inf)
    theta = np.zeros(starts.shape)
    sd = np.zeros(starts.shape)
    plates = starts.shape[2]
    tables = [one.table for one in samples]
    first = np.concatenate(([0], np.cumsum([len(table) for table in tables])))
    mean, shared, own = prior.variances(noise, profiles.ground_sd_m, side_m)
    rounds, legs = LOOK
    # Without any skyline there is nothing to temper.
    power = noise.station_power if first[-1] > 0 else 1.0
    many = joint_points(POINTS, plates) if closely else np.empty((0, 1))
    told, where = _marks_together(seen or [OnPlate()] * plates, aims, count[0])
    handed = (
        np.ascontiguousarray(starts), np.concatenate(tables), first.astype(np.int64),
        profiles.table, curvature_per_m, mean, shared, own, limits, noise.levels,
        noise.level_log_weight, noise.middle, noise.foreground_log_odds,
        noise.temper, power, rounds, legs, many, floor, near, told, *where,
        ties.handed(), score, theta, sd,
    )  # fmt: skip
    in_shares(lambda begin, past: _score(begin, past, *handed), count[0])
    return StationScores(score, theta, sd)


def _marks_together(
    seen: Sequence[OnPlate], aims: Sequence[Aims], stations: int
) -> tuple[tuple[Any, ...], tuple[Array, Array, Array]]:
    """Lay all that is marked on the plates one after another.

    Returns
    -------
    told : tuple of arrays
        What no station changes, as `PlateMarks` begins.
    where : tuple of arrays
        Targets, aims and levels of the stations.
    """
    there = list(aims) or [Aims.none(stations)] * len(seen)
    marks, items = [one.marks for one in seen], [one.items for one in seen]
    counts = np.array(
        [
            [len(table.plate) for table in marks],
            [len(table.rows) for table in items],
            [len(table.points) for table in items],
            [len(table.log_weight) for table in items],
            [one.levels.shape[1] for one in there],
        ]
    )
    first = np.concatenate((np.zeros((5, 1)), np.cumsum(counts, axis=1)), axis=1)
    told = (
        first.astype(np.int64),
        max(one.errors for one in seen),
        np.concatenate([table.plate for table in marks]),
        _stacked([table.log_weight for table in marks], 0, -np.inf),
        np.concatenate([table.log_blunder for table in marks]),
        _stacked([table.where for table in marks], 0, -1),
        _stacked([table.error_sd_m for table in marks], 0, 0.0),
        np.concatenate([table.points for table in items]),
        np.concatenate([table.rows for table in items]),
        _stacked([table.log_weight for table in items], 0, -np.inf),
        _stacked([table.where for table in items], 0, -1),
        _stacked([table.error_sd_m for table in items], 0, 0.0),
        np.zeros(int(counts[0].sum()), dtype=np.int8),
        np.zeros(int(counts[1].sum()), dtype=np.int8),
    )
    where = (
        _stacked([one.marks for one in there], 1, 0.0),
        _stacked([one.sizes for one in there], 1, 0.0),
        _stacked([one.levels for one in there], 1, 0.0),
    )
    return told, where


def _stacked(parts: Sequence[NDArray[Any]], axis: int, empty: float) -> NDArray[Any]:
    """Lay arrays one after another, those with fewer candidates filled up."""
    widest = max(part.shape[axis + 1] for part in parts)
    filled = []
    for part in parts:
        room = [(0, 0)] * part.ndim
        room[axis + 1] = (0, widest - part.shape[axis + 1])
        filled.append(np.pad(part, room, constant_values=empty))
    return np.ascontiguousarray(np.concatenate(filled, axis=axis))


def joint_covariance(
    theta: Array,
    samples: Sequence[SkylineSamples],
    profiles: Profiles,
    curvature_per_m: float,
    prior: JointPrior,
    side_m: float,
    limits: Array,
    noise: SkylineNoise,
    *,
    seen: Sequence[OnPlate] = (),
    aims: Sequence[Aims] = (),
    ties: TieTable = NO_TIES,
) -> Array:
    """Return the covariance of all unknowns of all plates about given cameras.

    Parameters
    ----------
    theta : (plates, unknowns) float64 array
        The cameras.
    profiles : Profiles
        Of one station.
    samples, prior, side_m, limits, noise, seen, aims, ties
        As `score_joint_stations` takes them.

    Returns
    -------
    (plates, unknowns, plates, unknowns) float64 array
    """
    plates = len(theta)
    size = plates * COUNT
    tables = [one.table for one in samples]
    first = np.concatenate(([0], np.cumsum([len(table) for table in tables])))
    mean, shared, own = prior.variances(noise, profiles.ground_sd_m, side_m)
    told, where = _marks_together(seen or [OnPlate()] * plates, aims, 1)
    covariance = np.empty((size, size))
    # No step is taken; twice round, that the linear unknowns are at their best.
    fit_joint_mode(
        np.ascontiguousarray(theta), np.concatenate(tables), first.astype(np.int64),
        profiles.table[0], curvature_per_m, _belief(mean, shared[0], own), limits,
        noise.levels, noise.level_log_weight, noise.middle, noise.foreground_log_odds,
        0, 2, PlateMarks(*told, *(one[0] for one in where)), ties.handed(),
        joint_workspace(first.astype(np.int64)), np.empty((plates, COUNT)), covariance,
        np.empty(len(noise.levels)), noise.temper, True,
    )  # fmt: skip
    index = np.empty((plates, COUNT), dtype=np.int64)
    for k in range(plates):
        for p in range(COUNT):
            index[k, p] = joint_index(plates, k, p)
    flat = index.ravel()
    return covariance[np.ix_(flat, flat)].reshape(plates, COUNT, plates, COUNT)
