"""Hold ground that was otherwise than the elevation model has it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import ClassVar, Literal, get_args

import shapely
from shapely.geometry.base import BaseGeometry
from shapely.validation import explain_validity

from wherestood.evidence.items.feature import HIGHEST_M, LOWEST_M
from wherestood.evidence.items.item import (
    Item,
    require_above_zero,
    require_number,
    require_word,
)
from wherestood.evidence.years import Years, years_of

__all__ = ["Change", "ChangedGround", "cannot_both_hold", "contradictions"]

Change = Literal["raise", "lower", "flatten", "cut", "flood", "cover"]

#: The number that each change needs.
_NEEDS = {
    "raise": "by_m",
    "lower": "by_m",
    "flatten": "height_m",
    "flood": "height_m",
    "cover": "cover_then_m",
}
_HIGHEST_BY_M = 1000.0
_HIGHEST_COVER_M = 120.0  # no tree is higher
#: Doubt of a change that gives none: of a height, and as a share of a difference.
_HEIGHT_SD_M, _BY_SHARE, _CUT_SD_M, _COVER_SHARE = 2.0, 0.2, 4.0, 0.3
_EARLIEST, _LATEST = -math.inf, math.inf
#: Areas that share less than this part of the smaller only touch.
_TOUCHING = 1e-3


@dataclass(frozen=True)
class ChangedGround(Item):
    """Be an area whose ground, or whose trees, were otherwise for some years.

    Attributes
    ----------
    geometry : shapely Polygon or MultiPolygon
        Where, WGS 84 [deg].
    change : {"raise", "lower", "flatten", "cut", "flood", "cover"}
        How the ground of those years comes of the elevation model: higher or lower
        by ``by_m``; level at ``height_m``; cut (or filled) to the surface that a skin
        stretched over its edge would take; under still water at ``height_m``; or with
        trees of ``cover_then_m`` on it.
    by_m : float or None
        For raise and lower, above 0 [m].
    height_m : float or None
        For flatten and flood, in the elevation model's datum [m].
    sd_m : float or None
        Standard error of the height that comes of it [m]; usual where None.
    cover_then_m, cover_now_m : float or None
        Height of the trees in those years, 0 for cleared land, and when the
        elevation model was made [m].
    existed_from, existed_to : str
        First and last year of that state, EDTF or plain; empty where it was always
        so, or still is.
    """

    kind: ClassVar[str] = "changed ground"

    geometry: BaseGeometry
    change: Change
    by_m: float | None = None
    height_m: float | None = None
    sd_m: float | None = None
    cover_then_m: float | None = None
    cover_now_m: float | None = None
    existed_from: str = ""
    existed_to: str = ""

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        super().__post_init__()
        for name in ("existed_from", "existed_to"):
            self._set(name, str(getattr(self, name)).strip())
        require_word(self, "change", self.change, get_args(Change))
        self._check_geometry()
        self._check_numbers()
        self._check_years()

    def usual_name(self) -> str:
        """Return what was done, and where."""
        lon, lat = self.geometry.representative_point().coords[0]
        return f"{self.change} at {lon:.5f}, {lat:.5f}"

    @property
    def doubt_m(self) -> float:
        """Return the standard error of the height that comes of it [m]."""
        if self.sd_m is not None:
            return self.sd_m
        if self.change == "cover":
            return 2.0 + _COVER_SHARE * float(self.cover_then_m or 0.0)
        if self.change == "cut":
            return _CUT_SD_M
        if self.change in ("raise", "lower"):
            return max(_HEIGHT_SD_M, _BY_SHARE * float(self.by_m or 0.0))
        return _HEIGHT_SD_M

    @property
    def begun(self) -> Years:
        """Return the first and last year in which that state may have begun."""
        return self._years(self.existed_from) or (_EARLIEST, _EARLIEST)

    @property
    def gone(self) -> Years:
        """Return the first and last year in which that state may have ended."""
        return self._years(self.existed_to) or (_LATEST, _LATEST)

    @property
    def dated(self) -> bool:
        """Say whether anything is known of its years."""
        return bool(self.existed_from or self.existed_to)

    @staticmethod
    def _years(words: str) -> Years | None:
        return years_of(words.zfill(4) if words.isdigit() else words)

    def _check_geometry(self) -> None:
        shape = self.geometry
        if shape.geom_type not in ("Polygon", "MultiPolygon") or shape.is_empty:
            raise self.refusal(
                "geometry",
                f"its geometry is a {shape.geom_type}, where an area was expected",
                "Draw its outline.",
            )
        corners = shapely.get_coordinates(shape)
        if not ((abs(corners[:, 0]) <= 360.0) & (abs(corners[:, 1]) <= 90.0)).all():
            raise self.refusal(
                "geometry",
                "its outline is not in longitude and latitude in degrees",
                "Give longitude first, then latitude, in WGS 84 degrees.",
            )
        if not shape.is_valid:
            raise self.refusal(
                "geometry",
                f"its outline is not valid: {explain_validity(shape)} "
                "(longitude latitude)",
                "Redraw it so that it does not cross or touch itself.",
            )

    def _check_numbers(self) -> None:
        needed = _NEEDS.get(self.change)
        if needed is not None and getattr(self, needed) is None:
            raise self.refusal(
                "change", f"to {self.change} it, {needed} is missing", f"Give {needed}."
            )
        for name in ("by_m", "height_m", "cover_then_m", "cover_now_m"):
            fits = name == needed or (self.change == "cover" and name == "cover_now_m")
            if getattr(self, name) is not None and not fits:
                raise self.refusal(
                    name,
                    f"{name} says nothing where the change is {self.change!r}",
                    f"Give {needed} alone." if needed else "Leave it out.",
                )
        if self.by_m is not None:
            if self.by_m <= 0.0:
                other = "lower" if self.change == "raise" else "raise"
                raise self.refusal(
                    "by_m",
                    f"by_m is {self.by_m:g} m; it must be above 0",
                    f"To go the other way, say {other}.",
                )
            require_number(self, "by_m", self.by_m, 0.0, _HIGHEST_BY_M, "m")
        if self.height_m is not None:
            require_number(self, "height_m", self.height_m, LOWEST_M, HIGHEST_M, "m")
        for name in ("cover_then_m", "cover_now_m"):
            value = getattr(self, name)
            if value is not None:
                require_number(self, name, value, 0.0, _HIGHEST_COVER_M, "m")
        if self.sd_m is not None:
            require_above_zero(self, "sd_m", self.sd_m, "m")

    def _check_years(self) -> None:
        for name in ("existed_from", "existed_to"):
            words = getattr(self, name)
            if words and self._years(words) is None:
                raise self.refusal(
                    name,
                    f"{name} is {words!r}, which is no year or date that can be read",
                    "Write a year (1890), about one (1890~), or between two "
                    "(1885/1895).",
                )
        if self.begun[0] > self.gone[1]:
            raise self.refusal(
                "existed_to",
                f"it began in {self.existed_from} and ended in {self.existed_to}, "
                "before it began",
                "Check the two years; they may be swapped.",
            )


def contradictions(
    items: Sequence[ChangedGround],
) -> list[tuple[ChangedGround, ChangedGround]]:
    """Return pairs that say two things of one ground in the same years.

    What raises or lowers adds up, and trees stand on any ground; all else that overlaps
    is told of the same nodes twice, unless one ends before the other begins.
    """
    found = []
    for first, second in combinations(items, 2):
        if _adds_up(first, second) or cannot_both_hold(first, second):
            continue
        smaller = min(first.geometry.area, second.geometry.area)
        shared = first.geometry.intersection(second.geometry).area
        if shared > _TOUCHING * smaller:
            found.append((first, second))
    return found


def _adds_up(first: ChangedGround, second: ChangedGround) -> bool:
    sums = ("raise", "lower")
    if first.change in sums and second.change in sums:
        return True
    return (first.change == "cover") != (second.change == "cover")


def cannot_both_hold(first: ChangedGround, second: ChangedGround) -> bool:
    """Say whether the one surely, or but for the doubt of a date, ends first."""
    one_last = first.gone[0] <= second.begun[1] and math.isfinite(first.gone[0])
    other_last = second.gone[0] <= first.begun[1] and math.isfinite(second.gone[0])
    return one_last or other_last
