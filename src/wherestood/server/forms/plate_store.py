"""Define how boxes and shelves of glass are told, and a box is given."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field

__all__ = ["BoxGiven", "BoxOfPlates", "ShelfOfBoxes", "StoreTold"]


class BoxGiven(BaseModel):
    """Be a box as it is to be kept; without lots those counted before stay."""

    model_config = ConfigDict(extra="forbid")

    shelf: str = Field(min_length=1, max_length=200)
    kind: str = Field(default="dry plate", max_length=40)
    lots: list[str] = Field(
        default=[], max_length=200, description="How many, and of what size: 20,10x8in."
    )
    plate_ids: list[str] = Field(
        default=[], max_length=10_000, description="Plates that are laid into it."
    )
    limit_kg: float | None = Field(
        default=None, description="What its shelf may carry, where that is told."
    )


class BoxOfPlates(BaseModel):
    """Be what a box holds and weighs."""

    name: str
    plates: int
    glass_kg: float
    holds: list[str] = Field(description="Its lots and plates, in words.")


class ShelfOfBoxes(BaseModel):
    """Be what a shelf carries."""

    name: str
    boxes: list[BoxOfPlates]
    limit_kg: float | None
    share: float | None = Field(description="Of the limit.")
    words: str = Field(description="Empty where the limit is not told.")


class StoreTold(BaseModel):
    """Be every shelf, the glass in no box, and how glass is handled."""

    shelves: list[ShelfOfBoxes]
    in_no_box: BoxOfPlates
    not_weighed: list[str]
    cautions: list[str]
    kinds: list[str]
