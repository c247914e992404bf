"""Define how old plans are pinned, as the page asks and is told."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

__all__ = ["MovedThing", "PinGiven", "PinTold", "PinningTold", "PinningWanted"]


class PinGiven(BaseModel):
    """Be a place of a sheet, and where it is on the ground."""

    model_config = ConfigDict(extra="forbid")

    name: str | None = Field(None, description="What it is called; its number.")
    x_px: float
    y_px: float
    lon_deg: float = Field(ge=-360, le=360)
    lat_deg: float = Field(ge=-90, le=90)
    sd_px: float | None = Field(None, gt=0, description="Standard error there [px].")
    sd_m: float | None = Field(None, gt=0, description="... on the ground [m].")


class PinningWanted(BaseModel):
    """Say how a plan is to be pinned."""

    model_config = ConfigDict(extra="forbid")

    pins: list[PinGiven] = Field(max_length=500)
    fit: Literal["similarity", "affine", "projective", "bending"] | None = None
    mirrored: bool | None = None
    dry_run: bool = Field(False, description="Tell, and keep nothing.")


class PinTold(BaseModel):
    """Tell how well one pin agrees."""

    name: str
    counts: bool = Field(description="False for one set aside as wrong.")
    wrong: float = Field(description="How probable it is that it is wrong.")
    left_over_east_m: float | None
    left_over_north_m: float | None
    left_over_m: float | None
    within90_m: float | None = Field(description="Error to expect there, 9 in 10 [m].")
    left_out_miss_m: float | None = Field(description="From where the others put it.")
    left_out_within90_m: float | None


class MovedThing(BaseModel):
    """Tell how far a traced thing moved."""

    feature: str
    m: float


class PinningTold(BaseModel):
    """Tell how a plan is pinned."""

    plan: str
    fit: str
    metres_per_px: float
    shared_shift_sd_m: float
    pins: list[PinTold]
    left_out_tried: int
    left_out_inside: int
    moved: list[MovedThing]
    warnings: list[str]
