"""Rank the sizes that the trade sold against a plate's measured sides.

Each size, trimmed or not, and *no trade size*, is as probable as what was measured is
by it: a plate as it was cut lies about its size, hand-cut glass by several millimetres;
a trimmed one lost up to a share of each side, evenly.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.special import ndtr

from wherestood.errors import PlateError
from wherestood.plate.formats import PlateFormat, plate_formats

__all__ = ["FormatGuess", "rank_formats"]

#: How much hand-cut and factory-cut glass varies, each side [mm]: the first seen
#: ("several millimetres"), the second common practice.
HAND_CUT_SD_MM, FACTORY_SD_MM = 3.0, 0.7
#: A trim takes up to this share of a side: common practice.
MOST_TRIMMED = 0.25
NO_TRADE_SIZE = 0.05  # of all plates, before measuring
SIDES_MM = (25.0, 700.0)


@dataclass(frozen=True)
class FormatGuess:
    """Be a size that a plate may have.

    Attributes
    ----------
    name : str
        The size's, or ``"no trade size"``.
    format : PlateFormat or None
        The size.
    trimmed : bool
        Whether the plate was cut down from it.
    probability : float
        How probable, of all considered.
    """

    name: str
    format: PlateFormat | None
    trimmed: bool
    probability: float


def rank_formats(
    long_mm: float,
    short_mm: float,
    *,
    sd_mm: float = 1.0,
    hand_cut: bool = True,
    trimmed: bool | None = None,
) -> tuple[FormatGuess, ...]:
    """Rank the trade's sizes by a plate's measured sides.

    Parameters
    ----------
    long_mm, short_mm : float
        The sides, either first [mm].
    sd_mm : float
        Standard error of the measuring [mm].
    hand_cut : bool
        Whether the glass was cut by hand, as wet plates' was.
    trimmed : bool, optional
        Whether it is known to be trimmed, or known not to be; else one in five is
        (common practice).

    Returns
    -------
    tuple of FormatGuess
        The likeliest first, those below 1 in 1000 left out.

    Raises
    ------
    PlateError
        If a side is no length of a plate.
    """
    long_mm, short_mm = max(long_mm, short_mm), min(long_mm, short_mm)
    for side in (long_mm, short_mm):
        if not SIDES_MM[0] <= side <= SIDES_MM[1]:
            raise PlateError(
                f"A side of {side:g} mm was measured; plates have sides of "
                f"{SIDES_MM[0]:g} to {SIDES_MM[1]:g} mm.",
                "Check the measure and its unit.",
            )
    sd = math.hypot(sd_mm, HAND_CUT_SD_MM if hand_cut else FACTORY_SD_MM)
    share = 0.2 if trimmed is None else float(trimmed)
    sizes = plate_formats()
    each = (1.0 - NO_TRADE_SIZE) / len(sizes)
    weights: list[tuple[PlateFormat | None, bool, float]] = []
    for size in sizes:
        sides = ((long_mm, size.long_mm), (short_mm, size.short_mm))
        whole = math.prod(_whole(side, made, sd) for side, made in sides)
        cut = math.prod(_cut(side, made, sd) for side, made in sides)
        weights.append((size, False, each * (1.0 - share) * whole))
        weights.append((size, True, each * share * cut))
    any_side = math.log(SIDES_MM[1] / SIDES_MM[0])
    anything = 1.0 / (any_side * long_mm) / (any_side * short_mm)
    weights.append((None, False, NO_TRADE_SIZE * anything))
    total = sum(weight for *_, weight in weights)
    guesses = [
        FormatGuess(
            "no trade size" if size is None else size.name, size, cut, weight / total
        )
        for size, cut, weight in weights
    ]
    likely = [guess for guess in guesses if guess.probability >= 1e-3]
    return tuple(sorted(likely, key=lambda guess: -guess.probability))


def _whole(side_mm: float, made_mm: float, sd_mm: float) -> float:
    off = (side_mm - made_mm) / sd_mm
    return math.exp(-0.5 * off**2) / (sd_mm * math.sqrt(2.0 * math.pi))


def _cut(side_mm: float, made_mm: float, sd_mm: float) -> float:
    """Return the density of a side that lost an even share up to the most."""
    least = made_mm * (1.0 - MOST_TRIMMED)
    inside = ndtr((made_mm - side_mm) / sd_mm) - ndtr((least - side_mm) / sd_mm)
    return float(inside) / (made_mm - least)
