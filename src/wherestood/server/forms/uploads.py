"""Define how files are sent in, and what they become."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

__all__ = [
    "FeaturesTaken",
    "PlansWanted",
    "Received",
    "ScansWanted",
    "TerrainWanted",
    "Uploading",
]

ScanWhat = Literal[
    "negative", "contact print", "enlargement", "lantern slide", "newspaper cut",
    "postcard", "piece", "other",
]  # fmt: skip


class _Given(BaseModel):
    model_config = ConfigDict(extra="forbid")


class Uploading(BaseModel):
    """Be a set of files on their way in."""

    upload_id: str


class Received(BaseModel):
    """Say that a file came whole."""

    name: str
    size_bytes: int


class ScansWanted(_Given):
    """Say of which plate the files sent are scans."""

    plate_id: str | None = None
    plate_key: str | None = Field(
        default=None, description="A new plate's key; by the files' names if left out."
    )
    title: str | None = None
    what: ScanWhat | None = None
    main: bool | None = None
    again: bool = Field(
        default=False, description="Take in what is there byte by byte."
    )


class TerrainWanted(_Given):
    """Say what the elevation files sent are."""

    title: str | None = None
    surface: Literal["ground", "top", "unknown"] = "unknown"
    provenance: str | None = None
    licence: str | None = None
    credit: str | None = None
    vertical_datum: str | None = None
    note: str | None = None


class PlansWanted(_Given):
    """Say what the plans sent are."""

    title: str | None = None
    page: int | None = Field(
        default=None, ge=1, description="Which page is the plan, where there are many."
    )
    must_lie: bool = Field(
        default=True,
        description="Refuse a plan that does not say where it lies on the ground; "
        "otherwise it is pinned afterwards.",
    )


class FeaturesTaken(BaseModel):
    """Say what became of a file of features."""

    added: list[str]
    already_there: int
    notes: list[str]
    refused: list[str]


class FeatureCollection(BaseModel):
    """Be features as GeoJSON (RFC 7946)."""

    type: Literal["FeatureCollection"] = "FeatureCollection"
    features: list[dict[str, Any]]
