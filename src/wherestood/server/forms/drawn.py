"""Define what is drawn on a plate, and how the page is told where it lies."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field
from shapely.geometry import LineString, Point, Polygon

from wherestood.errors import InputError

__all__ = ["DrawnGiven", "DrawnTold", "MappingWorthTold"]

_LEAST = {"point": 1, "line": 2, "outline": 3, "height": 2}


class DrawnGiven(BaseModel):
    """Be what was drawn, in pixels of the upright scan."""

    model_config = ConfigDict(extra="forbid")

    shape: Literal["point", "line", "outline", "height"] = Field(
        description="A height is a foot on the ground, then a top."
    )
    points_px: list[tuple[float, float]] = Field(min_length=1, max_length=2000)
    name: str = Field("", max_length=300)
    what: str = Field("", max_length=300)
    keep: bool = False
    place: int = Field(
        0, ge=0, description="As if the camera stood at this place; over all if 0."
    )

    def on_plate(self) -> Point | LineString | Polygon:
        """Return it as a shape.

        Raises
        ------
        InputError
            If it has too few points.
        """
        if len(self.points_px) < _LEAST[self.shape]:
            raise InputError(
                f"A {self.shape} of {len(self.points_px)} points is none.",
                f"Draw {_LEAST[self.shape]} at least.",
            )
        if self.shape in ("point", "height"):
            return Point(self.points_px[0])
        if self.shape == "line":
            return LineString(self.points_px)
        return Polygon(self.points_px)


class DrawnTold(BaseModel):
    """Tell where on the map it lies, and how surely."""

    geometry: dict[str, Any] | None = Field(
        description="GeoJSON, longitude before latitude; None where nothing is told."
    )
    share: float = Field(description="How much of it could be carried, 0 to 1.")
    doubt_m: float | None = Field(description="Half of the 90% ellipse, middle [m].")
    most_doubt_m: float | None
    sentences: list[str]
    caution: str = Field(description="That the camera's place is not settled.")
    tall_m: float | None = Field(description="Of a height: how tall it is [m].")
    tall_sd_m: float | None = Field(description="Its standard error [m].")
    feature: str | None = Field(description="Key of the feature kept.")


class MappingWorthTold(BaseModel):
    """Say what of a plate can be carried to the map, and what a finer scan would do."""

    caution: str
    sentences: list[str]
