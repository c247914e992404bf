"""Define how a date is told: every month, what counts, what would narrow it."""

from __future__ import annotations

from pydantic import BaseModel, Field

__all__ = [
    "BearingChecked",
    "DateTold",
    "DatedBy",
    "HourTold",
    "MonthsTold",
    "ShadowLaid",
    "ShadowTold",
    "SunClockTold",
    "SunOnMap",
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

    key: str = Field(description="The item's, or what was given.")
    bearing_deg: float | None
    bearing_sd_deg: float | None
    elevation_deg: float | None
    elevation_sd_deg: float | None


class BearingChecked(BaseModel):
    """Be how the camera's bearing goes with the sun of a known day and hour."""

    turn_deg: float = Field(description="Clockwise, for the shadows to fit.")
    sd_deg: float
    fix_sd_deg: float
    sun_bearing_deg: float
    sun_elevation_deg: float
    agrees: bool


class ShadowLaid(BaseModel):
    """Be a shadow on the map, in metres of the ground's grid."""

    key: str
    foot_m: tuple[float, float]
    tip_m: tuple[float, float]
    sun_bearing_deg: float
    sun_elevation_deg: float | None


class SunOnMap(BaseModel):
    """Be the way to the sun, and the shadows, on the plate's map."""

    ground: str = Field(description="The ground whose grid is meant.")
    camera_m: tuple[float, float]
    turn_deg: float = Field(description="Add to a grid bearing for a true one.")
    sun_bearing_deg: float = Field(description="True; by all shadows together.")
    shadows: list[ShadowLaid]


Lines = list[list[tuple[float, float]]]


class SunClockTold(BaseModel):
    """Be days of the year by local mean time, with when the sun stood as shown."""

    rise_and_set: Lines = Field(description="Day of the year, minutes after midnight.")
    over_hills: Lines
    bearings: list[Lines] = Field(description="Of each shadow: the sun's bearing.")
    heights: list[Lines] = Field(description="Of each shadow: the sun's height.")
    by_shadows_half: Lines
    by_shadows_nine_tenths: Lines
    with_date_half: Lines
    with_date_nine_tenths: Lines


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
    bearing: BearingChecked | None
    notes: list[str]
    words: list[str]
    clock: SunClockTold
    on_map: SunOnMap | None


class DateTold(BaseModel):
    """Be when a plate was exposed, and by what."""

    possible: bool
    considered: str = Field(description="Which months, and what was taken so.")
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
