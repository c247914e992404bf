"""Say what the elevation model lacks in a view."""

from __future__ import annotations

import math

from wherestood.fix.result import Fix
from wherestood.record.doubt import distance_in_words

__all__ = ["beyond_the_edge", "ground_warnings"]

CONSIDERABLE = 0.05  # share of the view's width


def ground_warnings(fix: Fix) -> tuple[str, ...]:
    """Warn where a considerable part of the view has missing ground."""
    seen = fix.ground_in_view
    if seen is None:
        return ()
    whose = "view" if fix.verdict == "located" else "view from the likeliest point"
    lines = []
    if seen.horizon_unknown >= CONSIDERABLE:
        lines.append(
            f"Warning: over {seen.horizon_unknown:.0%} of the {whose} the horizon is "
            "not known: the elevation model ends or has a hole there. That part of "
            "the skyline counted for nothing."
        )
    if seen.hole_before >= CONSIDERABLE:
        lines.append(
            f"Warning: over {seen.hole_before:.0%} of the {whose} the elevation model "
            "has a hole before the horizon. It was taken for low ground; if hills "
            "stand there, the answer is wrong."
        )
    return tuple(lines)


def beyond_the_edge(fix: Fix) -> str:
    """Say what is assumed beyond the model's edge; nothing where it has none."""
    seen = fix.ground_in_view
    if seen is None or not math.isfinite(seen.ends_m):
        return ""
    return (
        f"In this view the elevation model ends {distance_in_words(seen.ends_m)} away "
        "at the nearest; no hill beyond its edge is taken to stand above the skyline."
    )
