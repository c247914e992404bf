"""Say in plain words what was measured on a plate, and what it is worth for mapping."""

from __future__ import annotations

import math

from wherestood.ground.sizes import Measured, PixelOnGround
from wherestood.ground.worth import MappingWorth
from wherestood.record.doubt import distance_in_words, give_or_take

__all__ = ["measured_words", "pixel_words", "worth_sentences"]


def measured_words(what: str, found: Measured) -> str:
    """Return a length with its doubt, or why it cannot be told."""
    if found.why_not:
        return f"{what}: cannot be told, since {found.why_not}."
    return (
        f"{what}: {give_or_take(found.value_m, found.sd_m, ' m')}; 9 times in 10 "
        f"between {found.least_m:.3g} and {found.most_m:.3g} m. "
        f"{distance_in_words(found.distance_m)} off."
    )


def pixel_words(found: PixelOnGround) -> str:
    """Return how much a pixel covers, and the smallest thing that shows there."""
    if found.why_not:
        return f"The size of a pixel there cannot be told, since {found.why_not}."
    return (
        f"One pixel there is {_length(found.across_m)} across and "
        f"{_length(found.upright_m)} up a thing that faces the camera, "
        f"{_length(found.along_m)} along the ground. The smallest upright thing the "
        f"scan can show is {_length(found.smallest_m)}, two pixels."
    )


def _length(metres: float) -> str:
    if metres < 1.0:
        return f"{100.0 * metres:.2g} cm"
    return f"{metres:.2g} m"


def worth_sentences(found: MappingWorth) -> list[str]:
    """Return what of a plate can be carried to the map."""
    said = {
        "good": "The plate is well worth mapping from.",
        "in part": "The plate is worth mapping from in part.",
        "poor": "The plate is hardly worth mapping from.",
    }[found.grade]
    sentences = [
        said,
        f"{_share(found.land)} of the frame is not sky. Of that {_share(found.placed)} "
        f"can be placed on the ground, {_share(found.steep)} at over 10 degrees; "
        f"{_share(found.grazing)} is met too flatly to be placed.",
    ]
    if math.isfinite(found.doubt_m):
        sentences.append(
            f"What can be placed lies {distance_in_words(found.nearest_m)} to "
            f"{distance_in_words(found.farthest_m)} off, is met at "
            f"{found.angle_deg:.0f} degrees in the middle, and is sure to "
            f"{distance_in_words(found.doubt_m)}, 9 times in 10."
        )
    return sentences


def _share(part: float) -> str:
    return f"{100.0 * part:.0f}%"
