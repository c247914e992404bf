"""Tell a fix for the screens: words, what each item contributes, lines to draw.

All of it can be made again from the fix; it is kept beside the pictures, in ``out``.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wherestood.fix.checked import LeftOut
from wherestood.fix.result import Fix, ProposedTold
from wherestood.record.advice_words import advice_in_words
from wherestood.record.checks_words import left_out_row
from wherestood.record.doubt import odds_in_words
from wherestood.record.inputs import FixInputs
from wherestood.record.plain import rounded
from wherestood.record.proposed_words import proposed_section
from wherestood.record.sureness import (
    CONDITION,
    elsewhere_sentence,
    verdict_in_words,
    within_sentence,
)
from wherestood.record.words import plain_words, position_in_words

__all__ = ["screen_form"]

Array = NDArray[np.float64]
#: Cells that hold less than this of the probability are not drawn.
LEAST_SHARE = 1e-5
MOST_CELLS = 20_000


def screen_form(fix: Fix, inputs: FixInputs) -> dict[str, Any]:
    """Return a fix as the screens show it.

    Parameters
    ----------
    fix, inputs
        What was found, from what.

    Returns
    -------
    dict
        What `wherestood.server.forms.answers.Screen` describes.
    """
    verdict = verdict_in_words(fix)
    runs, distances = _runs(fix.computed_skyline_px, fix.horizon_distance_m)
    proposed = proposed_section(fix, inputs).lines
    return {
        "verdict": f"{verdict[0].upper()}{verdict[1:]}.",
        "position": position_in_words(fix, inputs),
        "odds": within_sentence(fix),
        "elsewhere": elsewhere_sentence(fix),
        "condition": CONDITION,
        "alternatives": [odds_in_words(one.probability) for one in fix.alternatives],
        "contributions": [_contribution(one) for one in _by_weight(fix.left_out)],
        "without_statements": (
            _contribution(fix.checks.without_statements)
            if fix.checks.without_statements
            else None
        ),
        "advice": advice_in_words(fix, inputs),
        "proposed": [
            {
                "name": one.proposed.name,
                "verdict": one.verdict,
                "sentence": sentence,
                **_horizon_of(one),
            }
            for one, sentence in zip(fix.proposed, proposed, strict=True)
        ],
        "sections": [
            {
                "heading": section.heading,
                "lines": list(section.lines),
                "table": [list(row) for row in section.table],
            }
            for section in plain_words(fix, inputs)
        ],
        "skyline": runs,
        "skyline_distance_m": distances,
        "ridges": [
            [round(float(v), 2) for v in ends.ravel()]
            for ends in fix.computed_ridges_px
        ],
        "cells_m": _cells(fix.cells),
    }


def _horizon_of(one: ProposedTold) -> dict[str, Any]:
    """Return the horizon from near a proposed position, where it was computed."""
    place = one.answer
    if place is None or place.computed_skyline_px is None:
        return {"skyline": [], "skyline_distance_m": []}
    assert place.horizon_distance_m is not None
    runs, distances = _runs(place.computed_skyline_px, place.horizon_distance_m)
    return {"skyline": runs, "skyline_distance_m": distances}


def _by_weight(left_out: tuple[LeftOut, ...]) -> list[LeftOut]:
    """Return groups, those without which the answer moves most first."""
    return sorted(left_out, key=lambda one: -_number(one.moved_m))


def _number(value: float) -> float:
    return value if math.isfinite(value) else 0.0


def _contribution(one: LeftOut) -> dict[str, Any]:
    name, moved, expected, ground, meaning = left_out_row(one)
    as_it_may = f", where {expected} is to be expected" if expected else ""
    sentence = (
        f"Without {name} the answer would move {moved}{as_it_may}; the ground that "
        f"holds it 9 times in 10 would be {ground} as large."
    )
    if meaning:
        sentence += f" {meaning[0].upper()}{meaning[1:]}."
    return {
        "name": one.name,
        "ids": list(one.ids),
        "sentence": sentence,
        "means": meaning,
        "moved_m": rounded(one.moved_m, 1),
        "expected_m": rounded(one.expected_m, 1),
        "moved_sds": rounded(one.moved_sds, 2),
        "area_ratio": rounded(one.area_ratio, 3),
        "lon_deg": rounded(one.lon_deg, 7),
        "lat_deg": rounded(one.lat_deg, 7),
    }


def _runs(
    pixels: Array, distance_m: Array
) -> tuple[list[dict[str, list[float]]], list[list[float]]]:
    """Return the computed horizon's pieces, and how far off their points are."""
    known = np.asarray(np.isfinite(pixels).all(axis=1))
    edges = np.flatnonzero(np.diff(known.astype(int))) + 1
    runs, distances = [], []
    for part in np.split(np.arange(known.size), edges):
        if part.size < 2 or not known[part[0]]:
            continue
        runs.append(
            {
                "x_px": [float(v) for v in np.round(pixels[part, 0], 2)],
                "y_px": [float(v) for v in np.round(pixels[part, 1], 2)],
            }
        )
        distances.append([float(v) for v in np.round(distance_m[part], 1)])
    return runs, distances


def _cells(cells: Array) -> list[list[float]]:
    if cells.size == 0:
        return []
    kept = cells[cells[:, 3] >= LEAST_SHARE]
    kept = kept[np.argsort(-kept[:, 3])][:MOST_CELLS]
    return [
        [round(float(e), 1), round(float(n), 1), round(float(s), 1), float(f"{p:.3g}")]
        for e, n, s, p in kept
    ]
