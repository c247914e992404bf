"""Define how a date is told: every month, what counts, what would narrow it."""

from __future__ import annotations

from pydantic import BaseModel, Field

__all__ = [
    "DateTold",
    "DatedBy",
    "HourTold",
    "MonthsTold",
    "ShadowTold",
    "SunTold",
    "ToFindOut",
    "WindowTold",
]


class MonthsTold(BaseModel):
    """Be a run of months."""

    edtf: str = Field(description="First and last month, EDTF.")
    words: str
    probability: float


class DatedBy(BaseModel):
    """Be what one item, or some that stand together, do to the date."""

    name: str
    what: list[str]
    source: list[str]
    trust: float
    right: float | None = Field(description="How probable it is right, given all.")
    disagrees: bool
    at_odds_with: list[str]
    without: MonthsTold | None = Field(description="Nine in ten without it.")
    moves_months: float | None


class ToFindOut(BaseModel):
    """Be something that would narrow the date."""

    what: str
    months_now: float
    months_expected: float


class ShadowTold(BaseModel):
    """Be where one shadow says the sun stood."""

    bearing_deg: float | None
    bearing_sd_deg: float | None
    elevation_deg: float | None
    elevation_sd_deg: float | None


class HourTold(BaseModel):
    """Be an hour of local mean time."""

    local_mean_min: float = Field(description="Minutes after midnight.")
    sd_min: float
    nine_in_ten_min: list[float]


class WindowTold(BaseModel):
    """Be days of the year that fit."""

    day_of_year: float
    sd_days: float
    probability: float


class SunTold(BaseModel):
    """Be what shadows tell."""

    shadows: list[ShadowTold]
    misfit: float | None
    hour: HourTold | None
    windows: list[WindowTold]
    year: int
    words: list[str]


class DateTold(BaseModel):
    """Be when a plate was exposed, and by what."""

    possible: bool
    nine_in_ten: MonthsTold | None
    even_odds: MonthsTold | None
    first_month: str = Field(description="The first month of by_month.")
    by_month: list[float] = Field(
        description="Probability, month after month; none where nothing is possible."
    )
    contradict: list[str]
    contributions: list[DatedBy]
    advice: list[ToFindOut]
    left_out: list[str]
    sun: SunTold | None
