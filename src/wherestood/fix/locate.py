"""Find where a camera stood from one skyline and say how sure that is."""

from __future__ import annotations

import math
import time
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from wherestood.evidence.profile import SHIFT_CELLS
from wherestood.evidence.samples import BINS
from wherestood.evidence.whiten import LEVEL
from wherestood.fix.answers import Chosen, answer_for
from wherestood.fix.area import Area
from wherestood.fix.cells import Cells
from wherestood.fix.decoys import chance_of_match
from wherestood.fix.doubled import share_when_doubled
from wherestood.fix.picture import computed_skyline, misfit_px
from wherestood.fix.posterior import (
    Posterior,
    as_multi,
    find_places,
    posterior_of,
    region,
)
from wherestood.fix.problem import Problem, set_up
from wherestood.fix.result import Alternative, Fix
from wherestood.fix.search import search
from wherestood.fix.settings import LocateSettings
from wherestood.fix.verdict import chance_elsewhere, judge
from wherestood.fix.view import ground_in_view
from wherestood.plate.scan import Plate
from wherestood.plate.skyline import Skyline
from wherestood.progress import SILENT, Progress
from wherestood.terrain.model import Terrain

__all__ = ["PROBABILITIES", "locate"]

Array = NDArray[np.float64]

PROBABILITIES = (0.5, 0.9, 0.99)
MOST_PLACES = 6


def locate(
    plate: Plate,
    terrain: Terrain,
    skyline: Skyline,
    area: Area,
    *,
    settings: LocateSettings,
    progress: Progress | None = None,
) -> Fix:
    """Find where the camera stood.

    Parameters
    ----------
    plate : Plate
        The scan and what is known of the plate.
    terrain : Terrain
        Elevation of the district, well beyond the ground searched.
    skyline : Skyline
        Traced boundary of land and sky.
    area : Area
        The ground searched.
    settings : LocateSettings
        What the person knows and asks.
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
    told = progress or SILENT
    clock = _Clock()
    told.stage("Preparing the terrain")
    problem = set_up(plate, terrain, skyline, area, settings)
    clock.mark("prepare")
    cells = search(problem, told)
    clock.mark("search")
    posterior = posterior_of(cells, SHIFT_CELLS * problem.terrain.source_cell_m)
    places = find_places(posterior, settings.near_enough_m, MOST_PLACES)
    answers = [answer_for(problem, posterior, place) for place in places]
    drawn = [computed_skyline(problem, answer) for answer in answers]
    pixels, distance = drawn[0]
    misfit = misfit_px(problem, pixels)
    doubled = share_when_doubled(problem, posterior, places[0], told)
    clock.mark("doubled")
    rng = np.random.default_rng(settings.seed)
    chance = chance_of_match(problem, answers[0], misfit, rng, told)
    clock.mark("decoys")
    elsewhere = chance_elsewhere(posterior.ring, chance)
    judgement = judge(problem, posterior, places, elsewhere, doubled, chance)
    rms = _rms_px(misfit)
    clock.mark("judge")
    return Fix(
        verdict=judgement.verdict,
        near_enough_m=settings.near_enough_m,
        station=answers[0].station,
        camera=answers[0].camera,
        regions={p: _to_lonlat(problem, region(posterior, p)) for p in PROBABILITIES},
        elsewhere=elsewhere,
        alternatives=tuple(
            Alternative(
                answer.station,
                answer.camera,
                place.probability,
                *lines,
                _rms_px(misfit_px(problem, lines[0])),
            )
            for answer, place, lines in zip(
                answers[1:], places[1:], drawn[1:], strict=True
            )
        ),
        rms_px=rms,
        chance=chance,
        evidence=(
            {
                "id": "skyline",
                "kind": "skyline",
                "residual": rms,
                "pull": _pull(problem, answers[0], misfit),
            },
        ),
        computed_skyline_px=pixels,
        horizon_distance_m=distance,
        cells=_cell_table(posterior),
        near_enough_share=places[0].probability,
        reasons=judgement.reasons,
        assumptions=_assumptions(problem, answers[0], cells, posterior, doubled),
        timing_s=clock.seconds,
        share_when_doubled=doubled,
        reversed_probability=(
            _reversed_share(problem, posterior) if len(problem.hands) > 1 else math.nan
        ),
        ground_in_view=ground_in_view(problem, answers[0]),
    )


class _Clock:
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


def _pull(problem: Problem, chosen: Chosen, misfit: Array) -> float:
    """Return the misfit over what trees, model and tracing lead one to expect."""
    samples = problem.hands[chosen.hand].samples
    seen_px = chosen.camera.principal_distance_px
    profile = problem.maker.make(
        np.array([chosen.station.east_m]), np.array([chosen.station.north_m])
    ).table[0]
    turn = chosen.theta[0] + np.arctan2(samples.table[:, 0], np.exp(chosen.theta[1]))
    index = np.round(turn / (2 * np.pi) * len(profile)).astype(int) % len(profile)
    level = problem.noise.levels[problem.noise.middle]
    expected = seen_px * np.hypot(level[0], level[2]) / profile[index, 2]
    expected = np.hypot(expected, samples.table[:, 2] * samples.diagonal_px)
    if problem.hands[chosen.hand].reversed != problem.hands[0].reversed:
        expected = expected[::-1]
    with np.errstate(invalid="ignore"):
        return float(np.sqrt(np.nanmean((misfit / expected) ** 2)))


def _rms_px(misfit: Array) -> float:
    known = misfit[np.isfinite(misfit)]
    return float(np.sqrt(np.mean(known**2))) if known.size else math.nan


def _reversed_share(problem: Problem, posterior: Posterior) -> float:
    """Return the probability that the scan is left for right."""
    score = posterior.cells.log_score
    hands = np.exp(score - np.logaddexp.reduce(score, axis=1, keepdims=True))
    return sum(
        float((hands[:, index] * posterior.mass).sum())
        for index, hand in enumerate(problem.hands)
        if hand.reversed
    )


def _assumptions(
    problem: Problem, chosen: Chosen, cells: Cells, posterior: Posterior, doubled: float
) -> dict[str, Any]:
    """Return every prior and setting the answer rests on."""
    noise = problem.noise
    sides = posterior.cells.side_m[posterior.mass > 1e-4]
    return {
        "surface": problem.settings.surface,
        "refraction": problem.terrain.refraction,
        "lens_height_m": problem.maker.lens_height_m,
        "lens_height_sd_m": problem.settings.lens_height.sd_m,
        "cover_mean_m": noise.cover_mean_m,
        "cover_sd_m": noise.cover_sd_m,
        "cover_found_m": float(chosen.theta[10]),
        "noise_columns": list(LEVEL),
        "noise_levels": noise.levels.tolist(),
        "jump_sd_m": noise.jump_sd_m,
        "jump_log_odds": noise.jump_log_odds,
        "temper": noise.temper,
        "skyline_bins": BINS,
        "skyline_bins_used": len(problem.hands[0].samples.table),
        "ln_c_prior": {
            "known": problem.lens.known,
            "mean": problem.lens.mean,
            "sd": problem.lens.sd,
            "limits": [float(value) for value in problem.lens.limits],
        },
        "prior_sd": {
            "tilt_rad": float(problem.prior_sd[2]),
            "roll_rad": float(problem.prior_sd[3]),
            "rise_over_diagonal": float(problem.prior_sd[4]),
            "cross_over_diagonal": float(problem.prior_sd[5]),
            "k1": float(problem.prior_sd[6]),
            "vertical_scale": float(problem.prior_sd[7]),
        },
        "reversed_prior": [float(np.exp(hand.log_prior)) for hand in problem.hands],
        "reversed_probability": _reversed_share(problem, posterior),
        "cells_scored": len(cells.east_m),
        "smallest_cell_m": float(sides.min()) if sides.size else 0.0,
        "search_cell_m": problem.terrain.cell_m,
        "source_cell_m": problem.terrain.source_cell_m,
        "share_when_doubled": doubled,
        "ring_share": posterior.ring,
        "horizon_radius_m": problem.settings.horizon_radius_m,
        "seed": problem.settings.seed,
    }
