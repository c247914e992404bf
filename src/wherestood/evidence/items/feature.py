"""Hold things on the ground whose position is known or estimated."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import shapely
from shapely.geometry.base import BaseGeometry
from shapely.validation import explain_validity

from wherestood.evidence.items.item import Item, require_above_zero, require_number

__all__ = ["Feature", "Plan"]

#: Lower than any dry ground and higher than any summit [m].
LOWEST_M, HIGHEST_M = -500.0, 9000.0
_SHAPES = {
    "Point": "point",
    "LineString": "line",
    "MultiLineString": "line",
    "Polygon": "area",
    "MultiPolygon": "area",
}


@dataclass(frozen=True)
class Plan(Item):
    """Be a plan, or another single source, whose features are displaced together.

    Attributes
    ----------
    shared_shift_sd_m : float
        Standard error of the displacement that all its features share, along east
        and along north [m].
    """

    kind: ClassVar[str] = "plan"

    shared_shift_sd_m: float

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        super().__post_init__()
        require_above_zero(self, "shared_shift_sd_m", self.shared_shift_sd_m, "m")


@dataclass(frozen=True)
class Feature(Item):
    """Be a thing on the ground, as a point, a line or an area.

    Attributes
    ----------
    geometry : shapely geometry or (longitude, latitude)
        Where it stands, WGS 84 [deg]; a pair is a point. On a line (a road, a
        shore as it then was) or area what is seen is somewhere along or in it.
    name : str
        What people call it.
    what : str
        What it is: chimney, peak, gable, shore.
    sd_m : float
        Standard error of its position, along east and along north, each [m].
    height_m, height_sd_m : float or None
        Height of its *foot* in the elevation model's datum and its standard error
        [m]; None puts the foot on the terrain.
    object_height_m, object_height_sd_m : float or None
        Height of its top above its foot [m]; None where not known.
    plan : Plan or str or None
        The plan (or its id) that it was taken from: such features share a shift,
        on top of ``sd_m``.
    """

    kind: ClassVar[str] = "feature"

    geometry: BaseGeometry | tuple[float, float]
    name: str = ""
    what: str = ""
    sd_m: float = 10.0
    height_m: float | None = None
    height_sd_m: float | None = None
    object_height_m: float | None = None
    object_height_sd_m: float | None = None
    plan: Plan | str | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be, and put the geometry in its usual form."""
        if not self.id:
            self._set("id", self.name)
        if not isinstance(self.geometry, BaseGeometry):
            self._set("geometry", shapely.Point(*self.geometry[:2]))
        super().__post_init__()
        self._check_geometry(self.place)
        require_above_zero(self, "sd_m", self.sd_m, "m")
        self._check_heights()

    def usual_name(self) -> str:
        """Return where it is, for a feature with neither id nor name."""
        lon, lat = shapely.get_coordinates(self.geometry)[0]
        return f"{lon:.5f}, {lat:.5f}"

    @property
    def place(self) -> BaseGeometry:
        """Return where it stands, longitude and latitude [deg]."""
        assert isinstance(self.geometry, BaseGeometry)
        return self.geometry

    @property
    def shape(self) -> str:
        """Return ``point``, ``line`` or ``area``."""
        return _SHAPES[self.place.geom_type]

    @property
    def plan_id(self) -> str:
        """Return the id of its plan, empty without one."""
        if self.plan is None:
            return ""
        return self.plan if isinstance(self.plan, str) else self.plan.id

    def _check_geometry(self, place: BaseGeometry) -> None:
        if place.geom_type not in _SHAPES:
            raise self.refusal(
                "geometry",
                f"its geometry is a {place.geom_type}",
                "Give a point, a line or an area.",
            )
        if place.is_empty:
            raise self.refusal("geometry", "its geometry is empty", "Draw it.")
        corners = shapely.get_coordinates(place)
        outside = ~((abs(corners[:, 0]) <= 360.0) & (abs(corners[:, 1]) <= 90.0))
        if outside.any():
            lon, lat = corners[outside][0]
            raise self.refusal(
                "geometry",
                f"the position {lon:g}, {lat:g} is no longitude and latitude in "
                "degrees (it looks like metres in a map grid, or the two are swapped)",
                "Give longitude first, then latitude, in WGS 84 degrees.",
            )
        if not place.is_valid:
            raise self.refusal(
                "geometry",
                f"its outline is not valid: {explain_validity(place)} "
                "(longitude latitude)",
                "Redraw it so that it does not cross or touch itself.",
            )

    def _check_heights(self) -> None:
        if self.height_m is not None:
            require_number(self, "height_m", self.height_m, LOWEST_M, HIGHEST_M, "m")
        if self.height_sd_m is not None:
            require_above_zero(self, "height_sd_m", self.height_sd_m, "m")
        if self.object_height_m is not None:
            height = self.object_height_m
            require_number(self, "object_height_m", height, 0.0, HIGHEST_M, "m")
        if self.object_height_sd_m is not None:
            sd = self.object_height_sd_m
            require_above_zero(self, "object_height_sd_m", sd, "m")
            if self.object_height_m is None:
                raise self.refusal(
                    "object_height_sd_m",
                    "object_height_sd_m is given without object_height_m",
                    "Give both, or leave both out.",
                )
