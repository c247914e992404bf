"""Test somebody's answer against the evidence."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from wherestood.errors import AreaError
from wherestood.evidence.items import RidgeLine
from wherestood.evidence.plate_rows import NOTHING_MARKED
from wherestood.fix.answers import Chosen, answer_for
from wherestood.fix.area import Area
from wherestood.fix.cells import Cells, score_cells
from wherestood.fix.evidence_rows import evidence_rows, rms_px
from wherestood.fix.first_cameras import MODES
from wherestood.fix.groups import RIDGES, SKYLINE
from wherestood.fix.kept_ground import shift_reach_m, unsure_powers
from wherestood.fix.picture import computed_ridges, computed_skyline, misfit_px
from wherestood.fix.posterior import (
    Place,
    Posterior,
    find_places,
    posterior_of,
    smoothed_log_density,
)
from wherestood.fix.problem import Problem
from wherestood.fix.result import Alternative, Proposed, ProposedTold
from wherestood.fix.ridges import POWER, ridge_log_odds, weigh_ridges
from wherestood.fix.search import search
from wherestood.fix.told import items_told
from wherestood.progress import SILENT, Progress

__all__ = ["FITS", "FITS_POORLY", "proposed_told"]

Array = NDArray[np.float64]

#: Log probability against the likeliest place at which a position fits, and still
#: fits poorly: odds of 1 in 20 and of 1 in 3000.
FITS, FITS_POORLY = -3.0, -8.0
#: Bearings this many standard errors apart do not agree.
BEARING_SDS = 3.0


def proposed_told(
    problem: Problem,
    posterior: Posterior,
    first: Place,
    chosen: Chosen,
    proposed: Proposed,
    ridges: Sequence[RidgeLine] = (),
    *,
    progress: Progress = SILENT,
) -> ProposedTold:
    """Return whether a proposed position fits, and because of what.

    Parameters
    ----------
    posterior : Posterior
        Of the search.
    first : Place
        The likeliest place.
    chosen : Chosen
        Its answer.
    proposed : Proposed
        Whose answer, where, and how far off it may be.
    ridges : sequence of RidgeLine
        The ridge lines of the evidence, for the record.

    Notes
    -----
    All ground near enough to it is searched like any, all cameras. What is compared
    is the probability of the best circle of near enough there with that of the
    likeliest place; items are compared at the best camera of either.
    """
    near_m = problem.settings.near_enough_m
    frame = problem.terrain.frame
    east, north = (
        float(value[0])
        for value in frame.from_lonlat(
            np.array([proposed.lon_deg]), np.array([proposed.lat_deg])
        )
    )
    shown = _Testing(proposed.name, progress)
    cells = _searched(problem, east, north, near_m + proposed.doubt_m, shown)
    if cells is None:
        return ProposedTold(
            proposed, "impossible", -math.inf, (("ground", -math.inf),), math.nan
        )
    local = posterior_of(cells, shift_reach_m(problem), unsure_powers(problem))
    place = find_places(local, near_m, 1)[0]
    other = answer_for(problem, local, place)
    ratio = _log_whole(problem, local.cells) - _log_whole(problem, posterior.cells)
    ratio += math.log(place.probability) - math.log(first.probability)
    because = tuple(
        sorted(_differences(problem, chosen, other), key=lambda pair: pair[1])
    )
    off_deg = off_sds = math.nan
    if proposed.bearing_deg is not None:
        turn = proposed.bearing_deg - other.camera.sight_bearing_deg
        off_deg = (turn + 180.0) % 360.0 - 180.0
        sd = math.hypot(other.camera.sd["sight_bearing_deg"], proposed.bearing_sd_deg)
        off_sds = abs(off_deg) / sd
    verdict: Literal["fits", "fits poorly", "impossible"]
    if ratio < FITS_POORLY:
        verdict = "impossible"
    elif ratio < FITS or off_sds > BEARING_SDS:
        verdict = "fits poorly"
    else:
        verdict = "fits"
    share = min(1.0, first.probability * math.exp(min(ratio, 0.0)))
    station = other.station
    return ProposedTold(
        proposed,
        verdict,
        ratio,
        because,
        off_sds,
        off_deg,
        _as_place(problem.plates[0], other.of_plate(0), share, ridges),
        math.hypot(station.east_m - east, station.north_m - north),
    )


@dataclass(frozen=True)
class _Testing:
    """Tell the stages of a search as those of testing somebody's answer."""

    name: str
    progress: Progress

    def stage(self, name: str, total: int | None = None) -> None:
        """Begin a stage."""
        lower = f"{name[:1].lower()}{name[1:]}"
        self.progress.stage(f"Testing the answer of {self.name}: {lower}", total)

    def advance(self, steps: int = 1) -> None:
        """Report that some steps are done."""
        self.progress.advance(steps)


def _searched(
    problem: Problem, east_m: float, north_m: float, radius_m: float, shown: Progress
) -> Cells | None:
    """Return the cells of a circle, searched like any; None on unknown ground."""
    frame = problem.terrain.frame

    def lonlat(points: Array) -> Array:
        return np.column_stack(frame.to_lonlat(points[:, 0], points[:, 1]))

    circle = shapely.Point(east_m, north_m).buffer(radius_m)
    area = Area(shapely.transform(circle, lonlat), "proposed")
    there = replace(problem, area=area)
    try:
        return weigh_ridges(there, search(there, shown))
    except AreaError:
        return None


def _log_whole(problem: Problem, cells: Cells) -> float:
    """Return the log of the density summed over the ground of cells."""
    reach_m = shift_reach_m(problem)
    density = (
        smoothed_log_density(cells, reach_m) if reach_m > 0.0 else cells.log_density
    )
    return float(np.logaddexp.reduce(density + cells.log_area))


def _as_place(
    problem: Problem, chosen: Chosen, share: float, ridges: Sequence[RidgeLine]
) -> Alternative:
    """Return a camera as a place of a fix, with what it would show."""
    pixels, distance_m = computed_skyline(problem, chosen)
    misfit = misfit_px(problem, pixels)
    return Alternative(
        chosen.station,
        chosen.camera,
        share,
        pixels,
        distance_m,
        rms_px(misfit),
        evidence_rows(problem, chosen, ridges, misfit),
        computed_ridges(problem, chosen),
    )


def _differences(
    problem: Problem, chosen: Chosen, other: Chosen
) -> Iterator[tuple[str, float]]:
    """Give how much worse each item fares at another camera than at the best."""
    if problem.has_skyline:
        alone = problem.each(_skyline_alone)
        yield SKYLINE, _at(alone, other) - _at(alone, chosen)
    if any(plate.ridges for plate in problem.plates):
        power = POWER * problem.noise.whole_power
        odds = [_ridges_at(problem, one) for one in (other, chosen)]
        yield RIDGES, float(power * (odds[0] - odds[1]))
    before = {item.id: item for item in items_told(problem, chosen)}
    for item in items_told(problem, other):
        best = before[item.id]
        if item.log_likelihood is not None and best.log_likelihood is not None:
            # What cannot be so at either tells nothing between them.
            both = item.log_likelihood, best.log_likelihood
            yield item.id, 0.0 if both == (-math.inf, -math.inf) else both[0] - both[1]
        else:
            # A mark is at worst a blunder: odds below that tell no more.
            yield (
                item.id,
                min(best.blunder_log_odds, 0.0) - min(item.blunder_log_odds, 0.0),
            )


def _skyline_alone(plate: Problem) -> Problem:
    return replace(plate, seen=NOTHING_MARKED, free=None, ridges=())


def _ridges_at(problem: Problem, chosen: Chosen) -> float:
    """Return the log odds of all ridge lines at a camera."""
    return sum(
        float(ridge_log_odds(plate, chosen.of_plate(k)).sum())
        for k, plate in enumerate(problem.plates)
    )


def _at(problem: Problem, chosen: Chosen) -> float:
    """Return the log density of the best camera at a chosen one's own cell."""
    found = score_cells(
        problem,
        chosen.cell_m[:1],
        chosen.cell_m[1:2],
        4.0,
        np.ones(1),
        SILENT,
        chosen.starts(len(problem.hands), MODES),
    )
    return float(found.log_density.max(initial=-np.inf))
