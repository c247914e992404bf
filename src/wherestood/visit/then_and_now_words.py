"""Say in words where a photograph was made against a plate's station."""

from __future__ import annotations

import math

import numpy as np

from wherestood.record.doubt import give_or_take, way_in_words
from wherestood.visit.then_and_now import ThenAndNow

__all__ = ["offset_sentences", "told_sentences"]

#: A part of the offset less sure than this is not told [m].
_MOST_SD_M = 3.0
_SIDES = (
    ("too far left", "too far right"), ("too far back", "too far forward"),
    ("too low", "too high"),
)  # fmt: skip
_PARTS = ("to the side", "forward and back", "up and down")


def offset_sentences(told: ThenAndNow) -> list[str]:
    """Return where the photographer stood, part by part, and the way to the spot."""
    if not told.agrees:
        return [
            "Much of what looks alike on both pictures does not agree on one place, so "
            "that where you stood is not told. Mark things on both by hand, near and "
            "far."
        ]
    if not told.told:
        return [
            "Too few near things agree on both pictures to tell where you stood: the "
            "hills alone do not. Mark things within some 40 m on both, by hand."
        ]
    sd = np.sqrt(np.diag(told.covariance_m2))
    off, right_in, unknown = [], [], []
    for value, own, sides, part in zip(told.offset_m, sd, _SIDES, _PARTS, strict=True):
        if own > _MOST_SD_M:
            unknown.append(part)
        elif abs(value) < own:
            right_in.append(f"{own:.1g} m {part}")
        else:
            said = give_or_take(abs(float(value)), float(own), " m")
            length, _, doubt = said.partition(", give or take ")
            off.append(f"{length} {sides[int(value > 0.0)]} (give or take {doubt} m)")
    sentences = []
    if off:
        sentences.append(f"You stood {_listed(off)}.")
    if right_in:
        begin = "Otherwise you stood" if off else "You stood"
        sentences.append(f"{begin} on the spot, within {_listed(right_in)}.")
    if unknown:
        sentences.append(f"How far {_listed(unknown)} cannot be told.")
    right, forward = -told.offset_m[:2]
    s, c = math.sin(told.sight_rad), math.cos(told.sight_rad)
    east, north = right * c + forward * s, forward * c - right * s
    away = math.hypot(east, north)
    if away > float(np.hypot(*sd[:2])) and not unknown:
        sentences.append(
            f"The plate's camera stood {away:.1f} m {way_in_words(east, north)} of you."
        )
    return sentences


def _listed(parts: list[str]) -> str:
    return " and ".join((", ".join(parts[:-1]), parts[-1])) if parts[1:] else parts[0]


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
    if told.plate_mirrored:
        found.append(
            "The scan is left for right by its fix: both pictures are shown the right "
            "way round."
        )
    if told.laying.flat:
        found.append("Both stations agree: one flat map lays it over the plate.")
    return found
