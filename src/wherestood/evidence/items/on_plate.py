"""Hold what is marked on a scan: points, upright edges, waters, sizes."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar, Literal, get_args

from wherestood.evidence.items.item import (
    Item,
    require_above_zero,
    require_number,
    require_word,
)
from wherestood.evidence.items.reference import (
    At,
    FeatureReference,
    Identity,
    id_of,
    identities_of,
)

__all__ = [
    "KnownSize",
    "Mark",
    "PlumbEdge",
    "Point",
    "SeaHorizon",
    "WaterLevel",
]

#: x right and y down on the upright positive scan [px].
Point = tuple[float, float]
Marked = (
    FeatureReference
    | Identity
    | Sequence[FeatureReference | Identity]
    | Mapping[str, float]
)

#: What a careful person reads on a sharp detail [px]. Common practice.
MARK_SD_PX = 2.0
#: Tide and sea level against the model's zero, waves aside [m]. Common practice.
TIDE_SD_M = 1.0
#: How far walls and masts of the time stood out of plumb [deg]. Common practice.
EDGE_LEAN_SD_DEG = 0.3


@dataclass(frozen=True)
class Mark(Item):
    """Be a point on the scan, tied to a feature or to one of several.

    Attributes
    ----------
    x_px, y_px : float
        Where it is on the upright positive scan [px].
    features : tuple of Identity
        What it may be. Given as a feature or its id, as several of them, or as
        ``{id: weight}``; the weights count against one another. Empty for a
        detail whose place is unknown, which in lines and orders may not use.
    sd_px : float
        Standard error of the point along x and along y, each [px].
    at : {"ground", "top", "water"}
        Whether it is the feature's foot, its top or the water's edge there.
    held_back : bool
        Whether it does not count, so that the answer can be tested by it.
    """

    kind: ClassVar[str] = "mark"

    x_px: float
    y_px: float
    features: Marked = ()
    sd_px: float = MARK_SD_PX
    at: At = "ground"
    held_back: bool = False

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        self._set("features", identities_of(self.features))
        super().__post_init__()
        _require_points(self, ((self.x_px, self.y_px),), "x_px")
        require_above_zero(self, "sd_px", self.sd_px, "px")
        require_word(self, "at", self.at, get_args(At))
        names = [identity.feature_id for identity in self.identities]
        if len(set(names)) < len(names):
            raise self.refusal(
                "features", "it names a feature twice", "Name each once, with a weight."
            )
        for identity in self.identities:
            if not (math.isfinite(identity.weight) and identity.weight > 0.0):
                raise self.refusal(
                    "features",
                    f"the weight of {identity.feature_id!r} is {identity.weight:g}; it "
                    "must be above 0",
                    "Leave out what it cannot be.",
                )

    @property
    def identities(self) -> tuple[Identity, ...]:
        """Return what it may be, weights adding up to 1."""
        parts = identities_of(self.features)
        whole = sum(part.weight for part in parts)
        if not whole > 0.0:
            return parts
        return tuple(Identity(part.feature, part.weight / whole) for part in parts)

    def usual_name(self) -> str:
        """Return which end of what it is, or where on the scan."""
        if not self.features:
            return _start_of(((self.x_px, self.y_px),))
        return f"{self.at} of {', '.join(self.speaks_of())}"

    def speaks_of(self) -> tuple[str, ...]:
        """Return the ids of the features it may be."""
        return tuple(part.feature_id for part in identities_of(self.features))


@dataclass(frozen=True)
class PlumbEdge(Item):
    """Be an edge that is upright in the world, between two points on the scan.

    Attributes
    ----------
    points_px : two (x, y)
        Its ends [px].
    sd_px : float
        Standard error of each end [px].
    lean_sd_deg : float
        How far the edge itself may stand out of plumb [deg].
    """

    kind: ClassVar[str] = "upright edge"

    points_px: tuple[Point, Point]
    sd_px: float = MARK_SD_PX
    lean_sd_deg: float = EDGE_LEAN_SD_DEG

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        self._set("points_px", _points(self.points_px))
        super().__post_init__()
        _require_points(self, self.points_px, "points_px", exactly=2)
        _require_apart(self, self.points_px)
        require_above_zero(self, "sd_px", self.sd_px, "px")
        require_above_zero(self, "lean_sd_deg", self.lean_sd_deg, "deg")

    def usual_name(self) -> str:
        """Return where on the scan it begins."""
        return _start_of(self.points_px)


@dataclass(frozen=True)
class WaterLevel(Item):
    """Be points on the scan along the far edge of still water.

    Attributes
    ----------
    points_px : tuple of (x, y)
        One or more [px].
    feature : Feature or str or None
        The shore they lie on, a line; None for the shore that the terrain shows.
    height_m : float or None
        Height of the water [m]; None for what the terrain says.
    height_sd_m : float
        Standard error of that height, tide included [m].
    sd_px : float
        Standard error of each point [px].
    """

    kind: ClassVar[str] = "water level"

    points_px: tuple[Point, ...]
    feature: FeatureReference | None = None
    height_m: float | None = None
    height_sd_m: float = TIDE_SD_M
    sd_px: float = MARK_SD_PX

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        self._set("points_px", _points(self.points_px))
        super().__post_init__()
        _require_points(self, self.points_px, "points_px")
        if self.height_m is not None:
            require_number(self, "height_m", self.height_m, -500.0, 9000.0, "m")
        require_above_zero(self, "height_sd_m", self.height_sd_m, "m")
        require_above_zero(self, "sd_px", self.sd_px, "px")

    def speaks_of(self) -> tuple[str, ...]:
        """Return the id of the shore."""
        return () if self.feature is None else (id_of(self.feature),)

    def usual_name(self) -> str:
        """Return where on the scan it begins."""
        return _start_of(self.points_px)


@dataclass(frozen=True)
class SeaHorizon(Item):
    """Be points on the scan along the sea's own horizon.

    Attributes
    ----------
    points_px : tuple of (x, y)
        One or more [px].
    height_m, height_sd_m : float
        Height of the sea in the elevation model's datum, and its standard error,
        tide included [m].
    sd_px : float
        Standard error of each point [px].
    """

    kind: ClassVar[str] = "sea horizon"

    points_px: tuple[Point, ...]
    height_m: float = 0.0
    height_sd_m: float = TIDE_SD_M
    sd_px: float = MARK_SD_PX

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        self._set("points_px", _points(self.points_px))
        super().__post_init__()
        _require_points(self, self.points_px, "points_px")
        require_number(self, "height_m", self.height_m, -500.0, 9000.0, "m")
        require_above_zero(self, "height_sd_m", self.height_sd_m, "m")
        require_above_zero(self, "sd_px", self.sd_px, "px")

    def usual_name(self) -> str:
        """Return where on the scan it begins."""
        return _start_of(self.points_px)


@dataclass(frozen=True)
class KnownSize(Item):
    """Be the length of something between two points on the scan.

    Attributes
    ----------
    points_px : two (x, y)
        Its ends [px].
    length_m, sd_m : float
        How long it is in the world, and the standard error of that [m].
    lies : {"upright", "across"}
        Whether it stands upright, or lies level square to the line of sight.
    feature : Feature or str or None
        Where it stands. Without it and without a distance the length says how far off
        the thing is, and next to nothing of the station.
    distance_m, distance_sd_m : float or None
        How far off it is, where that is known better than where it stands, and the
        standard error of that [m]; a tenth of it where left out.
    sd_px : float
        Standard error of each end [px].
    """

    kind: ClassVar[str] = "known size"

    points_px: tuple[Point, Point]
    length_m: float
    sd_m: float
    lies: Literal["upright", "across"] = "upright"
    feature: FeatureReference | None = None
    distance_m: float | None = None
    distance_sd_m: float | None = None
    sd_px: float = MARK_SD_PX

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        self._set("points_px", _points(self.points_px))
        super().__post_init__()
        _require_points(self, self.points_px, "points_px", exactly=2)
        _require_apart(self, self.points_px)
        self._check_distance()
        require_above_zero(self, "length_m", self.length_m, "m")
        require_above_zero(self, "sd_m", self.sd_m, "m")
        require_above_zero(self, "sd_px", self.sd_px, "px")
        require_word(self, "lies", self.lies, ("upright", "across"))

    def _check_distance(self) -> None:
        if self.distance_m is None:
            if self.distance_sd_m is not None:
                raise self.refusal(
                    "distance_sd_m",
                    "distance_sd_m is given without distance_m",
                    "Give both, or leave both out.",
                )
            return
        if self.feature is not None:
            raise self.refusal(
                "distance_m",
                "a feature and a distance are both given",
                "Give where it stands or how far off it is, not both; a distance to a "
                "feature is a known distance.",
            )
        require_above_zero(self, "distance_m", self.distance_m, "m")
        if self.distance_sd_m is not None:
            require_above_zero(self, "distance_sd_m", self.distance_sd_m, "m")

    def speaks_of(self) -> tuple[str, ...]:
        """Return the id of the feature where it stands."""
        return () if self.feature is None else (id_of(self.feature),)

    def usual_name(self) -> str:
        """Return where on the scan it begins."""
        return _start_of(self.points_px)


def _start_of(points_px: Sequence[Point]) -> str:
    return f"{points_px[0][0]:g}, {points_px[0][1]:g}" if points_px else "no points"


def _points(points: Sequence[Sequence[float]]) -> tuple[Point, ...]:
    return tuple((float(point[0]), float(point[1])) for point in points)


def _require_points(
    item: Item, points: Sequence[Point], field: str, exactly: int | None = None
) -> None:
    """Refuse a wrong number of points, and points that are no numbers."""
    if not points or (exactly is not None and len(points) != exactly):
        wanted = "at least one point" if exactly is None else f"{exactly} points"
        raise item.refusal(
            field, f"it has {len(points)} points where it needs {wanted}", "Mark them."
        )
    for x, y in points:
        if not (math.isfinite(x) and math.isfinite(y)):
            raise item.refusal(
                field, f"the point ({x:g}, {y:g}) is not finite", "Give pixels."
            )


def _require_apart(item: Item, points: Sequence[Point]) -> None:
    if points[0] == points[1]:
        raise item.refusal(
            "points_px",
            "its two ends are the same point",
            "Mark its two ends, as far apart as they go.",
        )
