"""Define how a plate's making, minutes between plates and a maker's ways are told."""

from __future__ import annotations

from pydantic import BaseModel, Field

from wherestood.record.page import Section

__all__ = [
    "Exposed",
    "JourneyTold",
    "JourneysTold",
    "LensFit",
    "LensTold",
    "MadeTold",
    "MinutesTold",
    "NotBoth",
    "OneSection",
    "ReversalTold",
    "SidesTold",
    "SizeRanked",
    "StopTold",
    "WhereaboutTold",
]


class OneSection(BaseModel):
    """Be a heading, its sentences and, below them, a table."""

    heading: str
    lines: list[str]
    table: list[list[str]]

    @staticmethod
    def of(section: Section) -> OneSection:
        """Take over a section of a page."""
        return OneSection(
            heading=section.heading,
            lines=list(section.lines),
            table=[list(row) for row in section.table],
        )


class SizeRanked(BaseModel):
    """Be a size that the trade sold, and how probable it is."""

    name: str
    trimmed: bool
    probability: float


class SidesTold(BaseModel):
    """Be a plate's measured sides."""

    long_mm: float
    short_mm: float
    sd_mm: float
    source: str
    sizes: list[SizeRanked]


class LensFit(BaseModel):
    """Be a group of lenses, and how well it covers the plate, 0 to 1."""

    name: str
    fit: float


class LensTold(BaseModel):
    """Be lens to plate, and what the plate sees."""

    principal_distance_mm: float
    sd_mm: float
    across_deg: float
    high_deg: float
    diagonal_deg: float
    groups: list[LensFit]


class Exposed(BaseModel):
    """Be how long a plate was exposed, by one blur."""

    key: str
    moving: str
    seconds: float
    low_s: float
    high_s: float


class ReversalTold(BaseModel):
    """Be how probable it is that the scan is left for right."""

    verdict: str
    by_process: float
    by_all: float
    hills_odds: float
    readings: list[str]


class MadeTold(BaseModel):
    """Be how a plate was made."""

    sides: SidesTold | None
    lens: LensTold | None
    exposures: list[Exposed]
    kinds: dict[str, float] | None
    clues: list[str]
    reversal: ReversalTold
    notes: list[str]
    words: list[OneSection]


class MinutesTold(BaseModel):
    """Be the minutes between two plates of a panorama."""

    first: str
    second: str
    minutes: float | None = Field(description="Of the second plate less the first's.")
    sd_min: float | None
    second_later: float
    within_cycle: float
    too_short: float
    notes: list[str]
    words: list[str]

    @staticmethod
    def not_told(first: str, second: str, why: str) -> MinutesTold:
        """Say why nothing can be told."""
        return MinutesTold(
            first=first, second=second, minutes=None, sd_min=None, second_later=0.5,
            within_cycle=0.0, too_short=0.0, notes=[why], words=[why],
        )  # fmt: skip


class StopTold(BaseModel):
    """Be a plate of a maker's that has a place and a date."""

    plate: str
    plate_id: str
    title: str
    lon_deg: float
    lat_deg: float
    first_day: str
    last_day: str
    words: str
    fits_trip: bool | None


class JourneyTold(BaseModel):
    """Be the way from one stop to the next."""

    start: str
    end: str
    km: float
    days_needed: float
    days_there: int
    possible: bool


class NotBoth(BaseModel):
    """Be two plates that no one traveller can have made."""

    plates: list[str]
    km: float
    days_needed: float
    days_there: int


class WhereaboutTold(BaseModel):
    """Be a place at which a source says that the maker was."""

    statement_id: str
    words: str
    lon_deg: float
    lat_deg: float
    first_day: str
    last_day: str
    by: str
    source: str


class JourneysTold(BaseModel):
    """Be which journeys a maker's plates allow."""

    maker: str
    by: str
    stops: list[StopTold]
    whereabouts: list[WhereaboutTold]
    journeys: list[JourneyTold]
    not_both: list[NotBoth]
    left_out: list[str]
    words: list[OneSection]
