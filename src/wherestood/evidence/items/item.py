"""Hold what every item of evidence carries, and refuse what cannot be one."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar

from wherestood.errors import EvidenceError

__all__ = [
    "SIGHTED_TRUST",
    "USUAL_TRUST",
    "Item",
    "refuse_share",
    "require_above_zero",
    "require_number",
    "require_word",
]

#: How often an item is what it says: one reading in twenty is a blunder (the wrong
#: chimney, a slip of the pen). Common practice.
USUAL_TRUST = 0.95
#: ... and one read with sight of what the terrain says it should be, at most. Common
#: practice: what is looked for is found.
SIGHTED_TRUST = 0.8


@dataclass(frozen=True, kw_only=True)
class Item:
    """Carry what every item of evidence has.

    Attributes
    ----------
    id : str
        Name by which other items, messages and answers call it; made of its kind
        and what it speaks of where left out.
    trust : float
        Probability that it is what it says, above 0 and at most 1; the rest is
        the probability of a blunder, which must not move the fix.
    group : str
        Items that stand or fall together, and are left out together.
    derived_from : tuple of str
        Ids of the items it was taken from (a caption copied from another, a mark
        and an order read at the same pixels): what it repeats counts once.
    traced_blind : bool
        Whether it was read without sight of what the terrain says it should be.
    source : str
        Who says so, or where it is written.
    note : str
        Anything else a reader should know.
    plate : str
        Of several plates in one file, the one that it was read from.

    Raises
    ------
    EvidenceError
        If a value cannot be; the error names kind, item and field.
    """

    kind: ClassVar[str] = "item"

    id: str = ""
    trust: float = USUAL_TRUST
    group: str = ""
    derived_from: tuple[str, ...] = ()
    traced_blind: bool = True
    source: str = ""
    note: str = ""
    plate: str = ""

    def __post_init__(self) -> None:
        """Give it a name, and refuse what cannot be."""
        if not self.id:
            self._set("id", f"{self.kind}: {self.usual_name()}")
        self._set("derived_from", tuple(self.derived_from))
        refuse_share(self, "trust", self.trust)

    def speaks_of(self) -> tuple[str, ...]:
        """Return the ids of the features and marks it refers to."""
        return ()

    def usual_name(self) -> str:
        """Return what tells it from others of its kind."""
        return ", ".join(self.speaks_of())

    @property
    def credence(self) -> float:
        """Return the trust, no more than an item read with sight of the answer has.

        Who sees where a thing should show finds it there, or something like it.
        """
        return self.trust if self.traced_blind else min(self.trust, SIGHTED_TRUST)

    def _set(self, field: str, value: object) -> None:
        """Put a value in its usual form while the item is being made."""
        object.__setattr__(self, field, value)

    def refusal(self, field: str, problem: str, remedy: str) -> EvidenceError:
        """Return the error that names this item.

        Parameters
        ----------
        field : str
            The value at fault.
        problem : str
            What is wrong, to follow "The mark 'A': ".
        remedy : str
            What to do.
        """
        return EvidenceError(
            f"The {self.kind} {self.id!r}: {problem}.",
            remedy,
            kind=self.kind,
            item=self.id,
            field=field,
        )


def require_number(
    item: Item, field: str, value: float, low: float, high: float, unit: str = ""
) -> None:
    """Refuse a number outside its limits, or not a number."""
    if not (math.isfinite(value) and low <= value <= high):
        end = f" {unit}".rstrip()
        raise item.refusal(
            field,
            f"{field} is {value:g}{end}; it must be from {low:g} to {high:g}{end}",
            "Give a number within these limits.",
        )


def require_above_zero(item: Item, field: str, value: float, unit: str) -> None:
    """Refuse a doubt or a length that is not above zero."""
    if not (math.isfinite(value) and value > 0.0):
        raise item.refusal(
            field,
            f"{field} is {value:g} {unit}; it must be above 0",
            "Say how far off it may well be: two times in three it is nearer than this."
            if "sd" in field
            else "Give a length above zero.",
        )


def refuse_share(item: Item, field: str, value: float) -> None:
    """Refuse a probability that is zero, negative or above 1."""
    if not (math.isfinite(value) and 0.0 < value <= 1.0):
        raise item.refusal(
            field,
            f"{field} is {value:g}; it must be above 0 and at most 1",
            "Give a probability such as 0.9; leave out what is not believed at all.",
        )


def require_word(item: Item, field: str, value: str, known: Iterable[str]) -> None:
    """Refuse a word that is not one of the known ones."""
    words = tuple(known)
    if value not in words:
        raise item.refusal(
            field,
            f"{field} is {value!r}, which is not known",
            f"Choose one of: {', '.join(words)}.",
        )
