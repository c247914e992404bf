"""Number the places of a fix, the likeliest first."""

from __future__ import annotations

from dataclasses import replace

from wherestood.fix.result import Fix

__all__ = ["comparison_name", "drawn_places", "place_words", "seen_from"]

LEAST_DRAWN = 0.05  # probability of a rival that has a comparison of its own


def drawn_places(fix: Fix) -> tuple[int, ...]:
    """Return the numbers of the places that have a comparison: 1, then rivals."""
    rivals = (
        number
        for number, other in enumerate(fix.alternatives, start=2)
        if other.probability > LEAST_DRAWN and other.computed_skyline_px is not None
    )
    return (1, *rivals)


def comparison_name(number: int) -> str:
    """Return the file name of a place's comparison."""
    return "comparison.png" if number == 1 else f"comparison-{number}.png"


def place_words(fix: Fix, number: int) -> str:
    """Say which place a picture is of; nothing where there is only one."""
    if not fix.alternatives:
        return ""
    return f"place {number} of {1 + len(fix.alternatives)}"


def seen_from(fix: Fix, number: int) -> Fix:
    """Return a fix with a place's own station, camera and skyline put first.

    Only for drawing that place: verdict and odds stay those of the whole.

    Raises
    ------
    ValueError
        If there is no such place, or its skyline was not computed.
    """
    if number == 1:
        return fix
    known = range(2, len(fix.alternatives) + 2)
    other = fix.alternatives[number - 2] if number in known else None
    if (
        other is None
        or other.computed_skyline_px is None
        or other.horizon_distance_m is None
    ):
        raise ValueError(f"place {number} has no computed skyline")
    return replace(
        fix,
        station=other.station,
        camera=other.camera,
        computed_skyline_px=other.computed_skyline_px,
        horizon_distance_m=other.horizon_distance_m,
        rms_px=other.rms_px,
        evidence=other.evidence,
        computed_ridges_px=other.computed_ridges_px,
    )
