"""Define the tables of answers: fixes, what they rest on, proposals, decisions."""

from __future__ import annotations

from typing import Any, ClassVar

from sqlalchemy import Index
from sqlalchemy.orm import Mapped

from wherestood.daybook.tables.base import (
    Keyed,
    choice,
    link,
    list_or_record,
    number,
    prose,
    whole_number,
)

__all__ = ["Decision", "Fix", "FixInput", "ProposedPosition"]


class Fix(Keyed):
    """Be one answer of the program, with all that is needed to make it again."""

    __tablename__ = "fixes"
    __table_args__ = (
        Index("ix_fixes_place", "plate_id", "removed", "made", "lat_deg", "lon_deg"),
    )
    singular: ClassVar[str] = "fix"
    kept_as_added: ClassVar[bool] = True
    told_by: ClassVar[tuple[str, ...]] = ("verdict", "made")

    plate_id: Mapped[str] = link("plates", "its plate", required=True)
    made: Mapped[str] = prose("when it was made, UTC", required=True)
    version: Mapped[str | None] = prose("version of the program that made it")
    verdict: Mapped[str] = prose("its verdict", required=True)
    near_enough_m: Mapped[float | None] = number("how close was asked, metres")
    lon_deg: Mapped[float | None] = number("longitude of the likeliest station")
    lat_deg: Mapped[float | None] = number("latitude of the likeliest station")
    height_m: Mapped[float | None] = number("its height, metres")
    sd_east_m: Mapped[float | None] = number("its standard error, metres")
    sd_north_m: Mapped[float | None] = number("its standard error, metres")
    elsewhere: Mapped[float | None] = number("how probable none of its places is")
    answer: Mapped[dict[str, Any] | None] = list_or_record("its published form")
    words: Mapped[str | None] = prose("its page of words")
    question: Mapped[dict[str, Any] | None] = list_or_record(
        "how plate and ground were opened, and every setting"
    )
    skyline_csv: Mapped[str | None] = prose("the lines used, as a skyline file")
    evidence_toml: Mapped[str | None] = prose("the evidence used, as its file")
    after_journal: Mapped[int | None] = whole_number(
        "the journal's last row when its inputs were read"
    )


class FixInput(Keyed):
    """Be one file or item that a fix was made from, as it then was."""

    __tablename__ = "fix_inputs"
    singular: ClassVar[str] = "input of a fix"
    kept_as_added: ClassVar[bool] = True
    told_by: ClassVar[tuple[str, ...]] = ("role", "name")

    fix_id: Mapped[str] = link("fixes", "the fix", required=True)
    role: Mapped[str] = choice("what it is", "scan", "terrain", "item", required=True)
    name: Mapped[str] = prose("its name", required=True)
    file: Mapped[str | None] = prose("the file, within the daybook or whole")
    sha256: Mapped[str | None] = prose("checksum of the file, or of the item")
    item_table: Mapped[str | None] = choice("the table of the item")
    item_id: Mapped[str | None] = choice("the item")


class ProposedPosition(Keyed):
    """Be a station that a person or catalogue proposes."""

    __tablename__ = "proposed_positions"
    singular: ClassVar[str] = "proposed position"
    told_by: ClassVar[tuple[str, ...]] = ("proposed_by", "lon_deg", "lat_deg")

    plate_id: Mapped[str] = link("plates", "its plate", required=True)
    proposed_by: Mapped[str | None] = prose("who proposes it")
    lon_deg: Mapped[float | None] = number("longitude, degrees", -360.0, 360.0)
    lat_deg: Mapped[float | None] = number("latitude, degrees", -90.0, 90.0)
    doubt_m: Mapped[float | None] = number("its doubt, metres", 0.0)
    bearing_deg: Mapped[float | None] = number("true bearing, degrees", 0.0, 360.0)
    reason: Mapped[str | None] = prose("why, in their words")
    source_id: Mapped[str | None] = link("sources", "where it is written")
    informant_id: Mapped[str | None] = link("informants", "who said it")
    note: Mapped[str | None] = prose("anything else")


class Decision(Keyed):
    """Be what a person concluded, when, in their words; superseded, never deleted."""

    __tablename__ = "decisions"
    singular: ClassVar[str] = "decision"
    kept_as_added: ClassVar[bool] = True
    told_by: ClassVar[tuple[str, ...]] = ("conclusion", "decided_by", "words")

    plate_id: Mapped[str] = link("plates", "its plate", required=True)
    fix_id: Mapped[str | None] = link("fixes", "the fix it is about")
    proposed_position_id: Mapped[str | None] = link(
        "proposed_positions", "the proposed position it is about"
    )
    conclusion: Mapped[str] = choice(
        "what was concluded",
        "accepted",
        "accepted with conditions",
        "rejected",
        required=True,
    )
    conditions: Mapped[str | None] = prose("on what conditions")
    words: Mapped[str] = prose("why, in their words", required=True)
    decided_by: Mapped[str] = prose("who decided", required=True)
    decided: Mapped[str] = prose("when, UTC", required=True)
    supersedes_id: Mapped[str | None] = link("decisions", "the decision it replaces")
