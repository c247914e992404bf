"""Search the ground for one plate and set the answer against the truth."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from study_plates import PX_PER_MM, scan_of
from wherestood.demo.invented import InventedCase
from wherestood.evidence.items import Evidence
from wherestood.fix.answers import answer_for
from wherestood.fix.area import Area
from wherestood.fix.decoys import chance_of_match
from wherestood.fix.doubled import share_when_doubled
from wherestood.fix.kept_ground import shift_reach_m, unsure_powers
from wherestood.fix.picture import computed_skyline, misfit_px
from wherestood.fix.posterior import Place, Posterior, find_places, posterior_of
from wherestood.fix.problem import Problem, set_up
from wherestood.fix.ridges import weigh_ridges
from wherestood.fix.search import search
from wherestood.fix.settings import LocateSettings
from wherestood.fix.verdict import ENOUGH, GATHERED_M, chance_elsewhere, judge
from wherestood.progress import SILENT

LEVELS = (0.5, 0.9, 0.99)
#: A place this near the truth is the right one [m].
RIGHT_M = 200.0
_MOST_PLACES = 6


@dataclass(frozen=True)
class Searched:
    """Hold a search's answer.

    Attributes
    ----------
    problem : Problem
    posterior : Posterior
    places : list of Place
        Likeliest first.
    """

    problem: Problem
    posterior: Posterior
    places: list[Place]


def search_ground(
    case: InventedCase,
    area: Area,
    settings: LocateSettings,
    evidence: Evidence | None = None,
) -> Searched:
    """Search an area for a plate by its skyline, and what else is known of it."""
    known = settings.principal_distance_mm is not None
    scan = scan_of(case, PX_PER_MM if known else None)
    problem = set_up(scan, case.terrain(), case.skyline(), area, settings, evidence)
    cells = weigh_ridges(problem, search(problem, SILENT))
    posterior = posterior_of(cells, shift_reach_m(problem), unsure_powers(problem))
    places = find_places(posterior, settings.near_enough_m, _MOST_PLACES)
    return Searched(problem, posterior, places)


def against_truth(found: Searched, station_m: np.ndarray) -> dict[str, object]:
    """Return how a search's regions and places stand to the true station.

    ``denser`` is the probability of all ground that is likelier per area than the true
    cell: a region of p holds the truth if that is less than p. ``before_ha`` is that
    ground's area: what somebody would walk who begins where it is likeliest.
    """
    cells, mass = found.posterior.cells, found.posterior.mass
    running = np.cumsum(mass)
    area_ha = cells.side_m**2 / 1e4
    half = cells.side_m / 2.0 + 1e-6
    here = np.flatnonzero(
        (np.abs(cells.east_m - station_m[0]) <= half)
        & (np.abs(cells.north_m - station_m[1]) <= half)
    )
    at = int(here[0]) if here.size else len(mass)
    denser = float(running[at - 1]) if at > 0 else 0.0
    off_m = [math.dist((p.east_m, p.north_m), station_m[:2]) for p in found.places]
    near = [number for number, m in enumerate(off_m, start=1) if m <= RIGHT_M]
    row: dict[str, object] = {
        "denser": denser if here.size else 1.0,
        "before_ha": float(area_ha[:at].sum()),
        "searched_ha": float(area_ha.sum()),
    }
    for level in LEVELS:
        count = int(np.searchsorted(running, level * running[-1])) + 1
        row[f"area_{round(100 * level)}_ha"] = float(area_ha[:count].sum())
    return row | {
        "gathered": found.places[0].probability,
        "off_m": off_m[0],
        "rank": near[0] if near else 0,
    }


def verdict_on(found: Searched, *, chance_wanted: bool = False) -> dict[str, object]:
    """Return whether an answer is `located`, as `wherestood.fix.locate` finds it.

    Where too little gathers in one place for that, nothing more is asked, unless the
    chance of a match by accident is wanted all the same.
    """
    enough = found.places[0].probability >= ENOUGH
    row: dict[str, object] = {"located": False, "chance": None, "doubled": None}
    if not (enough or chance_wanted):
        return row
    problem, posterior, place = found.problem, found.posterior, found.places[0]
    answer = answer_for(problem, posterior, place)
    misfit = misfit_px(problem, computed_skyline(problem, answer)[0])
    doubled = math.nan
    if enough:
        doubled = share_when_doubled(problem, posterior, place, SILENT)
        row["doubled"] = doubled
    rng = np.random.default_rng(problem.settings.seed)
    chance = chance_of_match(problem, answer, misfit, rng, SILENT)
    row["chance"] = None if math.isnan(chance) else chance
    if enough:
        gathered = find_places(posterior, GATHERED_M, 1)[0].probability
        elsewhere = chance_elsewhere(posterior.ring, chance, gathered)
        verdict = judge(problem, posterior, found.places, elsewhere, doubled, chance)
        row["located"] = verdict.verdict == "located"
    return row
