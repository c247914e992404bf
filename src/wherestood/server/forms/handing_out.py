"""Define what is asked and told when plates are handed out."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

__all__ = ["FormOffered", "HandOutAsked", "HandOutWould", "PhotographsOffered"]


class FormOffered(BaseModel):
    """Be a form in which plates are handed out."""

    name: str
    what: str = Field(description="What it is, and for what.")


class HandOutAsked(BaseModel):
    """Say which plates are to be handed out, for whom, and in which forms."""

    model_config = ConfigDict(extra="forbid")

    audience: Literal["full", "public"] = Field(
        description="All as it is known, or what everybody may know."
    )
    plate_ids: list[str] = Field(
        default=[], max_length=20_000, description="All plates where none is named."
    )
    forms: list[str] = Field(
        default=[], max_length=40, description="All forms where none is named."
    )
    title: str = Field(default="", max_length=500)
    address: str = Field(
        default="",
        max_length=2000,
        pattern=r"^(https?://.*)?$",
        description="Where it will be found on the web.",
    )
    pictures: bool = True
    photographs: bool = Field(
        default=False,
        description="Whether photographs made on the spot go along, on the page.",
    )
    leave_out: bool = Field(
        default=False, description="Whether what recorded terms forbid is left out."
    )


class HandOutWould(BaseModel):
    """Say what would go out, before it does."""

    plates: int
    places: int = Field(description="Of how many a place is told.")
    withheld: int = Field(description="Of how many it is not told as it is known.")
    broken: list[str] = Field(description="Recorded terms that would be broken.")
    left_out: list[str] = Field(description="What stays out, in sentences.")
    cautions: list[str] = Field(
        description="Places told exactly that stand by one that may not be."
    )


class PhotographsOffered(BaseModel):
    """Name the plates of which a photograph made on the spot is kept."""

    plate_ids: list[str]
