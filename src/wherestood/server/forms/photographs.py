"""Define how a photograph made on the spot is given, asked about and told."""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

__all__ = [
    "AskedOfPhotograph",
    "MarkedOnBoth",
    "PhotographGiven",
    "PhotographRead",
    "PhotographTold",
]

NotKnown = Literal["position", "heading", "lens", "time"]


class MarkedOnBoth(BaseModel):
    """Be one thing that a person marked on the plate and on the photograph."""

    model_config = ConfigDict(extra="forbid")

    plate_px: tuple[float, float]
    photo_px: tuple[float, float]
    distance_m: float | None = Field(
        default=None, gt=0.0, description="From the plate's station, if measured [m]."
    )


class PhotographGiven(BaseModel):
    """Be a photograph that was sent in, and what a person says of it."""

    model_config = ConfigDict(extra="forbid")

    upload_id: str
    place_deg: tuple[float, float] | None = Field(
        default=None, description="Longitude, latitude where it was made [deg]."
    )
    heading_deg: float | None = Field(
        default=None, ge=-360.0, le=360.0, description="True, where it looks [deg]."
    )
    focal_35_mm: float | None = Field(
        default=None, gt=3.0, lt=3000.0, description="Focal length for 35 mm film."
    )
    taken: datetime | None = None
    lens_height_m: float | None = Field(
        default=None, gt=0.0, lt=100.0, description="Lens above the ground there [m]."
    )
    not_known: list[NotKnown] = []
    mirrored: bool | None = Field(
        default=None, description="Whether it is left for right; null if nobody said."
    )
    place: int = Field(default=1, ge=1, description="Which place of the answer.")
    marks: list[MarkedOnBoth] = Field(default=[], max_length=500)
    marks_sd_px: float = Field(
        default=2.0, gt=0.0, le=200.0, description="Of a mark on the photograph [px]."
    )


class AskedOfPhotograph(BaseModel):
    """Be one question about a photograph: nothing is assumed."""

    what: Literal["position", "heading", "lens", "time", "mirrored"]
    sentence: str
    remedy: str


class PhotographRead(BaseModel):
    """Be what a photograph says of itself, and what is left to ask."""

    name: str
    width_px: int
    height_px: int
    read: list[str] = Field(description="What its camera wrote into it.")
    asked: list[AskedOfPhotograph]


class PhotographTold(BaseModel):
    """Be a photograph that was compared with the plate and kept."""

    source: str
    citation: str
    sentences: list[str]
    caution: str = ""
    fix: str | None = None
    pictures: bool = Field(description="Whether its pictures are there.")
    width_px: int | None = Field(default=None, description="Of the two pictures.")
    height_px: int | None = None
    files: list[str] = Field(description="What can be saved.")
