"""Score the plates of a panorama together at stations."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.batch import StationScores
from wherestood.evidence.joint_batch import score_joint_stations
from wherestood.evidence.joint_screen import screen_panoramas
from wherestood.evidence.mark_table import MarkTable
from wherestood.evidence.noise import SkylineNoise
from wherestood.evidence.plate_rows import Aims, OnPlate
from wherestood.evidence.profile import Profiles
from wherestood.evidence.screen import NO_SAMPLE, seen_through
from wherestood.evidence.stations import Stations
from wherestood.fix.beside import (
    Beside,
    joint_prior,
    turn_log_density,
    turns_believed,
    turns_tied,
)
from wherestood.fix.first_cameras import (
    APART_RAD,
    BEARING_SD_RAD,
    MODES,
    MOST_SD,
    SCREEN_COVER_M,
    SCREEN_SD,
    SCREENED_BEARINGS,
)
from wherestood.fix.problem import Problem

__all__ = ["score_jointly"]

Array = NDArray[np.float64]

#: Arrangements this far below the best of many stations, a plate, are not climbed to
#: in haste. A judgement: the first trial lay 0 below at its true station.
SCREEN_WITHIN = 25.0


def score_jointly(
    problem: Problem,
    hand: int,
    starts: Array | None,
    profiles: Profiles,
    stations: Stations,
    noise: SkylineNoise,
    closely: bool,
    floor: float,
    hasty: bool,
) -> StationScores:
    """Return the cameras of all plates at stations, and how likely they are.

    Parameters
    ----------
    hand : int
        Which reading of the plates: they are right way round, or reversed, together.
    starts : (stations, modes, plates, unknowns) float64 array, optional
        Cameras to climb from; without, every arrangement is screened.
    noise : SkylineNoise
        In place of the problem's own.
    closely, floor, hasty
        As `wherestood.fix.cells.score_cells` takes them.

    Returns
    -------
    StationScores
        What is believed of lens and turns included; hand and station are not.
    """
    beside = problem.beside
    assert beside is not None
    plates = problem.plates
    mirrored = problem.hands[hand].reversed
    seen = [p.seen.mirrored() if mirrored else p.seen for p in plates]
    aims = [one.aims(stations) for one in seen]
    ties = beside.ties.mirrored() if mirrored else beside.ties
    begin = starts
    if begin is None:
        least = SCREEN_WITHIN * len(plates) if hasty else math.inf
        begin = _first_cameras(problem, hand, profiles, noise.doubt, seen, aims, least)
    found = score_joint_stations(
        begin,
        [plate.hands[hand].samples for plate in plates],
        profiles,
        problem.curvature_per_m,
        joint_prior(plates, beside),
        stations.side_m,
        problem.lens.limits,
        noise,
        closely=closely,
        floor=floor,
        near=starts is not None,
        seen=seen,
        aims=aims,
        ties=ties,
    )
    believed = _believed(problem, beside, found.theta, mirrored=mirrored)
    power = noise.station_power if problem.has_skyline else 1.0
    return StationScores(found.score + power * believed, found.theta, found.sd)


def _believed(
    problem: Problem, beside: Beside, theta: Array, *, mirrored: bool
) -> Array:
    """Return what is believed of lens and turns beyond what the climb knows."""
    shape = theta.shape[:2]
    ln_c = theta[..., 0, 1].ravel()
    total = problem.lens.correction(ln_c)
    if not beside.one_lens:
        for k, plate in enumerate(beside.plates, start=1):
            total = total + plate.lens.correction(theta[..., k, 1].ravel())
    turns = turns_believed(problem.plates, beside, mirrored=mirrored)
    bearing = theta[..., 0].reshape(-1, theta.shape[2])
    total = total + turn_log_density(turns, problem.lens.grid(), ln_c, bearing)
    return np.asarray(total.reshape(shape))


def _first_cameras(
    problem: Problem,
    hand: int,
    profiles: Profiles,
    doubt: float,
    seen: list[OnPlate],
    aims: list[Aims],
    within: float,
) -> Array:
    """Return starting cameras from a screen of every lens and arrangement.

    Those more than ``within`` below the best of all stations are left out.
    """
    beside = problem.beside
    assert beside is not None
    plates = problem.plates
    grid = problem.lens.grid()
    offsets = beside.lens_offset if beside.one_lens else np.zeros(len(plates))
    count = len(profiles.table)
    # As a plate by itself is screened: on so many bearings, if there are more.
    every = max(1, profiles.table.shape[1] // SCREENED_BEARINGS)
    profile = np.ascontiguousarray(profiles.table[:, ::every])
    bearings = profile.shape[1]
    packed = [
        _packed(plate, hand, doubt, grid + offset, bearings)
        for plate, offset in zip(plates, offsets, strict=True)
    ]
    longest = max(part[0].shape[1] for part in packed)
    filled = [_filled(*part, longest) for part in packed]
    turns = turns_tied(plates, beside, mirrored=problem.hands[hand].reversed)
    found = np.empty((count, MODES, 1 + 2 * len(plates)))
    screen_panoramas(
        profile,
        profiles.ground_sd_m,
        np.stack([plate for plate, _ in filled]),
        np.stack([begin for _, begin in filled]),
        grid,
        problem.lens.log_density(grid),
        doubt * SCREEN_COVER_M,
        np.array([math.hypot(p.prior_sd[4], p.prior_sd[2]) for p in plates]),
        np.array([p.prior_sd[3] for p in plates]),
        _by_marks(
            [one.marks for one in seen],
            [one.marks for one in aims],
            grid,
            offsets,
            bearings,
            count,
        ),
        turns.orders,
        turns.mean,
        turns.sd,
        turns.any_turn,
        turns.log_weight,
        beside.one_lens,
        max(1, round(APART_RAD / (2.0 * math.pi / bearings))),
        found,
    )
    starts = np.empty((count, MODES, len(plates), problem.prior_mean.size))
    for k, plate in enumerate(plates):
        starts[:, :, k] = plate.prior_mean
        starts[:, :, k, 0] = found[..., 1 + k]
        starts[:, :, k, 1] = found[..., 1 + len(plates) + k] + offsets[k]
    hopeless = found[..., 0] < found[..., 0].max() - within
    starts[..., 1] = np.where(hopeless[..., None], np.nan, starts[..., 1])
    return starts


def _packed(
    plate: Problem, hand: int, doubt: float, ln_c: Array, bearings: int
) -> tuple[NDArray[np.float32], NDArray[np.int64]]:
    """Return a quarter of a plate's samples as the screen takes them."""
    table = plate.hands[hand].samples.table[::4]
    sd = doubt * np.maximum(table[:, 2], SCREEN_SD)
    samples, begin = seen_through(
        np.ascontiguousarray(table[:, 0]),
        np.ascontiguousarray(table[:, 1]),
        sd,
        ln_c,
        bearings,
    )
    return samples, begin


def _filled(
    samples: NDArray[np.float32], begin: NDArray[np.int64], rows: int
) -> tuple[NDArray[np.float32], NDArray[np.int64]]:
    """Fill samples up with ones that weigh nothing."""
    lenses, own = begin.shape
    more = np.zeros((lenses, rows - own, 5), dtype=np.float32)
    more[..., (2, 4)] = NO_SAMPLE
    return (
        np.concatenate((samples, more), axis=1),
        np.concatenate((begin, np.zeros((lenses, rows - own), np.int64)), axis=1),
    )


def _by_marks(
    marks: list[MarkTable],
    targets: list[Array],
    grid: Array,
    offsets: Array,
    bearings: int,
    count: int,
) -> NDArray[np.float32]:
    """Return how well each lens and bearing brings marks near their features."""
    if not any(len(table.plate) for table in marks):
        return np.zeros((0, len(marks), grid.size, bearings), dtype=np.float32)
    more = np.zeros((count, len(marks), grid.size, bearings), dtype=np.float32)
    bearing = np.arange(bearings) * (2.0 * math.pi / bearings)
    for k, table in enumerate(marks):
        likeliest = np.argmax(table.log_weight, axis=1) if len(table.plate) else ()
        for m, which in enumerate(likeliest):
            turned = np.arctan2(table.plate[m, 0], np.exp(grid + offsets[k]))
            azimuth = targets[k][:, m, which, 0]
            off = bearing + turned[None, :, None] - azimuth[:, None, None]
            off = (off + np.pi) % (2.0 * np.pi) - np.pi
            more[:, k] -= 0.5 * np.minimum(np.abs(off) / BEARING_SD_RAD, MOST_SD) ** 2
    return more
