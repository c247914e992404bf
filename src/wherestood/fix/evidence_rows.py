"""Write down what became of each item of evidence at one camera, row by row."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.items import RidgeLine
from wherestood.fix.answers import Chosen
from wherestood.fix.problem import Problem, sampled_ridges
from wherestood.fix.ridges import ridge_log_odds
from wherestood.fix.told import items_told

__all__ = ["evidence_rows", "rms_px"]

Array = NDArray[np.float64]

#: What cannot be otherwise has infinite log odds, which no record can hold: this.
SURE_LOG_ODDS = 1e6


def evidence_rows(
    problem: Problem, chosen: Chosen, ridges: Sequence[RidgeLine], misfit: Array
) -> tuple[dict[str, Any], ...]:
    """Return what became of every item of evidence, for the record."""
    return (
        *_skyline_said(problem, chosen, misfit),
        *_ridges_said(problem, chosen, ridges),
        *_items_said(problem, chosen),
    )


def _skyline_said(
    problem: Problem, chosen: Chosen, misfit: Array
) -> tuple[dict[str, Any], ...]:
    """Return how the skyline agrees, for the record."""
    if not problem.has_skyline:
        return ()
    return (
        {
            "id": "skyline",
            "kind": "skyline",
            "residual": rms_px(misfit),
            "pull": _pull(problem, chosen, misfit),
        },
    )


def _items_said(problem: Problem, chosen: Chosen) -> tuple[dict[str, Any], ...]:
    """Return what became of marks and camera-free items, for the record."""
    said = []
    for item in items_told(problem, chosen):
        row: dict[str, Any] = {
            "id": item.id,
            "kind": item.kind,
            "blunder_log_odds": float(
                np.clip(item.blunder_log_odds, -SURE_LOG_ODDS, SURE_LOG_ODDS)
            ),
        }
        if item.residual_px is not None:
            row["residual"] = float(np.hypot(*item.residual_px))
            row["residual_px"] = [float(value) for value in item.residual_px]
        if item.feature:
            row["feature"] = item.feature
        for name in ("log_likelihood", "residual_deg", "residual_m", "distance_m"):
            if getattr(item, name) is not None:
                row[name] = getattr(item, name)
        said.append(row)
    return tuple(said)


def _ridges_said(
    problem: Problem, chosen: Chosen, ridges: Sequence[RidgeLine]
) -> tuple[dict[str, Any], ...]:
    """Return what became of each ridge line, for the record."""
    odds = ridge_log_odds(problem, chosen)
    scored = {ridge.id: odds[i] for i, (ridge, _) in enumerate(sampled_ridges(ridges))}
    return tuple(
        {
            "id": ridge.id,
            "kind": ridge.kind,
            "trust": ridge.trust,
            "log_odds": float(scored[ridge.id]) if ridge.id in scored else None,
        }
        for ridge in ridges
    )


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


def rms_px(misfit: Array) -> float:
    """Return the typical misfit of a skyline [px]; NaN where none is known."""
    known = misfit[np.isfinite(misfit)]
    return float(np.sqrt(np.mean(known**2))) if known.size else math.nan
