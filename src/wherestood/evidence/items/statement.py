"""Hold what somebody says about where a plate was taken."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal, get_args

from wherestood.evidence.items.feature import Feature
from wherestood.evidence.items.item import (
    Item,
    require_above_zero,
    require_number,
    require_word,
)
from wherestood.evidence.items.reference import FeatureReference, id_of

__all__ = ["Place", "Statement"]

Place = Literal["inside", "within", "along", "on top of", "from"]

#: How far from what is named a statement reaches where it does not say [m]. Common
#: practice: a roadside, a hill's top, a building's windows and doorstep.
USUAL_REACH_M = {
    "inside": 0.0,
    "within": 500.0,
    "along": 30.0,
    "on top of": 300.0,
    "from": 15.0,
}
#: How far below its highest point a hill still counts as its top [m].
USUAL_TOP_M = 20.0


@dataclass(frozen=True)
class Statement(Item):
    """Be a source's words about place, with a weight.

    Attributes
    ----------
    feature : Feature or str
        What the words name: an area, a line, a point.
    place : {"inside", "within", "along", "on top of", "from"}
        How the station lies to it: inside an area; within a distance of a point
        (a circle) or of anything; along a road or shore; on top of a hill; from a
        building.
    weight : float
        Probability that the words are right, above 0 and below 1: never a fence.
        It stands in the place of ``trust``.
    within_m : float or None
        How far the words reach from what they name [m]; what is usual for the
        place where None.
    down_m : float
        For a hill's top, how far below its highest ground it still is [m].
    words : str
        The words themselves, as the source has them.
    """

    kind: ClassVar[str] = "statement"

    feature: FeatureReference
    place: Place = "inside"
    weight: float = 0.7
    within_m: float | None = None
    down_m: float = USUAL_TOP_M
    words: str = ""

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        super().__post_init__()
        require_word(self, "place", self.place, get_args(Place))
        if not 0.0 < self.weight < 1.0:
            raise self.refusal(
                "weight",
                f"weight is {self.weight:g}; it must be above 0 and below 1",
                "No source is always right: give 0.95 for one that hardly errs, and "
                "narrow the ground searched if it is to be a fence.",
            )
        if self.within_m is not None:
            low = 0.0 if self.place == "inside" else 0.1
            require_number(self, "within_m", self.within_m, low, 100_000.0, "m")
        require_above_zero(self, "down_m", self.down_m, "m")
        if isinstance(self.feature, Feature):
            self.check_shape(self.feature)

    @property
    def reach_m(self) -> float:
        """Return how far the words reach from what they name [m]."""
        return USUAL_REACH_M[self.place] if self.within_m is None else self.within_m

    def speaks_of(self) -> tuple[str, ...]:
        """Return the id of what the words name."""
        return (id_of(self.feature),)

    def check_shape(self, feature: Feature) -> None:
        """Refuse what is named if no station can lie so to it.

        Raises
        ------
        EvidenceError
            If the words speak of the inside of what is no area.
        """
        if self.place == "inside" and feature.shape != "area":
            raise self.refusal(
                "place",
                f"{feature.id!r} is a {feature.shape}, which has no inside",
                "Draw it as an area, or say within so many metres of it.",
            )
