"""Define the field sheet, what comes back on it, and how the page is told."""

from __future__ import annotations

from datetime import date

from pydantic import BaseModel, ConfigDict, Field

__all__ = [
    "ClearSpotTold",
    "Fact",
    "FilledRead",
    "PairTold",
    "ReadingGiven",
    "SheetPlaceTold",
    "SheetTold",
    "VisitGiven",
    "VisitKept",
]


class Fact(BaseModel):
    """Be one line of the sheet."""

    name: str
    words: str


class SheetPlaceTold(BaseModel):
    """Be a place where the camera may have stood."""

    number: int
    probability: float
    wgs84: str
    grid: str
    height: str
    east_m: float = Field(description="In the ground's grid [m].")
    north_m: float


class PairTold(BaseModel):
    """Be a near and a far thing whose gap tells which way to move."""

    far: str
    near: str
    gap_deg: float = Field(description="Far right of near positive [deg].")
    m_per_deg: float
    m_per_finger: float
    px_per_m: float
    far_px: tuple[float, float]
    near_px: tuple[float, float]
    sentences: list[str]


class ClearSpotTold(BaseModel):
    """Be a spot near by from which the view is open."""

    east_m: float = Field(description="In the ground's grid [m].")
    north_m: float
    away_m: float = Field(description="From the likeliest spot [m].")
    share: float = Field(description="How much of the frame is open, 0 to 1.")


class SheetTold(BaseModel):
    """Be a field sheet."""

    fix: str
    caution: str = Field(description="That the place is not settled; or empty.")
    day: date
    places: list[SheetPlaceTold]
    facts: list[Fact]
    pairs: list[PairTold]
    lenses: list[str]
    light: list[str] = Field(description="When the light is the same again.")
    visits: list[str] = Field(description="How tripods of visits before stood.")
    notes: list[str] = Field(description="What could not be told, and what to mind.")
    clear_spots: list[ClearSpotTold] = Field(
        description="Where near by the view is open, if it is not at the spot."
    )
    cautions: list[str]
    files: list[str] = Field(description="What can be saved.")


class ReadingGiven(BaseModel):
    """Be one reading of a visit."""

    model_config = ConfigDict(extra="forbid")

    what: str = Field(max_length=40)
    thing: str = Field("", max_length=200)
    other: str = Field("", max_length=200)
    value: float | None = None
    sd: float | None = None
    lon_deg: float | None = None
    lat_deg: float | None = None
    words: str = Field("", max_length=4000)


class FilledRead(BaseModel):
    """Be what a filled sheet holds, before any of it is kept."""

    day: date | None
    who: str
    readings: list[ReadingGiven]
    passed_over: list[str]


class VisitGiven(BaseModel):
    """Be a visit to keep."""

    model_config = ConfigDict(extra="forbid")

    day: date
    who: str = Field("", max_length=200)
    readings: list[ReadingGiven] = Field(min_length=1, max_length=2000)


class VisitKept(BaseModel):
    """Say what came of a visit."""

    source: str
    sentences: list[str]
    left: list[str] = Field(description="What tells nothing, and why.")
    counts: bool = Field(description="Whether anything new counts in a fix.")
