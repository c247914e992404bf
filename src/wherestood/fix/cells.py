"""Score square cells of ground, and split those that may hold the station."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.batch import score_stations
from wherestood.evidence.lens_height import LensHeight
from wherestood.evidence.noise import SkylineNoise
from wherestood.evidence.profile import Profiles
from wherestood.evidence.stations import Stations
from wherestood.evidence.unknowns import COUNT
from wherestood.fix.first_cameras import MODES, first_cameras
from wherestood.fix.joint_scores import score_jointly
from wherestood.fix.kept_profiles import KeptProfiles
from wherestood.fix.problem import Problem
from wherestood.progress import Progress

__all__ = ["NOTHING_FITS", "Cells", "score_cells", "stations_of"]

Array = NDArray[np.float64]

CHUNK = 256
LIGHT = -1e30
#: Evidence trusted wholly may leave no ground at all: then all is as bad, and a
#: search goes on to say so [log].
NOTHING_FITS = -1e5


@dataclass(frozen=True)
class Cells:
    """Hold scored cells.

    Attributes
    ----------
    east_m, north_m, side_m : (n,) float64 array
        Centres and sides [m].
    share : (n,) float64 array
        How much of each cell lies in the ground searched, 0 to 1 (the rest of it
        is ring).
    log_score : (n, hands) float64 array
        Log density of the skyline, to the powers of `SkylineNoise`, what is believed
        of cameras and of the hand included.
    mode_score : (n, hands, modes) float64 array
        The same for each camera.
    theta, sd : (n, hands, modes, unknowns) float64 array
        Each camera's unknowns and their standard deviations.
    ground_m : (n,) float64 array
        Ground taken for the station [m].
    more_theta, more_sd : (n, hands, modes, plates - 1, unknowns) float64 array
        Those of the other plates of a panorama; None of a single plate.
    free : (n,) float64 array
        What of ``log_score`` comes of evidence that needs no camera; None for nothing.
    """

    east_m: Array
    north_m: Array
    side_m: Array
    share: Array
    log_score: Array
    mode_score: Array
    theta: Array
    sd: Array
    ground_m: Array
    more_theta: Array | None = None
    more_sd: Array | None = None
    free: Array | None = None

    @property
    def inside(self) -> NDArray[np.bool_]:
        """Say which cells have any part in the ground searched."""
        return self.share > 0.0

    @property
    def log_area(self) -> Array:
        """Return the log of each cell's area in the ground searched, -inf for none."""
        with np.errstate(divide="ignore"):
            return np.asarray(2.0 * np.log(self.side_m) + np.log(self.share))

    @property
    def log_weight(self) -> Array:
        """Return log posterior weight: density over both hands times the area."""
        return np.asarray(self.log_density + self.log_area)

    @property
    def log_density(self) -> Array:
        """Return log posterior density, weight over area."""
        return np.asarray(np.logaddexp.reduce(self.log_score, axis=1))

    def take(self, which: NDArray[np.int64] | NDArray[np.bool_]) -> Cells:
        """Return some of the cells."""
        return self._made(lambda name: getattr(self, name)[which])

    def _made(self, value: Callable[[str], Array]) -> Cells:
        """Return cells made field by field; what a single plate lacks stays so."""
        names = (
            name for name in self.__annotations__ if getattr(self, name) is not None
        )
        return Cells(**{name: value(name) for name in names})

    def of_plate(self, plate: int) -> Cells:
        """Return the cells with the cameras of one plate of a panorama."""
        if plate == 0 or self.more_theta is None or self.more_sd is None:
            return replace(self, more_theta=None, more_sd=None)
        return replace(
            self,
            theta=self.more_theta[..., plate - 1, :],
            sd=self.more_sd[..., plate - 1, :],
            more_theta=None,
            more_sd=None,
        )

    def starts(self, hopeless: NDArray[np.bool_] | None = None) -> Array:
        """Return the cameras as starting points, those that are none left out.

        Parameters
        ----------
        hopeless : (n, hands, modes) bool array, optional
            Cameras to leave out; those without a score where not given.

        Returns
        -------
        (n, hands, modes, unknowns) or (n, hands, modes, plates, unknowns) array
        """
        gone = ~np.isfinite(self.mode_score) if hopeless is None else hopeless
        begin = self.theta.copy()
        if self.more_theta is not None:
            begin = np.concatenate((begin[..., None, :], self.more_theta), axis=-2)
            gone = gone[..., None]
        begin[..., 1] = np.where(gone, np.nan, begin[..., 1])
        return begin

    def joined(self, *others: Cells) -> Cells:
        """Return these and other cells, in this order."""
        if not others:
            return self
        parts = (self, *others)
        return self._made(
            lambda name: np.concatenate([getattr(part, name) for part in parts])
        )


def score_cells(
    problem: Problem,
    east_m: Array,
    north_m: Array,
    side_m: float,
    share: NDArray[np.float64] | NDArray[np.bool_],
    progress: Progress,
    starts: Array | None = None,
    noise: SkylineNoise | None = None,
    profiles: Profiles | None = None,
    floor: float = -math.inf,
    closely: bool = True,
    hasty: bool = False,
    kept: KeptProfiles | None = None,
) -> Cells:
    """Score cells of one size.

    From given cameras the climb is followed by a close look (`score_stations`);
    a screen's many are told apart by the shapes of their modes.

    Parameters
    ----------
    share : (n,) float64 or bool array
        How much of each cell lies in the ground searched.
    starts : (n, hands, modes, unknowns) float64 array, optional
        Cameras to climb from; without, every bearing and lens is screened.
    noise : SkylineNoise, optional
        In place of the problem's own.
    profiles : Profiles, optional
        Those of these very cells, all on known ground, where they are at hand.
    floor : float
        Cameras of less log density than this are not worth a close look.
    closely : bool
        Whether a climb from given cameras is followed by a close look.
    hasty : bool
        Whether cameras of a panorama that a screen finds hopeless, among the cells of
        its chunk, may be let go without a climb.
    kept : KeptProfiles, optional
        Receives the horizons of the cells returned, in their order.

    Returns
    -------
    Cells
        Those on known ground only.
    """
    if profiles is None:
        ground_m, _ = problem.maker.heights(east_m, north_m)
    else:
        ground_m = profiles.ground_m
    known = np.flatnonzero(np.isfinite(ground_m))
    # The whole is laid out at once and filled: parts joined would need it twice.
    cells = _unscored(problem, east_m[known], north_m[known], side_m, share[known])
    progress.advance(len(east_m) - len(known))
    for first in range(0, len(known), CHUNK):
        chunk = slice(first, first + CHUNK)
        chosen = np.arange(len(known))[chunk]
        made = None if profiles is None else _part_of(profiles, known[chunk])
        begin = None if starts is None else starts[known[chunk]]
        _score(
            problem,
            cells,
            chosen,
            made,
            begin,
            noise or problem.noise,
            floor,
            closely=closely,
            kept=kept,
            hasty=hasty,
        )
        progress.advance(len(chosen))
    return cells


def _part_of(profiles: Profiles, which: NDArray[np.int64]) -> Profiles:
    return Profiles(
        profiles.table[which], profiles.ground_m[which], profiles.ground_sd_m[which]
    )


def _unscored(
    problem: Problem,
    east_m: Array,
    north_m: Array,
    side_m: float,
    share: NDArray[np.float64] | NDArray[np.bool_],
) -> Cells:
    count = len(east_m)
    hands = len(problem.hands)
    shape = (count, hands, MODES)
    more = None
    if problem.beside is not None:
        more = np.zeros((*shape, len(problem.beside.plates), COUNT))
    return Cells(
        east_m,
        north_m,
        np.full(count, side_m),
        share.astype(np.float64),
        np.full((count, hands), -np.inf),
        np.full(shape, -np.inf),
        np.zeros((*shape, COUNT)),
        np.zeros((*shape, COUNT)),
        np.zeros(count),
        more,
        None if more is None else np.zeros_like(more),
        np.zeros(count),
    )


def _score(
    problem: Problem,
    cells: Cells,
    chosen: NDArray[np.int64],
    made: Profiles | None,
    starts: Array | None,
    noise: SkylineNoise,
    floor: float,
    *,
    closely: bool,
    kept: KeptProfiles | None,
    hasty: bool,
) -> None:
    """Score some of the cells in place, on horizons made or to be made."""
    east_m, north_m = cells.east_m[chosen], cells.north_m[chosen]
    seen = made or problem.profiles(east_m, north_m)
    if kept is not None:
        kept.add(seen)
    _fill(
        problem, cells, chosen, seen, starts, noise, floor, closely=closely, hasty=hasty
    )


def _fill(
    problem: Problem,
    cells: Cells,
    chunk: NDArray[np.int64],
    profiles: Profiles,
    starts: Array | None,
    noise: SkylineNoise,
    floor: float,
    *,
    closely: bool,
    hasty: bool,
) -> None:
    """Score some of the cells in place."""
    cells.ground_m[chunk] = profiles.ground_m
    prior_sd = problem.prior_sd.copy()
    # A cell is marginalised over, not sampled at its middle.
    prior_sd[-2:] = cells.side_m[chunk][0] / math.sqrt(12.0)
    stations = stations_of(problem, cells.take(chunk), profiles, noise)
    free = np.maximum(problem.weigh_free(stations), NOTHING_FITS)[:, None]
    if cells.free is not None:
        cells.free[chunk] = free[:, 0]
    aims = problem.seen.aims(stations)
    for index, hand in enumerate(problem.hands):
        begin = None if starts is None else starts[:, index]
        close = closely and starts is not None
        least = floor - float(np.max(free))
        if problem.beside is not None:
            found = score_jointly(
                problem, index, begin, profiles, stations, noise, close, least, hasty
            )
            cells.mode_score[chunk, index] = found.score + hand.log_prior + free
            cells.theta[chunk, index] = found.theta[:, :, 0]
            cells.sd[chunk, index] = found.sd[:, :, 0]
            if cells.more_theta is not None:
                cells.more_theta[chunk, index] = found.theta[:, :, 1:]
            if cells.more_sd is not None:
                cells.more_sd[chunk, index] = found.sd[:, :, 1:]
            continue
        seen = problem.seen.mirrored() if hand.reversed else problem.seen
        if begin is None:
            begin = first_cameras(problem, hand, profiles, noise.doubt, seen, aims)
        found = score_stations(
            begin,
            hand.samples,
            profiles,
            problem.curvature_per_m,
            problem.prior_mean,
            prior_sd,
            problem.lens.limits,
            noise,
            closely=close,
            floor=least,
            near=starts is not None,
            seen=seen,
            aims=aims,
        )
        power = noise.station_power if problem.has_skyline else 1.0
        cells.mode_score[chunk, index] = (
            found.score
            + power * problem.lens.correction(found.theta[..., 1])
            + hand.log_prior
            + free
        )
        cells.theta[chunk, index], cells.sd[chunk, index] = found.theta, found.sd
    total = np.logaddexp.reduce(cells.mode_score[chunk], axis=2)
    cells.log_score[chunk] = np.maximum(total, LIGHT)


def stations_of(
    problem: Problem,
    cells: Cells,
    profiles: Profiles,
    noise: SkylineNoise | None = None,
) -> Stations:
    """Return cells, all of one size, as evidence looks from them.

    Parameters
    ----------
    noise : SkylineNoise, optional
        In place of the problem's own.
    """
    terrain = problem.terrain
    sd_m = profiles.ground_sd_m
    if problem.has_skyline:
        cover = noise or problem.noise
        error = LensHeight.beside_cover(sd_m, cover.cover_mean_m, cover.cover_sd_m)
    else:
        error = LensHeight.alone(sd_m)
    if any(plate.seen.any for plate in problem.plates):
        error = error.on_slopes(*problem.maker.slopes(cells.east_m, cells.north_m))
    return Stations(
        cells.east_m,
        cells.north_m,
        profiles.ground_m + problem.maker.lens_height_m,
        radius_m=(1.0 - terrain.refraction) / (2.0 * problem.curvature_per_m),
        refraction=terrain.refraction,
        lens_sd_m=float(np.median(profiles.ground_sd_m)),
        side_m=float(cells.side_m[0]),
        lens_height=error,
    )
