"""Say in plain words how a plate was made."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from wherestood.dating.exposure import Exposure
from wherestood.dating.lens_group import LensGroup
from wherestood.dating.plate_format import FormatGuess
from wherestood.dating.reversal import Reversal
from wherestood.record.doubt import give_or_take, odds_in_words
from wherestood.record.page import Section

__all__ = [
    "exposure_words", "format_words", "kind_words", "lens_words", "reversal_words",
]  # fmt: skip

#: Sizes less probable than this are not listed.
LEAST_LISTED = 0.02
GOOD_FIT = 0.999
DRAW_ODDS = 1.05


def format_words(
    long_mm: float, short_mm: float, source: str, guesses: Sequence[FormatGuess]
) -> Section:
    """Return the sizes a plate may have, the likeliest first."""
    rows = [("size", "cut down", "odds")]
    for guess in guesses:
        if guess.probability < LEAST_LISTED:
            break
        size = guess.format
        sides = "" if size is None else f", {size.long_mm:.0f} x {size.short_mm:.0f} mm"
        cut = "" if size is None else "yes" if guess.trimmed else "no"
        rows.append((f"{guess.name}{sides}", cut, odds_in_words(guess.probability)))
    line = f"Sides of {long_mm:.0f} x {short_mm:.0f} mm, {source}."
    return Section("Size", (line,), tuple(rows))


def lens_words(
    distance_mm: float,
    sd_mm: float,
    source: str,
    angles_deg: tuple[float, float, float],
    groups: Sequence[tuple[LensGroup, float]],
) -> Section:
    """Return lens to plate, what it covers, and the groups a lens may be of."""
    across, high, diagonal = angles_deg
    lines = [
        f"Lens to plate {give_or_take(distance_mm, sd_mm, ' mm')}, {source}.",
        f"The whole plate sees {across:.0f} deg across, {high:.0f} deg high and "
        f"{diagonal:.0f} deg from corner to corner.",
    ]
    if not groups:
        lines.append("No group of lenses of that time covers such an angle.")
    for group, fit in groups:
        how = "covers it" if fit >= GOOD_FIT else "at the end of what it covers"
        name = f"{group.name[:1].upper()}{group.name[1:]}"
        lines.append(f"{name}: {how} ({group.source}).")
    return Section("Lens", tuple(lines))


def exposure_words(blurs: Sequence[tuple[str, str, Exposure]]) -> Section:
    """Return how long the plate was exposed, by each blur: key, what moved, time."""
    lines = []
    for key, moving, exposure in blurs:
        lines.append(f"{key}, {moving}: {exposure.words}; {exposure.process_words}.")
    return Section("Exposure", tuple(lines))


def kind_words(
    kinds: Mapping[str, float],
    clues: Sequence[str],
    by_date: Mapping[str, float] | None = None,
) -> Section:
    """Return whether it is a wet plate, a dry plate or film."""
    dated = [] if by_date is None else [f"By its date alone: {_in_order(by_date)}."]
    lines = (
        f"By {', '.join([*clues, *(['its date'] if dated else [])])}: "
        f"{_in_order(kinds)}.",
        *dated,
        "Which clue belongs to which kind is seen in manuals; how often, from memory.",
    )
    return Section("Wet plate, dry plate or film", lines)


def _in_order(kinds: Mapping[str, float]) -> str:
    ordered = sorted(kinds.items(), key=lambda each: -each[1])
    return "; ".join(f"{kind}: {odds_in_words(share)}" for kind, share in ordered)


def reversal_words(
    found: Reversal, hills_odds: float, readings: Sequence[str]
) -> Section:
    """Return whether the scan is left for right, and by what."""
    verdict = {
        "right way round": "The scan is the right way round",
        "reversed": "The scan is left for right",
        "not decided": "It is not decided whether the scan is left for right",
    }[found.verdict]
    lines = [f"{verdict}: {odds_in_words(found.by_all)} that it is left for right."]
    by_process = odds_in_words(found.by_process)
    lines.append(f"By what was scanned alone: {by_process} (common practice).")
    if hills_odds > DRAW_ODDS:
        lines.append(f"Mirrored, the skyline fits {_times(hills_odds)} better.")
    elif hills_odds < 1.0 / DRAW_ODDS:
        lines.append(f"As it is, the skyline fits {_times(1.0 / hills_odds)} better.")
    else:
        lines.append("The hills say nothing on it, or the fix tried one way alone.")
    if readings:
        lines.append(f"In the picture: {', '.join(readings)}.")
    return Section("Left and right", tuple(lines))


def _times(odds: float) -> str:
    return "over 1000 times" if odds > 1000.0 else f"{odds:.3g} times"
