"""Define how runs are asked for and answers told."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, WithJsonSchema

from wherestood.server.forms.items import ITEM_FORMS
from wherestood.server.forms.looking import LineRun
from wherestood.server.forms.plates import Complained

__all__ = [
    "ANSWER_SCHEMA",
    "Compared",
    "Contribution",
    "EvidenceTold",
    "FixMap",
    "FixWhole",
    "PlaceOnMap",
    "ProposedTold",
    "RegionOnMap",
    "RunAsked",
    "Screen",
]

#: Where the published form of a fix stands in the OpenAPI document.
ANSWER_SCHEMA = "FixAnswer"
_Answer = Annotated[
    dict[str, Any],
    WithJsonSchema({"type": "object", "x-schema": ANSWER_SCHEMA}),
]


_Fix: Any = ITEM_FORMS["fixes"].whole


class RunAsked(BaseModel):
    """Ask where the camera stood."""

    model_config = ConfigDict(extra="forbid")
    near_enough_m: float | None = Field(
        default=None, description="As the plate has it if none."
    )
    without: list[str] = Field(
        default=[], description="Items that are not to count, by id."
    )
    without_statements: bool = Field(
        default=False, description="Leave out what people say."
    )
    no_skyline: bool = False
    together: bool = Field(
        default=False, description="With the other plates of its panorama."
    )
    each_own_lens: bool = Field(
        default=False, description="Those may have had other lenses."
    )
    ridge_lines: bool = True
    horizon_radius_m: float = Field(default=30_000.0, ge=1_000.0, le=200_000.0)
    refraction: float = 0.13
    seed: int = Field(default=1, ge=0)


class EvidenceTold(BaseModel):
    """Tell what a run would be given, as the evidence file has it."""

    document: dict[str, Any]
    item_ids: dict[str, str] = Field(description="Items by their id in the document.")
    left_out: list[str]
    complaints: list[Complained]


class Contribution(BaseModel):
    """Say what one item or group contributes to an answer."""

    name: str
    ids: list[str] = Field(description="Items, as the evidence file calls them.")
    item_ids: list[str] = Field(description="Items of the daybook.")
    sentence: str
    means: str = Field(description="What that means, in a few words; may be empty.")
    moved_m: float | None
    expected_m: float | None
    moved_sds: float | None
    area_ratio: float | None
    lon_deg: float | None
    lat_deg: float | None


class ProposedTold(BaseModel):
    """Say what the evidence says of somebody's answer."""

    name: str
    verdict: str
    sentence: str


class SectionTold(BaseModel):
    """Be one headed part of the page of words; a table's first row is its head."""

    heading: str
    lines: list[str]
    table: list[list[str]]


class Screen(BaseModel):
    """Be what an answer shows on the screens, in words and lines."""

    verdict: str
    position: str = Field(description="The likeliest place, with its doubt.")
    odds: str = Field(description="How sure, in words.")
    elsewhere: str
    condition: str = Field(description="On what the odds rest.")
    alternatives: list[str] = Field(description="Odds of the other places, in words.")
    contributions: list[Contribution] = Field(description="The weightiest first.")
    without_statements: Contribution | None
    advice: list[str] = Field(description="What to look for next, the best first.")
    proposed: list[ProposedTold]
    sections: list[SectionTold] = Field(description="The whole page of words.")
    skyline: list[LineRun] = Field(description="The computed horizon [px].")
    skyline_distance_m: list[list[float]]
    ridges: list[tuple[float, float, float, float]]
    cells_m: list[tuple[float, float, float, float]] = Field(
        description="East, north, side and probability of cells, in the ground's grid."
    )


class FixWhole(BaseModel):
    """Tell a fix whole."""

    fix: _Fix
    answer: _Answer
    words: str | None
    screen: Screen | None = Field(description="Null for fixes made elsewhere.")
    pictures: list[str] = Field(description="Names of its pictures.")
    changed: list[str] = Field(description="What changed since, in sentences.")
    asked: dict[str, Any] = Field(description="How it was asked, every setting.")


class PlaceOnMap(BaseModel):
    """Be a camera position on the map."""

    name: str
    lon_deg: float
    lat_deg: float
    east_m: float | None
    north_m: float | None
    sd_east_m: float | None
    sd_north_m: float | None
    bearing_deg: float | None
    field_deg: float | None
    probability: float | None


class RegionOnMap(BaseModel):
    """Be the smallest ground that holds a share of the probability."""

    probability: float
    geometry: dict[str, Any] = Field(description="MultiPolygon, longitude, latitude.")
    rings_m: list[list[list[tuple[float, float]]]] = Field(
        description="The same in the ground's grid [m]; empty without a ground."
    )


class FixMap(BaseModel):
    """Be an answer on the map."""

    station: PlaceOnMap
    alternatives: list[PlaceOnMap]
    proposed: list[PlaceOnMap]
    regions: list[RegionOnMap]


class Compared(BaseModel):
    """Set two runs of one plate beside each other."""

    apart_m: float
    sentences: list[str]
