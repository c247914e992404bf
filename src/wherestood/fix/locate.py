"""Find where a camera stood and say how sure that is."""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from wherestood.evidence.items import Evidence, RidgeLine
from wherestood.fix.answers import Chosen, answer_for
from wherestood.fix.area import Area
from wherestood.fix.assumptions import assumptions_of, reversed_share
from wherestood.fix.checks import check
from wherestood.fix.conflict import conflict_of, with_conflict
from wherestood.fix.decoys import chance_of_match
from wherestood.fix.doubled import share_when_doubled
from wherestood.fix.draw_cameras import draw_cameras
from wherestood.fix.evidence_rows import evidence_rows, rms_px
from wherestood.fix.kept_ground import (
    HELD,
    keep_ground,
    shift_reach_m,
    unsure_powers,
)
from wherestood.fix.leaning import told_of_changed_ground
from wherestood.fix.left_out import leave_out_each
from wherestood.fix.likely_cameras import likely_cameras
from wherestood.fix.on_corners import (
    fix_on_scan,
    laid_evidence,
    laid_plate,
    laid_skyline,
)
from wherestood.fix.picture import computed_ridges, computed_skyline, misfit_px
from wherestood.fix.posterior import (
    Place,
    Posterior,
    as_multi,
    find_places,
    posterior_of,
    region,
)
from wherestood.fix.problem import Problem, set_up
from wherestood.fix.proposed import proposed_told
from wherestood.fix.result import Alternative, Fix, Proposed
from wherestood.fix.ridges import weigh_ridges
from wherestood.fix.search import search
from wherestood.fix.settings import LocateSettings
from wherestood.fix.told import marks_log_odds
from wherestood.fix.verdict import GATHERED_M, chance_elsewhere, judge
from wherestood.fix.view import ground_in_view
from wherestood.plate.scan import Plate
from wherestood.plate.skyline import Skyline
from wherestood.plate.straight import straight_plate
from wherestood.progress import SILENT, Progress
from wherestood.terrain.model import Terrain

__all__ = ["PROBABILITIES", "Answered", "Clock", "answered", "locate"]

Array = NDArray[np.float64]

PROBABILITIES = (0.5, 0.9, 0.99)
MOST_PLACES = 6


def locate(
    plate: Plate,
    terrain: Terrain,
    skyline: Skyline | None,
    area: Area,
    *,
    settings: LocateSettings,
    evidence: Evidence | None = None,
    proposed: Sequence[Proposed] = (),
    progress: Progress | None = None,
) -> Fix:
    """Find where the camera stood.

    Parameters
    ----------
    plate : Plate
        The scan and what is known of the plate.
    terrain : Terrain
        Elevation of the district, well beyond the ground searched.
    skyline : Skyline or None
        Traced boundary of land and sky; None where no sky tells anything.
    area : Area
        The ground searched.
    settings : LocateSettings
        What the person knows and asks.
    evidence : Evidence, optional
        All else that is known: ridge lines, marks, what needs no camera.
    proposed : sequence of Proposed
        Positions that somebody proposed: tested, and no evidence.
    progress : Progress, optional
        Told of stages; may raise CancelledError.

    Returns
    -------
    Fix
        "Not determined" and "several places" are answers, not errors.

    Raises
    ------
    WherestoodError
        If an input cannot be used.
    """
    known = evidence or Evidence()
    straight = straight_plate(plate)
    if straight is None:
        return _on_plate(
            plate, terrain, skyline, area, settings, known, proposed, progress
        )
    # Searched on the plate itself, and told on the scan that it was read from.
    found = _on_plate(
        laid_plate(straight, plate),
        terrain,
        laid_skyline(straight, skyline) if skyline else None,
        area,
        settings,
        laid_evidence(straight, known),
        proposed,
        progress,
    )
    return fix_on_scan(straight, found, known)


def _on_plate(
    plate: Plate,
    terrain: Terrain,
    skyline: Skyline | None,
    area: Area,
    settings: LocateSettings,
    known: Evidence,
    proposed: Sequence[Proposed],
    progress: Progress | None,
) -> Fix:
    """Find where the camera stood by a scan that is the plate and nothing else."""
    shown = progress or SILENT
    clock = Clock()
    shown.stage("Preparing the terrain")
    problem = set_up(plate, terrain, skyline, area, settings, known)
    clock.mark("prepare")
    return answered(problem, [known], proposed, shown, clock).fixes[0]


@dataclass(frozen=True)
class Answered:
    """Hold the fix as each plate sees it, and the very cameras that fit best.

    Attributes
    ----------
    fixes : tuple of Fix
        One, or one for each plate of a panorama: station, regions and verdict are
        common to all; camera, skylines and evidence are each plate's own.
    chosen : Chosen
        Of the likeliest place, all plates together.
    posterior : Posterior
        The probability over the ground searched.
    """

    fixes: tuple[Fix, ...]
    chosen: Chosen
    posterior: Posterior


def answered(
    problem: Problem,
    evidence: Sequence[Evidence],
    proposed: Sequence[Proposed],
    shown: Progress,
    clock: Clock,
) -> Answered:
    """Search and return the fix as each plate sees it.

    Parameters
    ----------
    evidence : sequence of Evidence
        All that was given of each plate.
    clock : Clock
        Running since the problem was begun.
    """
    settings = problem.settings
    cells = weigh_ridges(problem, search(problem, shown))
    clock.mark("search")
    # A shift of the model moves what the horizon tells, not what marks do.
    posterior = posterior_of(cells, shift_reach_m(problem), unsure_powers(problem))
    places = find_places(posterior, settings.near_enough_m, MOST_PLACES)
    seen = [
        _plate_seen(plate, _of_plate(posterior, k), places, evidence[k].ridge_lines)
        for k, plate in enumerate(problem.plates)
    ]
    doubled = share_when_doubled(problem, posterior, places[0], shown)
    clock.mark("doubled")
    rng = np.random.default_rng(settings.seed)
    first, *others = ((one.chosen[0], one.misfit[0]) for one in seen)
    chance = chance_of_match(problem, *first, rng, shown, others)
    clock.mark("decoys")
    gathered = find_places(posterior, GATHERED_M, 1)[0].probability
    best = answer_for(problem, posterior, places[0])
    ground = keep_ground(problem, posterior)
    left_out = leave_out_each(problem, ground, shown)
    within = {p: region(posterior, p) for p in PROBABILITIES}
    checks = check(problem, evidence, ground, best, rng, shown, within[HELD].area)
    whole = ground.less((), SILENT)
    # Each plate's cameras, within the doubt that its own picture leaves.
    draws = [
        draw_cameras(
            plate,
            likely_cameras(plate, whole.of_plate(k)),
            np.random.default_rng(settings.seed),
        )
        for k, plate in enumerate(problem.plates)
    ]
    clock.mark("left out")
    told = marks_log_odds(problem, posterior, places[0])
    elsewhere = chance_elsewhere(posterior.ring, chance, gathered, told)
    judgement = judge(problem, posterior, places, elsewhere, doubled, chance, told)
    conflict = conflict_of(
        problem,
        ground,
        best,
        settled=judgement.verdict == "located",
        progress=shown,
    )
    judgement = with_conflict(judgement, conflict)
    clock.mark("judge")
    tested = tuple(
        proposed_told(
            problem,
            posterior,
            places[0],
            best,
            one,
            evidence[0].ridge_lines,
            progress=shown,
        )
        for one in proposed
    )
    regions = {p: _to_lonlat(problem, one) for p, one in within.items()}
    fixes = tuple(
        Fix(
            verdict=judgement.verdict,
            near_enough_m=settings.near_enough_m,
            station=one.chosen[0].station,
            camera=one.chosen[0].camera,
            regions=regions,
            elsewhere=elsewhere,
            alternatives=one.alternatives(places),
            rms_px=rms_px(one.misfit[0]),
            chance=chance,
            evidence=one.evidence[0],
            computed_skyline_px=one.lines[0][0],
            horizon_distance_m=one.lines[0][1],
            cells=_cell_table(posterior),
            near_enough_share=places[0].probability,
            reasons=judgement.reasons,
            assumptions=assumptions_of(
                one.plate, one.chosen[0], cells, posterior, doubled
            ),
            timing_s=clock.seconds,
            share_when_doubled=doubled,
            reversed_probability=(
                reversed_share(problem, posterior)
                if len(problem.hands) > 1
                else math.nan
            ),
            ground_in_view=ground_in_view(one.plate, one.chosen[0]),
            computed_ridges_px=one.ridges_px[0],
            changed_ground=told_of_changed_ground(one.plate, one.chosen[0]),
            left_out=left_out,
            checks=replace(checks, conflict=conflict),
            proposed=tested,
            draws=drawn,
        )
        for one, drawn in zip(seen, draws, strict=True)
    )
    return Answered(fixes, best, posterior)


@dataclass(frozen=True)
class _PlateSeen:
    """Hold how each place looks through one plate's camera, likeliest first."""

    plate: Problem
    chosen: tuple[Chosen, ...]
    lines: tuple[tuple[Array, Array], ...]
    misfit: tuple[Array, ...]
    evidence: tuple[tuple[dict[str, Any], ...], ...]
    ridges_px: tuple[Array, ...]

    def alternatives(self, places: list[Place]) -> tuple[Alternative, ...]:
        """Return all places but the first."""
        return tuple(
            Alternative(
                self.chosen[n].station,
                self.chosen[n].camera,
                places[n].probability,
                *self.lines[n],
                rms_px(self.misfit[n]),
                self.evidence[n],
                self.ridges_px[n],
            )
            for n in range(1, len(places))
        )


def _plate_seen(
    plate: Problem,
    posterior: Posterior,
    places: list[Place],
    ridges: Sequence[RidgeLine],
) -> _PlateSeen:
    """Return how each place looks through a plate's camera there."""
    chosen = [answer_for(plate, posterior, place) for place in places]
    lines = [computed_skyline(plate, one) for one in chosen]
    misfit = [misfit_px(plate, pixels) for pixels, _ in lines]
    said = [
        evidence_rows(plate, one, ridges, off)
        for one, off in zip(chosen, misfit, strict=True)
    ]
    return _PlateSeen(
        plate,
        tuple(chosen),
        tuple(lines),
        tuple(misfit),
        tuple(said),
        tuple(computed_ridges(plate, one) for one in chosen),
    )


def _of_plate(posterior: Posterior, plate: int) -> Posterior:
    """Return the probabilities with the cameras of one plate."""
    return replace(posterior, cells=posterior.cells.of_plate(plate))


class Clock:
    """Measure how long each stage takes."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}
        self._last = time.perf_counter()

    def mark(self, stage: str) -> None:
        """Book the time since the last mark."""
        now = time.perf_counter()
        self.seconds[stage] = now - self._last
        self._last = now


def _to_lonlat(problem: Problem, shape: MultiPolygon) -> MultiPolygon:
    frame = problem.terrain.frame

    def turn(points: Array) -> Array:
        return np.column_stack(frame.to_lonlat(points[:, 0], points[:, 1]))

    return as_multi(shapely.orient_polygons(shapely.transform(shape, turn)))


def _cell_table(posterior: Posterior) -> Array:
    kept = posterior.mass > 1e-7
    cells = posterior.cells
    return np.column_stack((cells.east_m, cells.north_m, cells.side_m, posterior.mass))[
        kept
    ]
