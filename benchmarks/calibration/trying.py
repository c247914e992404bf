"""Try one invented plate of each part of the study, and say what came of it."""

from __future__ import annotations

import math
import time
from dataclasses import asdict, replace

import numpy as np

from calibration.added import added_items, evidence_of, view_of
from calibration.bound import information_bound
from calibration.inventing import Invented, relief_deg
from calibration.plan import Part, Plan
from calibration.searching import against_truth, search_ground, verdict_on
from false_certainty import middle_of
from study_plates import PX_PER_MM, searched, square_about
from wherestood.fix.assumptions import reversed_share
from wherestood.fix.settings import LocateSettings

Row = dict[str, object]

#: Plates bounded within this are expected to be located [m] ...
SPAN_M = 100.0
#: ... if a skyline from elsewhere matches as well less often than this.
CHANCE = 0.01
#: A lens known to this much of its length.
LENS_SHARE = 0.01


def tried(plan: Plan, part: Part, number: int, index: int, invented: Invented) -> Row:
    """Search the ground for a plate and set what comes out against the truth."""
    rng = np.random.default_rng((part.seed, number, index, 1))
    began = time.process_time()
    row = _about(invented) | _TRY[part.name](plan, invented, rng)
    return row | {"seconds": time.process_time() - began}


def _about(invented: Invented) -> Row:
    case = invented.case
    return {
        "ground": "invented" if "invented" in invented.world.ground.name else "real",
        "horizon_m": float(np.nanmedian(case.distance_m)),
        "relief_deg": relief_deg(case),
    }


def _settings(plan: Plan, invented: Invented) -> LocateSettings:
    return LocateSettings(
        surface=invented.case.model.surface,
        reversed=False,
        near_enough_m=plan.near_enough_m,
    )


def _own_noise(plan: Plan, invented: Invented, rng: np.random.Generator) -> Row:
    assert invented.level is not None
    case = invented.case
    area = searched(case, rng, plan.ground_km2)
    found = search_ground(case, area, _settings(plan, invented))
    bound = information_bound(found.problem, case, invented.level)
    row = {f"bound_{name}": value for name, value in asdict(bound).items()}
    return (
        against_truth(found, case.station_m)
        | row
        | {"level": invented.level}
        | verdict_on(found, chance_wanted=bound.span_m <= SPAN_M)
    )


def _more_noise(plan: Plan, invented: Invented, rng: np.random.Generator) -> Row:
    case = invented.case
    area = searched(case, rng, plan.ground_km2)
    found = search_ground(case, area, _settings(plan, invented))
    return against_truth(found, case.station_m) | verdict_on(found)


def _wrong_ground(plan: Plan, invented: Invented, rng: np.random.Generator) -> Row:
    case = invented.case
    middle = middle_of(case, rng, False, plan.ground_km2)
    area = square_about(case.terrain(), middle, plan.ground_km2)
    found = search_ground(case, area, _settings(plan, invented))
    return {"gathered": found.places[0].probability} | verdict_on(found)


def _reversed(plan: Plan, invented: Invented, rng: np.random.Generator) -> Row:
    case = invented.case
    settings = replace(
        _settings(plan, invented), reversed=None, process=invented.process
    )
    found = search_ground(case, searched(case, rng, plan.ground_km2), settings)
    return (
        against_truth(found, case.station_m)
        | verdict_on(found)
        | {
            "process": invented.process,
            "reversed": case.camera.reversed,
            "said_reversed": reversed_share(found.problem, found.posterior),
        }
    )


def _added(plan: Plan, invented: Invented, rng: np.random.Generator) -> Row:
    """Search by the skyline alone, then with each kind of evidence beside it."""
    case = invented.case
    area = searched(case, rng, plan.ground_km2)
    settings = _settings(plan, invented)
    kinds: Row = {}

    def keep(name: str, found: object) -> None:
        kinds[name] = against_truth(found, case.station_m)  # type: ignore[arg-type]

    keep("alone", search_ground(case, area, settings))
    mm = case.camera.c_px / PX_PER_MM
    known = replace(
        settings,
        principal_distance_mm=mm * math.exp(rng.normal(0.0, LENS_SHARE)),
        principal_distance_sd_mm=LENS_SHARE * mm,
    )
    keep("the lens known to 1%", search_ground(case, area, known))
    for name, items in added_items(view_of(invented.world, case, rng)):
        keep(name, search_ground(case, area, settings, evidence_of(items)))
    return {"kinds": kinds}


_TRY = {
    "own_noise": _own_noise,
    "more_noise": _more_noise,
    "added_evidence": _added,
    "wrong_ground": _wrong_ground,
    "flat_skyline": _more_noise,
    "reversed_plates": _reversed,
}
