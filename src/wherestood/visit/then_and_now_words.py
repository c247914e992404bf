"""Say in words where a photograph was made against a plate's station."""

from __future__ import annotations

import math

import numpy as np

from wherestood.record.doubt import give_or_take, way_in_words
from wherestood.visit.then_and_now import ThenAndNow

__all__ = ["offset_sentences", "told_sentences"]

#: A part of the offset less sure than this is not told [m].
_MOST_SD_M = 3.0
_SIDES = (("left", "right"), ("back", "forward"), ("low", "high"))
_PARTS = ("to the side", "forward or back", "up or down")


def offset_sentences(told: ThenAndNow) -> list[str]:
    """Return where the photographer stood, part by part, and the way to the spot."""
    if not told.told:
        return [
            "Too few near things agree on both pictures to tell where you stood: the "
            "hills alone do not. Mark things within some 40 m on both, by hand."
        ]
    sd = np.sqrt(np.diag(told.covariance_m2))
    parts, unknown = [], []
    for value, own, sides, part in zip(told.offset_m, sd, _SIDES, _PARTS, strict=True):
        if own > _MOST_SD_M:
            unknown.append(part)
        elif abs(value) < own:
            parts.append(f"right {part} as far as can be told, to {own:.1g} m")
        else:
            too = sides[int(value > 0.0)]
            words = give_or_take(abs(float(value)), float(own), " m")
            parts.append(f"{words}, too far {too}" if part != _PARTS[2]
                         else f"{words}, too {too}")  # fmt: skip
    sentences = ["You stood " + "; ".join(parts) + "."] if parts else []
    if unknown:
        sentences.append(f"How far {' and '.join(unknown)} cannot be told.")
    right, forward = -told.offset_m[:2]
    s, c = math.sin(told.sight_rad), math.cos(told.sight_rad)
    east, north = right * c + forward * s, forward * c - right * s
    away = math.hypot(east, north)
    if away > float(np.hypot(*sd[:2])) and not unknown:
        sentences.append(
            f"The plate's camera stood {away:.1f} m {way_in_words(east, north)} of you."
        )
    return sentences


def told_sentences(told: ThenAndNow) -> list[str]:
    """Return how the pictures were compared."""
    found = [
        f"{len(told.pairs)} things agree on both pictures, {told.near} of them nearer "
        f"than 60 m; {told.left_out} that look alike do not: they changed, or were "
        "never one thing."
    ]
    if told.by_hand:
        found.append(f"{told.by_hand} marked by hand agree.")
    if math.isfinite(told.laying.left_px):
        found.append(
            "Where things were found on both, the photograph lies on the plate to "
            f"{told.laying.left_px:.1f} px in the middle case, each left out of its "
            "own correction. Between them, and on near ground where nothing was "
            "found, it may be farther off."
        )
    if told.laying.flat:
        found.append("Both stations agree: one flat map lays it over the plate.")
    return found
