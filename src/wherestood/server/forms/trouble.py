"""Define the one form in which every trouble is told."""

from __future__ import annotations

from pydantic import BaseModel, Field

__all__ = ["Trouble"]


class Trouble(BaseModel):
    """Tell what is wrong and what to do."""

    problem: str = Field(description="What is wrong and where, in one sentence.")
    remedy: str = Field(default="", description="What to do about it; may be empty.")
    field: str = Field(default="", description="The value at fault, where one is.")
