"""Define the tables of care: rights, restrictions, notes, settings."""

from __future__ import annotations

from typing import Any, ClassVar

from sqlalchemy.orm import Mapped

from wherestood.daybook.tables.base import (
    About,
    Keyed,
    choice,
    date_as_written,
    list_or_record,
    prose,
    yes_or_no,
)

__all__ = ["PRECISIONS", "Note", "Restriction", "Right", "Setting"]

#: How closely a place may be published, from the closest.
PRECISIONS = ("exact", "100 m", "1 km", "region only", "withheld")


class Right(About):
    """Be who holds what rights in an item, and on what terms it may be used."""

    __tablename__ = "rights"
    singular: ClassVar[str] = "right"
    told_by: ClassVar[tuple[str, ...]] = ("what", "holder", "licence")

    what: Mapped[str | None] = choice(
        "what the right is in",
        "image",
        "scan",
        "plan",
        "elevation",
        "base map",
        "modern photograph",
        "words",
    )
    holder: Mapped[str | None] = prose("who holds it; UNKNOWN where not known")
    licence: Mapped[str | None] = prose("licence; UNKNOWN where not known")
    credit: Mapped[str | None] = prose("the credit line")
    terms: Mapped[str | None] = prose("terms of use")
    may_be_published: Mapped[bool | None] = yes_or_no("whether it may be published")
    note: Mapped[str | None] = prose("anything else")


class Restriction(About):
    """Be how closely an item's place may be published, and its picture's cover."""

    __tablename__ = "restrictions"
    singular: ClassVar[str] = "restriction"
    told_by: ClassVar[tuple[str, ...]] = ("precision", "because")

    precision: Mapped[str | None] = choice(
        "how closely its place may be published", *PRECISIONS
    )
    covered: Mapped[bool | None] = yes_or_no(
        "whether the picture is covered until a person asks to see it"
    )
    published_words: Mapped[str | None] = prose(
        "in what words the place may be published: the valley, the county"
    )
    published_title: Mapped[str | None] = prose(
        "a title that may be published in place of its own"
    )
    because: Mapped[str | None] = prose("why")
    asked_by: Mapped[str | None] = prose("who asked for it")
    until_edtf: Mapped[str | None] = date_as_written(
        "until when, as written; it holds on without"
    )


class Note(About):
    """Be a note on any item."""

    __tablename__ = "notes"
    singular: ClassVar[str] = "note"
    told_by: ClassVar[tuple[str, ...]] = ("words",)

    words: Mapped[str] = prose("the note", required=True)


class Setting(Keyed):
    """Be something the daybook remembers for all its plates."""

    __tablename__ = "settings"
    singular: ClassVar[str] = "setting"
    told_by: ClassVar[tuple[str, ...]] = ("value",)

    value: Mapped[dict[str, Any] | None] = list_or_record("what is remembered")
