"""Define how the plates of a panorama are told."""

from __future__ import annotations

from pydantic import BaseModel, Field

from wherestood.server.forms.plates import Missing

__all__ = ["PanoramaPlate", "PanoramaTold", "TieOnPlates"]

Point = tuple[float, float]


class PanoramaPlate(BaseModel):
    """Be one plate of a panorama."""

    plate_id: str
    key: str
    title: str | None
    scan_id: str | None
    width_px: int | None
    height_px: int | None
    covered: bool


class TieOnPlates(BaseModel):
    """Be one thing seen on two plates."""

    evidence_id: str
    key: str
    plate_id: str
    beside_id: str = Field(description="The other plate.")
    first_px: Point
    second_px: Point = Field(description="On the other plate.")
    by_machine: bool
    counts: bool = Field(description="Whether it is on the copies that are looked at.")


class PanoramaTold(BaseModel):
    """Tell the panorama that a plate belongs to."""

    name: str
    plates: list[PanoramaPlate] = Field(description="By key, the plate among them.")
    ties: list[TieOnPlates]
    missing: list[Missing] = Field(description="What a run of all together lacks.")
