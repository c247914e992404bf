"""Define how plates are told: cards, places, and one whole."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, Field

from wherestood.server.forms.items import ITEM_FORMS

__all__ = [
    "PlateCard",
    "PlateCards",
    "PlatePlaces",
    "PlateRegion",
    "PlateWhole",
    "Ready",
    "ScanLook",
]


class PlateCard(BaseModel):
    """Be one plate of the contact sheet."""

    id: str
    key: str
    title: str | None
    place_words: str | None
    date_words: str | None
    maker: str | None
    size: str | None
    grade: str | None
    from_year: float | None = Field(description="First year of exposure; null if open.")
    to_year: float | None = Field(description="Last year of exposure; null if open.")
    scan_id: str | None
    width_px: int | None
    height_px: int | None
    covered: bool = Field(description="Whether a person must ask to see the picture.")
    cover_because: str | None
    fix_id: str | None = Field(description="The newest fix that stands.")
    verdict: str | None
    lon_deg: float | None
    lat_deg: float | None
    sd_m: float | None = Field(description="Standard error, the greater way [m].")
    bearing_deg: float | None = Field(description="True bearing of the sight [deg].")
    field_deg: float | None = Field(description="How wide the plate sees [deg].")
    decision: str | None = Field(description="What a person concluded.")
    removed: bool


class PlateCards(BaseModel):
    """Be a page of the contact sheet."""

    cards: list[PlateCard]
    total: int


class PlatePlaces(BaseModel):
    """Hold camera positions of all plates chosen, column by column."""

    id: list[str]
    key: list[str]
    lon_deg: list[float | None]
    lat_deg: list[float | None]
    sd_m: list[float | None]
    bearing_deg: list[float | None]
    field_deg: list[float | None]
    verdict: list[str | None]
    from_year: list[float | None]
    to_year: list[float | None]


class PlateRegion(BaseModel):
    """Be the ground that holds a plate's camera with some probability."""

    plate_id: str
    probability: float
    rings_deg: list[list[tuple[float, float]]] = Field(
        description="Outlines, longitude before latitude [deg]."
    )


class Missing(BaseModel):
    """Say what a run still needs."""

    what: str = Field(description="scan, ground searched, terrain or evidence.")
    sentence: str
    remedy: str


class Complained(BaseModel):
    """Say what is wrong with an item of evidence."""

    sentence: str
    remedy: str
    item_id: str | None = Field(description="The item, where it is one.")


class Ready(BaseModel):
    """Say whether a run can be made, and what would not count."""

    can_run: bool
    missing: list[Missing]
    left_out: list[str]
    complaints: list[Complained]


class ScanLook(BaseModel):
    """Say how a scan is looked at."""

    scan_id: str
    width_px: int
    height_px: int
    px_per_mm: float | None
    size_mm: tuple[float, float] | None
    negative: bool
    version: str = Field(description="Another one as soon as it looks different.")
    notes: list[str]


def _list_of(table: str) -> Any:
    return list.__class_getitem__(ITEM_FORMS[table].whole)


_Plate: Any = ITEM_FORMS["plates"].whole
_Scans: Any = _list_of("scans")
_Details: Any = _list_of("details")
_Marks: Any = _list_of("marks")
_Evidence: Any = _list_of("evidence")
_Statements: Any = _list_of("statements")
_Dates: Any = _list_of("dates")
_Leads: Any = _list_of("leads")
_ProposedPositions: Any = _list_of("proposed_positions")
_Decisions: Any = _list_of("decisions")
_Fixes: Any = _list_of("fixes")
_Restrictions: Any = _list_of("restrictions")
_Rights: Any = _list_of("rights")
_Notes: Any = _list_of("notes")
_Features: Any = _list_of("features")


class PlateWhole(BaseModel):
    """Tell everything on one plate."""

    plate: _Plate
    look: ScanLook | None = Field(description="The scan that marks are made on.")
    scans: _Scans
    details: _Details
    marks: _Marks
    evidence: _Evidence
    statements: _Statements
    dates: _Dates
    leads: _Leads
    proposed_positions: _ProposedPositions
    decisions: _Decisions
    fixes: _Fixes
    restrictions: _Restrictions
    rights: _Rights
    notes: _Notes
    features: _Features = Field(
        description="Features that what is on the plate refers to."
    )
    ready: Ready
