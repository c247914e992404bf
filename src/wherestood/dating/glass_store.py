"""Weigh a collection of glass plates, and say how to handle it.

    weight = long x short x thickness x 2.5 g/cm3

SOURCE: soda-lime glass 2.5 g/cm3, from memory. Twenty field plates of the wet-plate
years weighed about 6 kg, and some 6000 studio plates over a tonne: common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from wherestood.errors import InputError

__all__ = [
    "CAUTIONS", "GLASS_G_CM3", "THICKNESS_MM", "GlassLot", "ShelfLoad", "glass_kg",
    "plate_kg", "shelf_load",
]  # fmt: skip

GLASS_G_CM3 = 2.5
#: Thickness by kind [mm], each from memory: wet 1.5 to 4, dry 1 to 1.5.
THICKNESS_MM = {"wet plate": 2.5, "dry plate": 1.3}
#: Paper between plates, boxes: share of the glass's weight, common practice.
PACKING_SHARE = 0.15

CAUTIONS = (
    "A conservator's word goes first; what follows is common practice.",
    "Lift with both hands by opposite edges; never by a corner, never two at a time.",
    "Stand plates upright on their long edge, each in its own four-flap paper, held so "
    "that none leans; lay flat only what is broken or flakes, one deep.",
    "Wear nitrile gloves: glass cuts, and old coats and varnish leave residues. Wash "
    "hands; eat and drink elsewhere.",
    "Broken glass, lifting or flaking coats: lay the pieces apart on card, note which "
    "plate they are of, scan nothing, and call a conservator.",
    "Press nothing onto a scanner's glass, and let no plate bridge an edge.",
    "Film that smells sharp, is sticky, brown or brittle may be cellulose nitrate: "
    "keep it apart, cool and away from any flame, and report it; do not post it.",
    "Heavy boxes low, none above shoulder height; a box of glass is carried by two "
    "from some 15 kg on.",
)


@dataclass(frozen=True)
class GlassLot:
    """Be some plates of one size.

    Attributes
    ----------
    count : int
        How many.
    long_mm, short_mm, thickness_mm : float
        Of each [mm].
    """

    count: int
    long_mm: float
    short_mm: float
    thickness_mm: float


@dataclass(frozen=True)
class ShelfLoad:
    """Say what a shelf carries.

    Attributes
    ----------
    glass_kg, whole_kg : float
        The glass, and with its packing [kg].
    limit_kg : float
        What the shelf may carry [kg], as the user set it.
    """

    glass_kg: float
    whole_kg: float
    limit_kg: float

    @property
    def share(self) -> float:
        """Return the load over the limit."""
        return self.whole_kg / self.limit_kg

    @property
    def words(self) -> str:
        """Return it in words."""
        told = (
            f"{self.whole_kg:.0f} kg with packing ({self.glass_kg:.0f} kg of glass), "
            f"of {self.limit_kg:.0f} kg that the shelf may carry"
        )
        if self.share > 1.0:
            over = self.whole_kg - self.limit_kg
            return f"{told}: {over:.0f} kg too much"
        return f"{told}: {100 * self.share:.0f}% of it"


def plate_kg(long_mm: float, short_mm: float, thickness_mm: float) -> float:
    """Return the weight of one plate [kg].

    Raises
    ------
    InputError
        If a length is not that of a plate.

    Examples
    --------
    >>> round(plate_kg(8.5 * 25.4, 6.5 * 25.4, 2.0), 2)
    0.18
    """
    for what, value, most in (
        ("side", long_mm, 2000.0),
        ("side", short_mm, 2000.0),
        ("thickness", thickness_mm, 12.0),
    ):
        if not 0.5 <= value <= most:
            raise InputError(
                f"A {what} of {value:g} mm is not that of a glass plate.",
                "Check the number and its unit.",
            )
    return long_mm * short_mm * thickness_mm * GLASS_G_CM3 / 1e6


def glass_kg(lots: Sequence[GlassLot]) -> float:
    """Return the weight of some lots of plates, without packing [kg].

    Raises
    ------
    InputError
        If a count is below zero, or a plate has no size.
    """
    for lot in lots:
        if lot.count < 0:
            raise InputError(f"{lot.count} plates cannot be.", "Give a count from 0.")
    return sum(
        lot.count * plate_kg(lot.long_mm, lot.short_mm, lot.thickness_mm)
        for lot in lots
    )


def shelf_load(lots: Sequence[GlassLot], limit_kg: float) -> ShelfLoad:
    """Return what a shelf carries, against a limit.

    Parameters
    ----------
    lots : sequence of GlassLot
        What stands on it.
    limit_kg : float
        What it may carry: the maker's or an engineer's figure, set by the user [kg].

    Raises
    ------
    InputError
        If the limit is not above zero, a count below it, or a plate has no size.
    """
    if not limit_kg > 0.0:
        raise InputError(
            f"A shelf that may carry {limit_kg:g} kg carries nothing.",
            "Give the limit that its maker, or an engineer, states.",
        )
    glass = glass_kg(lots)
    return ShelfLoad(glass, glass * (1.0 + PACKING_SHARE), limit_kg)
