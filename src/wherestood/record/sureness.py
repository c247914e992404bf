"""Say how sure a fix is, a sentence for each measure of it."""

from __future__ import annotations

import math

from wherestood.fix.result import Fix
from wherestood.record.doubt import odds_in_words

__all__ = [
    "CONDITION",
    "GIVE_OR_TAKE",
    "asked",
    "chance_sentence",
    "doubled_sentence",
    "elsewhere_sentence",
    "evidence_words",
    "has_lines",
    "has_skyline",
    "verdict_in_words",
    "within_sentence",
]

#: Kinds of evidence that are traced.
_LINES = ("skyline", "ridge line")
CONDITION = (
    "if the camera stood inside the ground searched, and the hills then were as assumed"
)
GIVE_OR_TAKE = (
    '"Give or take" is one standard error: about 2 times in 3 the truth lies that near.'
)


def has_skyline(fix: Fix) -> bool:
    """Say whether a skyline was part of the evidence."""
    return any(item["kind"] == "skyline" for item in fix.evidence)


def has_lines(fix: Fix) -> bool:
    """Say whether any line traced on the plate was."""
    return any(item["kind"] in _LINES for item in fix.evidence)


def asked(fix: Fix) -> str:
    """Return how near the answer was asked to be, as asked.

    Never rounded: a distance that a person gave is repeated as it was given.
    """
    return f"{fix.near_enough_m:g} m"


def verdict_in_words(fix: Fix) -> str:
    """Return the verdict together with the distance it is about."""
    return {
        "located": f"located to {asked(fix)}",
        "several places": f"several places, not settled to {asked(fix)}",
        "not determined": f"not determined to {asked(fix)}",
    }[fix.verdict]


def within_sentence(fix: Fix) -> str:
    """Say how likely the camera stood as near the first place as was asked."""
    place = "that point" if fix.verdict == "located" else "the likeliest point"
    return (
        f"Within {asked(fix)} of {place}: {odds_in_words(fix.near_enough_share)}, "
        f"{CONDITION}."
    )


def evidence_words(fix: Fix) -> str:
    """Name what the answer was drawn from, as the subject of a sentence."""
    lines = all(item["kind"] in ("skyline", "ridge line") for item in fix.evidence)
    return "This skyline" if has_skyline(fix) and lines else "This evidence"


def elsewhere_sentence(fix: Fix) -> str:
    """Say how likely the camera did not stand in the ground searched at all."""
    return (
        f"Outside the ground searched, or a match by chance: "
        f"{odds_in_words(fix.elsewhere)}."
    )


def chance_sentence(fix: Fix) -> str:
    """Say what the skylines from elsewhere showed; nothing without a skyline."""
    if not has_skyline(fix):
        return ""
    if not math.isfinite(fix.chance):
        return "Whether skylines from other hills match as well could not be tried."
    return (
        f"Of skylines that come from other hills, {_rarely(fix.chance)} would match "
        "somewhere in the ground searched as well as this one does."
    )


def doubled_sentence(fix: Fix) -> str:
    """Say what the first place keeps when every doubt is doubled, if tried."""
    kept = fix.share_when_doubled
    if not math.isfinite(kept):
        return ""
    tracing = ", tracing" if has_lines(fix) else ""
    others = any(item["kind"] not in _LINES for item in fix.evidence)
    readings = ", readings" if others else ""
    return (
        f"With every doubt doubled (trees{tracing}{readings}, elevation model), "
        f"{_percent(kept)} of the probability lies within {asked(fix)} of the "
        f"likeliest point; as assumed, {_percent(fix.near_enough_share)}."
    )


def _percent(share: float) -> str:
    """Return a share in hundredths, never 0 or 100."""
    if share > 0.995:
        return "over 99%"
    return "under 1%" if share < 0.005 else f"{share:.0%}"


def _rarely(chance: float) -> str:
    if 0 < chance < 0.005:
        times = float(f"{1 / chance:.1g}")
        return "less than 1 in a million" if times > 1e6 else f"about 1 in {times:,.0f}"
    return odds_in_words(chance)
