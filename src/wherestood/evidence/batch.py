"""Score many stations at once, each from its own starting cameras."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numba
import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.in_shares import in_shares
from wherestood.evidence.integrate import integrate_mode, spread_points
from wherestood.evidence.mode import fit_mode
from wherestood.evidence.noise import SkylineNoise
from wherestood.evidence.normal_rows import YES
from wherestood.evidence.plate_rows import (
    NOTHING_MARKED,
    Aims,
    OnPlate,
    add_plate_rows,
)
from wherestood.evidence.profile import Profiles
from wherestood.evidence.samples import SkylineSamples
from wherestood.evidence.unknowns import CAMERA, COUNT

__all__ = ["StationScores", "score_stations"]

Array = NDArray[np.float64]

#: Two climbs that end this near are one mode: bearing [rad] and ln c.
SAME_BEARING_RAD = 0.02
SAME_LOG_DISTANCE = 0.06
#: Rounds a leg, and legs, of a climb: at a first look, and looking closely.
FIRST_LOOK = (4, 2)
CLOSE_LOOK = (5, 3)
#: Points about a mode that its density is summed over, looking closely.
POINTS = 32
#: Cameras this far below a station's best in log density are not looked at closely.
WORTHWHILE = 5.0
#: Climbs from one start at most, and the gain in log density that asks for another.
CLIMBS = 3
ASTRAY = 1.0


@dataclass(frozen=True)
class StationScores:
    """Hold the cameras found at stations.

    Attributes
    ----------
    score : (stations, starts) float64 array
        Log marginal density of the skyline, -inf for a camera found twice.
    theta, sd : (stations, starts, unknowns) float64 array
        The unknowns at each mode and their standard deviations.
    """

    score: Array
    theta: Array
    sd: Array


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _drop_repeated(theta, score):  # type: ignore[no-untyped-def]
    """Let go the worse of two cameras that are one."""
    for m in range(score.size):
        for before in range(m):
            turn = theta[m, 0] - theta[before, 0]
            turn = (turn + np.pi) % (2.0 * np.pi) - np.pi
            lens = theta[m, 1] - theta[before, 1]
            if abs(turn) < SAME_BEARING_RAD and abs(lens) < SAME_LOG_DISTANCE:
                if score[m] > score[before]:
                    score[before] = -np.inf
                else:
                    score[m] = -np.inf


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _at_station(value, power, theta, marks):  # type: ignore[no-untyped-def]
    """Return the log density of a camera summed over, raised to a power.

    What is marked keeps its weight: nobody tempers that.
    """
    if power == 1.0 or marks[0][2].size + marks[0][3].size == 0:
        return power * value
    normal = np.zeros((theta.size, theta.size))
    right = np.zeros(theta.size)
    off, units = add_plate_rows(theta, marks, 0.0, YES, YES, normal, right, right[:0])
    return power * value - (1.0 - power) * 0.5 * (off + units)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _score(  # type: ignore[no-untyped-def]
    begin, past, starts, samples, profiles, ground_sd, curvature_per_m, prior_mean,
    prior_sd, cover_sd, limits, levels, level_log_weight, middle, foreground_log_odds,
    temper, power, rounds, legs, points, floor, near, plate, log_weight, log_blunder,
    where, error_sd, ends, rows, size_weight, size_where, size_error_sd, mark_states,
    item_states, errors, targets, aims, edges, score, theta, sd,
):  # fmt: skip
    for s in range(begin, past):
        modes, size = starts.shape[1:]
        precision = np.zeros(size)
        for p in range(size):
            if np.isfinite(prior_sd[p]):
                precision[p] = 1.0 / prior_sd[p] ** 2
        # Cover and the doubt of the ground under the station act as one.
        precision[CAMERA] = 1.0 / (cover_sd**2 + ground_sd[s] ** 2)
        covariance = np.empty((modes, size, size))
        level_score = np.empty((modes, levels.shape[0]))
        fitted = np.empty(samples.shape[0])
        by_shape = np.full(modes, -np.inf)
        best = -np.inf
        fixed = (
            (plate, log_weight, log_blunder, where, error_sd),
            (ends, rows, size_weight, size_where, size_error_sd),
            mark_states, item_states, errors,
        )  # fmt: skip
        marks = (fixed, targets[s], aims[s], edges[s])
        for m in range(modes):
            score[s, m] = -np.inf
            if not np.isfinite(starts[s, m, 1]):
                continue
            value = fit_mode(
                starts[s, m], samples, profiles[s], curvature_per_m, prior_mean,
                precision, limits, levels, level_log_weight, middle,
                foreground_log_odds, rounds, legs, marks, theta[s, m], covariance[m],
                fitted, level_score[m], temper, near,
            )  # fmt: skip
            if np.isfinite(value):
                by_shape[m] = value
                score[s, m] = _at_station(value, power, theta[s, m], marks)
                best = max(best, score[s, m])
            for p in range(size):
                sd[s, m, p] = np.sqrt(max(covariance[m, p, p], 0.0))
        _drop_repeated(theta[s], score[s])
        if points.shape[0] == 0:
            continue
        likeliest = np.empty(size)
        found = np.empty(size)
        for m in range(modes):
            if not score[s, m] > max(floor, best - WORTHWHILE):
                continue
            promised = summed = by_shape[m]
            for p in range(size):
                found[p] = theta[s, m, p]
            for climb in range(CLIMBS):
                value = integrate_mode(
                    found, covariance[m], points, samples, profiles[s],
                    curvature_per_m, prior_mean, precision, limits, levels,
                    level_log_weight, foreground_log_odds, marks, level_score[m],
                    likeliest, temper,
                )  # fmt: skip
                if not np.isfinite(value):
                    break
                # The sum stands in for what the shape of the mode promised.
                if climb == 0 or value > summed:
                    summed = value
                    score[s, m] = _at_station(value, power, found, marks)
                    for p in range(size):
                        theta[s, m, p] = found[p]
                        sd[s, m, p] = np.sqrt(max(covariance[m, p, p], 0.0))
                if value < promised + ASTRAY or climb == CLIMBS - 1:
                    break
                # More lies about than the mode promised: climb from there.
                promised = fit_mode(
                    likeliest, samples, profiles[s], curvature_per_m, prior_mean,
                    precision, limits, levels, level_log_weight, middle,
                    foreground_log_odds, rounds, legs, marks, found, covariance[m],
                    fitted, level_score[m], temper, YES,
                )  # fmt: skip
        _drop_repeated(theta[s], score[s])


def score_stations(
    starts: Array,
    samples: SkylineSamples,
    profiles: Profiles,
    curvature_per_m: float,
    prior_mean: Array,
    prior_sd: Array,
    limits: Array,
    noise: SkylineNoise,
    *,
    closely: bool = False,
    floor: float = -math.inf,
    near: bool = False,
    seen: OnPlate = NOTHING_MARKED,
    aims: Aims | None = None,
) -> StationScores:
    """Climb from every starting camera of every station.

    Parameters
    ----------
    starts : (stations, starts, unknowns) float64 array
        Starting unknowns; NaN in ln c for no start.
    prior_mean, prior_sd : (unknowns,) float64 array
        Prior of the unknowns; the mean and sd of cover come from ``noise``.
    limits : (2,) float64 array
        Least and greatest ln c.
    closely : bool
        Whether to sum over cameras about each mode (`evidence.integrate`), where
        its shape alone is not to be trusted: twenty times the work.
    floor : float
        Modes of less log density, as returned, than this are not looked at closely.
    near : bool
        Whether the starts are cameras that fitted at a neighbour.
    seen : OnPlate
        All that is marked on the same hand of the plate.
    aims : Aims, optional
        Where the stations would show it; needed where anything is marked.

    Returns
    -------
    StationScores
        The skyline's likelihood is raised to the power ``noise.temper``, what is
        believed of the camera is not, and standard deviations are those of the two
        together; their sum over cameras is raised to ``noise.station_power``, what is
        marked left out of that. The lens's own prior and that of the bearing (flat)
        are for the caller to add.
    """
    count = starts.shape[:2]
    score = np.full(count, -np.inf)
    theta = np.zeros((*count, COUNT))
    sd = np.zeros((*count, COUNT))
    mean = prior_mean.copy()
    mean[CAMERA] = noise.cover_mean_m
    rounds, legs = CLOSE_LOOK if closely else FIRST_LOOK
    where = aims or Aims.none(count[0])
    marks, items = seen.marks, seen.items
    _, _, mark_states, item_states, errors = seen.fixed()
    # Without a skyline there is nothing to temper.
    power = noise.station_power if len(samples.table) else 1.0
    points = spread_points(POINTS) if closely else np.empty((0, 4))
    told = (
        np.ascontiguousarray(starts), samples.table, profiles.table,
        profiles.ground_sd_m, curvature_per_m, mean, prior_sd, noise.cover_sd_m,
        limits, noise.levels, noise.level_log_weight, noise.middle,
        noise.foreground_log_odds, noise.temper, power, rounds, legs, points, floor,
        near,
        marks.plate, marks.log_weight, marks.log_blunder, marks.where, marks.error_sd_m,
        items.points, items.rows, items.log_weight, items.where, items.error_sd_m,
        mark_states, item_states, errors, where.marks, where.sizes, where.levels, score,
        theta, sd,
    )  # fmt: skip
    in_shares(lambda begin, past: _score(begin, past, *told), count[0])
    return StationScores(score, theta, sd)
