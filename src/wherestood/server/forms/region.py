"""Define what holds for dates in the daybook's country."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field

__all__ = ["RegionChange", "RegionTold", "TableGiven"]

#: A table of a region has some hundred rows at most.
MOST_LETTERS = 200_000


class TableGiven(BaseModel):
    """Be a table of the person's own, TOML."""

    model_config = ConfigDict(extra="forbid")

    name: str = Field(min_length=1, max_length=200, description="Of its file.")
    text: str = Field(max_length=MOST_LETTERS)


class RegionChange(BaseModel):
    """Change some of what is kept; what is left out stays, None takes a table away."""

    model_config = ConfigDict(extra="forbid")

    julian: bool | None = None
    periods: TableGiven | None = None
    signs: TableGiven | None = None
    between: str | None = Field(
        default=None, max_length=100, description="Months considered, an EDTF span."
    )


class RegionTold(BaseModel):
    """Tell what is kept, and the names that can be chosen by it."""

    julian: bool
    periods: TableGiven | None
    signs: TableGiven | None
    between: str | None
    period_names: list[str]
    sign_names: list[str]
