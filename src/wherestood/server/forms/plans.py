"""Define how old plans are pinned, as the page asks and is told."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

__all__ = [
    "MovedThing",
    "OnPlate",
    "OnPlatePiece",
    "OnPlateThing",
    "PinGiven",
    "PinTold",
    "PinningTold",
    "PinningWanted",
    "SheetPlace",
    "SheetPlaces",
    "SheetPoints",
    "TracedFeature",
    "TracedFeatures",
    "TracedGiven",
    "TracedWanted",
]

Point = tuple[float, float]


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


class SheetPoints(BaseModel):
    """Ask where places of a sheet are on the ground."""

    model_config = ConfigDict(extra="forbid")

    points_px: list[Point] = Field(max_length=400)


class SheetPlace(BaseModel):
    """Tell where a place of a sheet is on the ground, and how surely."""

    lon_deg: float | None = Field(description="None beyond the sheet's own horizon.")
    lat_deg: float | None
    sd_m: float | None = Field(description="Standard error along one axis [m].")
    within90_m: float | None = Field(description="Error to expect, 9 in 10 [m].")


class SheetPlaces(BaseModel):
    """Tell where places of a sheet are on the ground."""

    places: list[SheetPlace]


class TracedGiven(BaseModel):
    """Be a thing that was followed on a plan."""

    model_config = ConfigDict(extra="forbid")

    what: str = Field(min_length=1, max_length=500)
    shape: Literal["point", "line", "outline"]
    drawn: Literal["surveyed", "sketched"]
    points_px: list[Point] = Field(min_length=1, max_length=20_000)
    drawn_sd_m: float | None = Field(
        None, ge=0, description="How far off it was drawn [m]; as usual if none."
    )


class TracedWanted(BaseModel):
    """Keep what was followed on a plan as features."""

    model_config = ConfigDict(extra="forbid")

    things: list[TracedGiven] = Field(min_length=1, max_length=500)
    existed_from: str | None = Field(None, description="Since when all stood, EDTF.")
    existed_to: str | None = Field(None, description="Until when all stood, EDTF.")
    source: str | None = Field(None, description="Key of the source of all.")


class TracedFeature(BaseModel):
    """Tell of a feature that came of a plan."""

    key: str
    what: str
    drawn: str
    sd_m: float = Field(description="Its own standard error, beside the shift [m].")


class TracedFeatures(BaseModel):
    """Tell of the features that came of a plan."""

    features: list[TracedFeature]
    shared_shift_sd_m: float


class OnPlatePiece(BaseModel):
    """Be a stretch of a thing on the plate, all of it seen or all hidden."""

    points_px: list[Point]
    seen: bool
    sd_px: float = Field(description="How far to either side it may lie [px].")
    chance: float


class OnPlateThing(BaseModel):
    """Tell where a thing of the map shows on the plate."""

    feature_id: str
    key: str
    what: str
    sd_m: float
    pieces: list[OnPlatePiece]


class OnPlate(BaseModel):
    """Tell where things traced from plans show on a plate, by its newest fix."""

    fix: str | None = Field(description="Key of the fix; None if there is none.")
    caution: str
    things: list[OnPlateThing]
    beyond: int = Field(description="Things that no part of the plate shows.")
    left: int = Field(description="Things left out, there being too many.")
