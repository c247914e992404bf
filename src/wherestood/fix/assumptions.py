"""List every prior and setting that a fix rests on."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import numpy as np

from wherestood.evidence import (
    batch,
    in_line,
    lean,
    mark_rows,
    placed,
    profile,
    ridge_lines,
    ridge_samples,
    samples,
)
from wherestood.evidence.unknowns import CAMERA, UNKNOWN_SD, UNKNOWN_TANGENT, UNKNOWNS
from wherestood.evidence.whiten import (
    FOREGROUND_BELOW,
    FOREGROUND_BEND,
    FOREGROUND_STAYS,
    LEVEL,
)
from wherestood.fix import (
    decoys,
    doubled,
    posterior,
    ready_ground,
    ridges,
    search,
    told,
    verdict,
)
from wherestood.fix.answers import INDEX, Chosen
from wherestood.fix.cells import Cells
from wherestood.fix.first_cameras import (
    APART_RAD,
    FROM_MARKS,
    MODES,
    SCREENED_BEARINGS,
)
from wherestood.fix.lens import STEP
from wherestood.fix.posterior import (
    SKYLINE_ALONE,
    UNSURE_NATS,
    Posterior,
)
from wherestood.fix.problem import Problem

__all__ = ["assumptions_of", "reversed_share"]

#: Units of the unknowns; what has none is a share or a logarithm.
_UNITS = {
    "tilt": "rad",
    "roll": "rad",
    "rise": "over_diagonal",
    "cross": "over_diagonal",
    "warp_two": "over_diagonal",
    "warp_three": "over_diagonal",
    "cover": "m",
    "cover_slope": "m",
    "cover_bend": "m",
}


def assumptions_of(
    asked: Problem, chosen: Chosen, cells: Cells, found: Posterior, kept: float
) -> dict[str, Any]:
    """Return what was assumed before the plate was read, and every setting used.

    Parameters
    ----------
    kept : float
        What the first place keeps when every doubt is doubled.
    """
    return {
        **_skyline_noise(asked),
        "cover_found_m": float(chosen.theta[INDEX["cover"]]),
        "prior": _priors(asked),
        "ln_c_prior": _lens(asked),
        "tilt_prior": _tilt(asked),
        "reversed_prior": [float(np.exp(hand.log_prior)) for hand in asked.hands],
        "trimmed": asked.trimmed,
        "ground": _ground(asked),
        "ridge_lines": _ridge_lines(asked),
        "marks": _marks(asked),
        "camera_free": _camera_free(asked),
        "search": _search(),
        "chance": _chance(),
        "verdict": _verdict(),
        "doubling": {
            "fine_cells": doubled.RESCORED,
            "rivals": doubled.RIVALS,
            "others": doubled.OTHERS,
        },
        **_outcome(asked, cells, found, kept),
        "horizon_radius_m": asked.settings.horizon_radius_m,
        "seed": asked.settings.seed,
    }


def _skyline_noise(asked: Problem) -> dict[str, Any]:
    noise = asked.noise
    return {
        "surface": asked.settings.surface,
        "refraction": asked.terrain.refraction,
        "lens_height_m": asked.maker.lens_height_m,
        "lens_height_sd_m": asked.settings.lens_height.sd_m,
        "cover_mean_m": noise.cover_mean_m,
        "cover_sd_m": noise.cover_sd_m,
        "noise_columns": list(LEVEL),
        "noise_levels": noise.levels.tolist(),
        "noise_level_weights": np.exp(noise.level_log_weight).tolist(),
        "foreground_log_odds": noise.foreground_log_odds,
        "foreground_below": FOREGROUND_BELOW,
        "foreground_stays": FOREGROUND_STAYS,
        "foreground_bend": FOREGROUND_BEND,
        "temper": noise.temper,
        "station_power": noise.station_power,
        "unsure_nats": UNSURE_NATS,
        "unsure_powers": [list(part) for part in SKYLINE_ALONE],
        "skyline_bins": samples.BINS,
        "skyline_bins_used": len(asked.hands[0].samples.table),
        "skyline_least_sd_px": samples.LEAST_SD_PX,
    }


def _priors(asked: Problem) -> dict[str, Any]:
    """Return mean and sd of each unknown's normal prior; the bearing's is flat."""
    mean, sd = asked.prior_mean.copy(), asked.prior_sd.copy()
    mean[CAMERA], sd[CAMERA] = asked.noise.cover_mean_m, asked.noise.cover_sd_m
    return {
        name: {
            "mean": float(mean[index]),
            "sd": float(sd[index]) if np.isfinite(sd[index]) else None,
            "unit": _UNITS.get(name, "1"),
        }
        for index, name in enumerate(UNKNOWNS)
        if name not in ("bearing", "cell_east", "cell_north")
    }


def _lens(asked: Problem) -> dict[str, Any]:
    lens = asked.lens
    return {
        "known": lens.known,
        "mean": lens.mean,
        "sd": lens.sd,
        "weights": list(lens.ln_c.weights),
        "means": list(lens.ln_c.means),
        "sds": list(lens.ln_c.sds),
        "limits": [float(value) for value in lens.limits],
    }


def _tilt(asked: Problem) -> dict[str, Any]:
    """Return the mixture that the normal prior of tilt stands for."""
    tilt = asked.camera.tilt_rad
    return {"weights": list(tilt.weights), "sds_rad": list(tilt.sds)}


def _ground(asked: Problem) -> dict[str, Any]:
    return {
        "refined_above_m": ready_ground.FINE_ENOUGH_M,
        "refined_to_m": ready_ground.REFINE_TO_M,
        "smoothing_m": max(asked.source.cell_m, ready_ground.GROUND_SMOOTHING_M),
        "height_sd_m": profile.GROUND_SD_M,
        "water_sd_m": profile.TIDE_SD_M,
        "sideways_sd_cells": profile.SHIFT_CELLS,
        "raised_by_m": profile.LIFT_M,
        "raised_from_m": profile.LIFT_FROM_M,
        "unknown_beyond_cells": profile.EDGE_CELLS,
        "unknown_tangent": UNKNOWN_TANGENT,
        "unknown_tangent_sd": UNKNOWN_SD,
    }


def _ridge_lines(asked: Problem) -> dict[str, Any]:
    return {
        "lines_scored": len(asked.ridges),
        "height_sd_m": ridge_lines.HEIGHT_SD_M,
        "lateral_sd_m": ridge_lines.LATERAL_M,
        "levels": list(ridge_lines.LEVELS),
        "plate_sd_over_diagonal": ridge_lines.PLATE_SD,
        "tilt_sd_rad": ridge_lines.TILT_SD_RAD,
        "freedom": ridge_lines.FREEDOM,
        "machine_trust": ridge_lines.MACHINE_TRUST,
        "anywhere_tangent": ridge_lines.ANYWHERE,
        "stay": ridge_lines.STAY,
        "take_up": ridge_lines.TAKE_UP,
        "same_log_distance": ridge_lines.SAME,
        "shared_strips": ridge_lines.SHARED_STRIPS,
        "fewest_strips": ridge_samples.FEWEST_STRIPS,
        "most_ridges": ridge_lines.MOST_RIDGES,
        "farther_by": ridge_lines.FARTHER_BY,
        "higher_by_tangent": ridge_lines.HIGHER_BY,
        "within": ridges.WITHIN,
        "cameras_within": ridges.CAMERAS_WITHIN,
        "power": ridges.POWER,
    }


def _marks(asked: Problem) -> dict[str, Any]:
    return {
        "marks_scored": len(asked.marks.plate),
        "at_first_rad": mark_rows.AT_FIRST,
        "less_each_leg": mark_rows.LESS_EACH_LEG,
        "cameras_from_marks": FROM_MARKS,
        "cells_tried_alone": told.CELLS,
        "most_told": verdict.MOST_TOLD,
        "enough_told": verdict.ENOUGH_TOLD,
        "terrain_sd_m": placed.TERRAIN_SD_M,
        "object_m": placed.OBJECT_M,
        "object_sd_m": placed.OBJECT_SD_M,
    }


def _camera_free(asked: Problem) -> dict[str, Any]:
    free = asked.free
    return {
        "items_weighed": 0 if free is None else len(free.items),
        "blunder_span_rad": in_line.BLUNDER_SPAN_RAD,
        "usual_gap": lean.USUAL_GAP,
        "camera": None if free is None else asdict(free.lean),
        "sight": None if free is None else asdict(free.noise),
    }


def _search() -> dict[str, Any]:
    return {
        "first_side_m": search.FIRST_SIDE_M,
        "fewest_first_cells": search.FEWEST_CELLS,
        "smallest_side_m": search.SMALLEST_SIDE_M,
        "ring_share": search.RING_SHARE,
        "keep_within": search.KEEP_WITHIN,
        "keep_at_first": search.KEEP_AT_FIRST,
        "keep_later": search.KEEP_LATER,
        "hopeless": search.HOPELESS,
        "enough_cells": search.ENOUGH_CELLS,
        "enough_side_m": search.ENOUGH_SIDE_M,
        "most_split": list(search.MOST_SPLIT),
        "first_bearings": SCREENED_BEARINGS,
        "cameras_a_station": MODES,
        "cameras_apart_rad": APART_RAD,
        "lens_step": STEP,
        "first_look": list(batch.FIRST_LOOK),
        "close_look": list(batch.CLOSE_LOOK),
        "points": batch.POINTS,
        "negligible": posterior.NEGLIGIBLE,
    }


def _chance() -> dict[str, Any]:
    return {
        "decoys": decoys.DECOYS,
        "candidates": decoys.CANDIDATES,
        "apart_m": decoys.APART_M,
        "stations": decoys.STATIONS,
        "references": decoys.REFERENCES,
        "about": decoys.ABOUT,
        "power": verdict.CHANCE_POWER,
    }


def _verdict() -> dict[str, Any]:
    return {
        "enough": verdict.ENOUGH,
        "enough_doubled": verdict.ENOUGH_DOUBLED,
        "most_elsewhere": verdict.MOST_ELSEWHERE,
        "most_elsewhere_of_several": verdict.MOST_ELSEWHERE_OF_SEVERAL,
        "most_at_edge": verdict.MOST_AT_EDGE,
        "crumb": verdict.CRUMB,
        "prior_elsewhere": verdict.PRIOR_ELSEWHERE,
        "gathered_within_m": verdict.GATHERED_M,
        "gathered_shares": list(verdict.GATHERED_SHARES),
        "gathered_odds": list(verdict.GATHERED_ODDS),
        "ring_density": verdict.RING_DENSITY,
    }


def _outcome(
    asked: Problem, cells: Cells, found: Posterior, kept: float
) -> dict[str, Any]:
    sides = found.cells.side_m[found.mass > posterior.NEGLIGIBLE]
    return {
        "reversed_probability": reversed_share(asked, found),
        "cells_scored": len(cells.east_m),
        "smallest_cell_m": float(sides.min()) if sides.size else 0.0,
        # How much of the answer rests on cells that were not split further.
        "share_by_side_m": {
            f"{side:g}": float(found.mass[found.cells.side_m == side].sum())
            for side in np.unique(found.cells.side_m)
        },
        "search_cell_m": asked.terrain.cell_m,
        "source_cell_m": asked.terrain.source_cell_m,
        "share_when_doubled": kept,
        "ring_share": found.ring,
    }


def reversed_share(asked: Problem, found: Posterior) -> float:
    """Return the probability that the scan is left for right."""
    score = found.cells.log_score
    hands = np.exp(score - np.logaddexp.reduce(score, axis=1, keepdims=True))
    return sum(
        float((hands[:, index] * found.mass).sum())
        for index, hand in enumerate(asked.hands)
        if hand.reversed
    )
