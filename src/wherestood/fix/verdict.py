"""Decide what may be said of a fix."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from wherestood.fix.posterior import Place, Posterior, region
from wherestood.fix.problem import Problem
from wherestood.fix.result import Verdict

__all__ = ["Judgement", "chance_elsewhere", "judge"]

Array = NDArray[np.float64]

#: A place must hold this much to be the answer ...
ENOUGH = 0.90
#: ... this much when everything doubtful is doubled ...
ENOUGH_DOUBLED = 0.70
#: ... with no more than this left for elsewhere and along the edge.
MOST_ELSEWHERE = 0.05
MOST_AT_EDGE = 0.05
#: Several places are an answer only where the match is better than a chance one.
MOST_ELSEWHERE_OF_SEVERAL = 0.15
#: Pieces smaller than this are crumbs.
CRUMB = 0.02
#: Prior probability that the station is not in the ground searched.
PRIOR_ELSEWHERE = 0.10
#: A station inside the ground searched gives the chance p of its match with density
#: a p^(a - 1) between 0 and 1, one elsewhere any p alike. This is a, the likeliest
#: for 20 invented plates tried at their true stations (0.40, standard error 0.09):
#: often a true match is no better than a chance one. See
#: `benchmarks/coverage_of_chance.py`.
CHANCE_POWER = 0.4
#: How many times oftener searches of the right ground gather these shares of the
#: probability within `GATHERED_M` of one place than searches of wrong ground do. Of
#: 58 and 56 searches of invented plates 12 and 5 gathered a half, 5 and none 0.9; by
#: the rule of succession 13/60 to 6/58 and 6/60 to 1/58. See
#: `benchmarks/false_certainty.py`.
GATHERED_M = 125.0
GATHERED_SHARES = (0.25, 0.5, 0.9)
GATHERED_ODDS = (1.0, 2.1, 5.8)
#: Marks never tell more than this of the ground [log]: what was believed of their
#: features may itself be wrong.
MOST_TOLD = 5.0
#: Marks that tell this much [log] stand in for skylines from elsewhere.
ENOUGH_TOLD = 3.0
#: Prior density of the ring over that of the ground searched.
RING_DENSITY = 0.2


@dataclass(frozen=True)
class Judgement:
    """Hold a verdict and its reasons, in plain words."""

    verdict: Verdict
    reasons: tuple[str, ...]


def chance_elsewhere(
    ring: float, chance: float, gathered: float = 0.0, told: float = 0.0
) -> float:
    """Return the probability of "none of these".

    Parameters
    ----------
    ring : float
        Share of the weight that lies in the ring round the ground searched.
    chance : float
        Odds that a skyline from elsewhere would match as well; NaN where that could
        not be tried, which leaves what was believed before.
    gathered : float
        Probability within `GATHERED_M` of one place: ground that the plate was not
        taken on seldom gathers it.
    told : float
        Log odds by which marks tell of this ground rather than of blunders
        (`wherestood.fix.told.marks_log_odds`).

    Notes
    -----
    With e the prior probability of elsewhere, p the chance and g the odds that
    probability so gathered tells of the right ground, Bayes' theorem gives
    ``e / (e + (1 - e) g a p^(a - 1))``: 0 where no skyline from elsewhere matches as
    well, and more than was believed before where nearly all do. The class of
    densities is that of Sellke, Bayarri and Berger 2001, "Calibration of p values
    for testing precise null hypotheses".
    """
    right = (1.0 - PRIOR_ELSEWHERE) * float(
        np.interp(gathered, GATHERED_SHARES, GATHERED_ODDS)
    )
    # Marks that tell nothing are no evidence against the ground.
    right *= math.exp(min(max(told, 0.0), MOST_TOLD))
    outside = RING_DENSITY * ring / (RING_DENSITY * ring + (1.0 - ring) + 1e-12)
    if math.isnan(chance):
        # What could not be tried is not to reassure.
        tell = max(1.0, math.exp(min(max(told, 0.0), MOST_TOLD)))
        by_chance = PRIOR_ELSEWHERE / (PRIOR_ELSEWHERE + (1.0 - PRIOR_ELSEWHERE) * tell)
    else:
        # Times p^(1 - a), that nothing is divided by 0.
        wrong = PRIOR_ELSEWHERE * chance ** (1.0 - CHANCE_POWER)
        by_chance = wrong / (wrong + right * CHANCE_POWER)
    return float(outside + (1.0 - outside) * by_chance)


def judge(
    problem: Problem,
    posterior: Posterior,
    places: list[Place],
    elsewhere: float,
    doubled_share: float,
    chance: float,
    told: float = 0.0,
) -> Judgement:
    """Return the verdict on a fix and why.

    Parameters
    ----------
    doubled_share : float
        Probability left in the first place's circle when cover, tracing error
        and correlation lengths are taken twice as large.
    chance : float
        Odds that a skyline from elsewhere would match as well, NaN where not tried.
    """
    near = problem.settings.near_enough_m
    first = places[0].probability
    reasons = []
    pieces = _pieces(posterior)
    at_edge = _at_edge(problem, posterior)
    if not first >= ENOUGH:
        reasons.append(
            f"{first:.0%} of the probability lies within {near:g} m of one place; "
            f"{ENOUGH:.0%} is needed."
        )
    if not elsewhere <= MOST_ELSEWHERE:
        reasons.append(
            f"The chance that the camera stood outside the ground searched is "
            f"{elsewhere:.0%}; at most {MOST_ELSEWHERE:.0%} is allowed."
        )
    if math.isnan(chance) and told < ENOUGH_TOLD:
        reasons.append(_untried(problem))
    if not posterior.ring <= 0.5:
        what = "skyline" if problem.has_skyline else "evidence"
        reasons.append(
            f"Ground just outside the area explains the {what} better than any inside."
        )
    if not at_edge <= MOST_AT_EDGE:
        reasons.append(
            f"{at_edge:.0%} of the probability lies along the edge of the area."
        )
    if first >= ENOUGH and not doubled_share >= ENOUGH_DOUBLED:
        reasons.append(
            f"With {_doubtful(problem)} taken twice as doubtful only "
            f"{doubled_share:.0%} stays there; {ENOUGH_DOUBLED:.0%} is needed."
        )
    if not reasons:
        return Judgement(
            "located",
            (
                f"{first:.0%} of the probability lies within {near:g} m of one place, "
                f"and {doubled_share:.0%} when everything doubtful is doubled.",
            ),
        )
    real = [share for share in pieces if share >= CRUMB]
    together = sum(place.probability for place in places[:5])
    several = (
        first < ENOUGH
        and 2 <= len(real) <= 8
        and together >= ENOUGH - 0.1
        and elsewhere < MOST_ELSEWHERE_OF_SEVERAL
        and not math.isnan(chance)
        and posterior.ring <= 0.5
    )
    return Judgement("several places" if several else "not determined", tuple(reasons))


def _untried(problem: Problem) -> str:
    """Say why nothing tells this ground from another."""
    if problem.has_skyline:
        return (
            "Whether a skyline from elsewhere would match as well could not be tried: "
            "the elevation model has too little ground outside the area."
        )
    return (
        "Without a skyline only marks could tell this ground from another, and there "
        "are none, too few, or they agree too little."
    )


def _doubtful(problem: Problem) -> str:
    tracing = ", tracing" if problem.has_skyline or problem.ridges else ""
    readings = ", readings" if problem.seen.any or problem.free else ""
    return f"trees{tracing}{readings} and model"


def _pieces(posterior: Posterior) -> list[float]:
    """Return the probability of each separate piece of the 99% region."""
    shape = region(posterior, 0.99)
    side = float(np.median(posterior.cells.side_m[:200]))
    grown = shapely.get_parts(shapely.union_all(shape.buffer(side)))
    tree = shapely.STRtree(list(grown))
    points = shapely.points(posterior.cells.east_m, posterior.cells.north_m)
    found = tree.query(points, predicate="within")
    shares = np.zeros(len(grown))
    np.add.at(shares, found[1], posterior.mass[found[0]])
    return sorted(map(float, shares), reverse=True)


def _at_edge(problem: Problem, posterior: Posterior) -> float:
    shape = problem.area.in_frame(problem.terrain.frame)
    points = shapely.points(posterior.cells.east_m, posterior.cells.north_m)
    away = shapely.distance(shape.boundary, points)
    return float(posterior.mass[away < 2.0 * posterior.cells.side_m].sum())
