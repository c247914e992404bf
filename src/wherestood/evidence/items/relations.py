"""Hold what is seen of features against one another, with no camera needed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal, get_args

from wherestood.evidence.items.feature import Feature
from wherestood.evidence.items.item import (
    Item,
    refuse_share,
    require_above_zero,
    require_number,
    require_word,
)
from wherestood.evidence.items.on_plate import Mark
from wherestood.evidence.items.reference import At, FeatureReference, id_of

__all__ = ["Hidden", "InLine", "KnownDistance", "Order", "Relation", "Seen"]

Detail = Feature | Mark | str
Relation = Literal["left of", "right of", "above", "below"]

#: How well a person sees that one thing stands over another [deg]: some 0.2 mm on
#: a plate at a quarter of a metre. Common practice.
IN_LINE_SD_DEG = 0.05
#: ... and how well a spacing is measured, as a share of the picture's width.
WIDTHS_SD = 0.002
#: How often a thing in plain sight of the lens is made out on the plate.
WOULD_SHOW = 0.8


@dataclass(frozen=True)
class _Pair(Item):
    """Be a relation of two details."""

    a: Detail
    b: Detail

    def __post_init__(self) -> None:
        """Refuse a thing set against itself."""
        super().__post_init__()
        if id_of(self.a) == id_of(self.b):
            raise self.refusal(
                "b",
                f"it sets {id_of(self.a)!r} against itself",
                "Name two different things.",
            )

    def speaks_of(self) -> tuple[str, ...]:
        """Return the ids of both."""
        return (id_of(self.a), id_of(self.b))


@dataclass(frozen=True)
class InLine(_Pair):
    """Say that two details stand one above the other, or so far apart.

    Attributes
    ----------
    a, b : Feature, Mark or id
        The two details.
    left_deg : float or None
        How far A stands left of B [deg]; 0 or None when they are in line.
    left_widths : float or None
        The same as a share of the picture's width; it leans on the lens.
    sd_deg, sd_widths : float
        Standard error of the reading, in either measure.
    touching : bool
        Whether one touches or hides the other. Across a gap on the picture the
        camera's lean adds to the doubt.
    gap_heights : float or None
        How far apart they stand up and down the picture, as a share of its
        height; None to take it from the marks, or a usual one.
    """

    kind: ClassVar[str] = "in line"

    left_deg: float | None = None
    left_widths: float | None = None
    sd_deg: float = IN_LINE_SD_DEG
    sd_widths: float = WIDTHS_SD
    touching: bool = True
    gap_heights: float | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        super().__post_init__()
        if self.left_deg is not None and self.left_widths is not None:
            raise self.refusal(
                "left_widths",
                "left_deg and left_widths are both given",
                "Give the spacing in one of the two measures.",
            )
        if self.left_deg is not None:
            require_number(self, "left_deg", self.left_deg, -180.0, 180.0, "deg")
        if self.left_widths is not None:
            require_number(self, "left_widths", self.left_widths, -1.0, 1.0)
        require_above_zero(self, "sd_deg", self.sd_deg, "deg")
        require_above_zero(self, "sd_widths", self.sd_widths, "widths")
        _require_gap(self, self.gap_heights, self.touching, "gap_heights")


@dataclass(frozen=True)
class Order(_Pair):
    """Say that detail A is left of, right of, above or below detail B.

    Attributes
    ----------
    a, b : Feature, Mark or id
        The two details.
    relation : {"left of", "right of", "above", "below"}
        How A stands to B.
    at : {"ground", "top", "water"}
        Which end of both features is compared, for above and below; a mark's own
        ``at`` goes before it.
    sd_deg : float
        How near together they may be and still be told apart [deg].
    touching : bool
        Whether one touches or hides the other. Across a gap on the picture the
        camera's lean adds to the doubt.
    gap_share : float or None
        How far apart they stand *across* the direction compared, as a share of
        the picture's height (left, right) or width (above, below); None to take
        it from the marks, or a usual one.
    """

    kind: ClassVar[str] = "order"

    relation: Relation = "left of"
    at: At = "top"
    sd_deg: float = IN_LINE_SD_DEG
    touching: bool = True
    gap_share: float | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        super().__post_init__()
        require_word(self, "relation", self.relation, get_args(Relation))
        require_word(self, "at", self.at, get_args(At))
        require_above_zero(self, "sd_deg", self.sd_deg, "deg")
        _require_gap(self, self.gap_share, self.touching, "gap_share")

    def usual_name(self) -> str:
        """Return the order in words."""
        return f"{id_of(self.a)} {self.relation} {id_of(self.b)}"

    @property
    def sideways(self) -> bool:
        """Say whether bearings are compared, not elevations."""
        return self.relation in ("left of", "right of")

    @property
    def first(self) -> Detail:
        """Return the one farther left, or higher."""
        return self.a if self.relation in ("left of", "above") else self.b

    @property
    def second(self) -> Detail:
        """Return the one farther right, or lower."""
        return self.b if self.relation in ("left of", "above") else self.a


@dataclass(frozen=True)
class Seen(Item):
    """Say that a feature shows on the plate.

    Attributes
    ----------
    feature : Feature or str
        What shows.
    at : {"ground", "top", "water"}
        Which end of it shows.
    """

    kind: ClassVar[str] = "seen"

    feature: FeatureReference
    at: At = "top"

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        super().__post_init__()
        require_word(self, "at", self.at, get_args(At))

    def speaks_of(self) -> tuple[str, ...]:
        """Return the id of the feature."""
        return (id_of(self.feature),)


@dataclass(frozen=True)
class Hidden(Seen):
    """Say that a feature does not show, and would had nothing stood before it.

    Attributes
    ----------
    would_show : float
        Probability that it would have been made out, had it been in the picture
        and nothing before it: size, contrast and damage included.
    """

    kind: ClassVar[str] = "hidden"

    would_show: float = WOULD_SHOW

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        super().__post_init__()
        refuse_share(self, "would_show", self.would_show)


@dataclass(frozen=True)
class KnownDistance(Item):
    """Say how far from the station a feature is.

    Attributes
    ----------
    feature : Feature or str
        The feature.
    distance_m, sd_m : float
        Distance along the ground and its standard error [m].
    """

    kind: ClassVar[str] = "known distance"

    feature: FeatureReference
    distance_m: float
    sd_m: float

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        super().__post_init__()
        require_above_zero(self, "distance_m", self.distance_m, "m")
        require_above_zero(self, "sd_m", self.sd_m, "m")

    def speaks_of(self) -> tuple[str, ...]:
        """Return the id of the feature."""
        return (id_of(self.feature),)


def _require_gap(item: Item, gap: float | None, touching: bool, field: str) -> None:
    if gap is None:
        return
    require_number(item, field, gap, 0.0, 1.0)
    if touching:
        raise item.refusal(
            field,
            f"{field} is given though they are said to touch",
            "Say touching = false, or leave the gap out.",
        )
