"""Tell how a plate was made: as words, and as a record."""

from __future__ import annotations

from typing import Any

from wherestood.daybook.how_made import Made
from wherestood.record.made_words import (
    exposure_words,
    format_words,
    kind_words,
    lens_words,
    reversal_words,
)
from wherestood.record.page import Section

__all__ = ["made_form", "made_words"]


def made_words(made: Made) -> list[Section]:
    """Return the page of words."""
    sections = []
    if made.sides is not None:
        one = made.sides
        sections.append(
            format_words(one.long_mm, one.short_mm, one.source, one.guesses)
        )
    if made.lens is not None:
        lens = made.lens
        angles = (lens.across_deg, lens.high_deg, lens.diagonal_deg)
        sections.append(
            lens_words(
                lens.principal_distance_mm, lens.sd_mm, lens.source, angles, lens.groups
            )
        )
    if made.blurs:
        told = [(one.key, one.moving, one.exposure) for one in made.blurs]
        sections.append(exposure_words(told))
    if made.kinds is not None:
        sections.append(kind_words(made.kinds, made.clues, made.kinds_by_date))
    sections.append(reversal_words(made.reversal, made.hills_odds, made.readings))
    if made.notes:
        sections.append(Section("What is still open", made.notes))
    return sections


def made_form(made: Made) -> dict[str, Any]:
    """Return the record."""
    sides, lens = made.sides, made.lens
    return {
        "sides": None if sides is None else {
            "long_mm": round(sides.long_mm, 1),
            "short_mm": round(sides.short_mm, 1),
            "sd_mm": round(sides.sd_mm, 1),
            "source": sides.source,
            "sizes": [
                {"name": guess.name, "trimmed": guess.trimmed,
                 "probability": round(guess.probability, 4)}
                for guess in sides.guesses
            ],
        },
        "lens": None if lens is None else {
            "principal_distance_mm": round(lens.principal_distance_mm, 1),
            "sd_mm": round(lens.sd_mm, 1),
            "across_deg": round(lens.across_deg, 1),
            "high_deg": round(lens.high_deg, 1),
            "diagonal_deg": round(lens.diagonal_deg, 1),
            "groups": [
                {"name": group.name, "fit": round(fit, 2)} for group, fit in lens.groups
            ],
        },
        "exposures": [
            {"key": one.key, "moving": one.moving,
             "seconds": round(one.exposure.seconds, 3),
             "low_s": round(one.exposure.low_s, 3),
             "high_s": round(one.exposure.high_s, 3)}
            for one in made.blurs
        ],
        "kinds": made.kinds and {k: round(v, 4) for k, v in made.kinds.items()},
        "kinds_by_date": made.kinds_by_date
        and {k: round(v, 4) for k, v in made.kinds_by_date.items()},
        "clues": list(made.clues),
        "reversal": {
            "verdict": made.reversal.verdict,
            "by_process": round(made.reversal.by_process, 4),
            "by_all": round(made.reversal.by_all, 6),
            "hills_odds": float(f"{made.hills_odds:.4g}"),
            "readings": list(made.readings),
        },
        "notes": list(made.notes),
    }  # fmt: skip
