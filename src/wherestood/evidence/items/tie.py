"""Hold a thing seen on two plates of a panorama."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from wherestood.evidence.items.item import Item, require_above_zero
from wherestood.evidence.items.on_plate import Point

__all__ = ["TieMark"]


@dataclass(frozen=True, kw_only=True)
class TieMark(Item):
    """Be one thing seen on two plates exposed from one station.

    Attributes
    ----------
    plates : (str, str)
        Names of the two plates.
    first_px, second_px : (float, float)
        Where it is on the one and on the other [px].
    sd_px : float
        Standard error of each place along each axis [px].
    distance_m : float or None
        How far away it is, where known: what is near moves when a camera turns [m].
    """

    kind: ClassVar[str] = "tie mark"

    plates: tuple[str, str]
    first_px: Point
    second_px: Point
    sd_px: float = 2.0
    distance_m: float | None = None

    def __post_init__(self) -> None:
        """Give it a name, and refuse what cannot be."""
        self._set("plates", tuple(self.plates))
        super().__post_init__()
        if len(set(self.plates)) < 2:
            raise self.refusal(
                "plates",
                "two different plates were expected",
                "Name the two plates on which the thing is seen.",
            )
        for field in ("first_px", "second_px"):
            x, y = getattr(self, field)
            self._set(field, (float(x), float(y)))
        require_above_zero(self, "sd_px", self.sd_px, "px")
        if self.distance_m is not None:
            require_above_zero(self, "distance_m", self.distance_m, "m")

    def usual_name(self) -> str:
        """Return what tells it from others of its kind."""
        at = ", ".join(f"{value:g}" for value in self.first_px)
        return f"{' and '.join(self.plates)} at {at}"
