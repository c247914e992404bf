"""Define the tables of what people and papers say, and what is still to ask."""

from __future__ import annotations

from typing import Any, ClassVar

from sqlalchemy.orm import Mapped

from wherestood.daybook.tables.base import (
    Keyed,
    choice,
    date_as_written,
    link,
    list_or_record,
    number,
    prose,
)

__all__ = ["QUERY_SHEET", "Dating", "Informant", "Lead", "Source", "Statement"]

#: With this a lead begins that was asked by a query sheet; its number follows.
QUERY_SHEET = "Query sheet "

#: The events of `wherestood.dating.events`, and what was in use for a span. Written
#: out, since the command line reads them whenever it starts; a test compares them.
DATED = (
    "exposed",
    "not before",
    "not after",
    "reported",
    "announced",
    "printed",
    "mounted",
    "published",
    "written on it",
    "exhibited",
    "registered",
    "acquired",
    "shown, built",
    "shown, contract let",
    "shown, foundation laid",
    "shown, moved here",
    "shown, first mentioned",
    "shown, name first used",
    "shown, gone",
    "shown, moved away",
    "shown, last mentioned",
    "missing, built",
    "missing, contract let",
    "missing, first mentioned",
    "missing, gone",
    "missing, last mentioned",
    "in use",
)


class Source(Keyed):
    """Be where something is written or shown."""

    __tablename__ = "sources"
    singular: ClassVar[str] = "source"
    told_by: ClassVar[tuple[str, ...]] = ("citation", "kind")

    citation: Mapped[str] = prose("how it is cited", required=True)
    kind: Mapped[str | None] = choice(
        "what it is",
        "archive",
        "book",
        "caption",
        "catalogue",
        "map",
        "newspaper",
        "oral",
        "photograph",
        "plan",
        "register",
        "website",
        "other",
    )
    held: Mapped[str | None] = prose("where it is held, with shelf mark")
    quotation: Mapped[str | None] = prose("its words, as written")
    written_by: Mapped[str | None] = prose("who wrote the words, or the caption")
    written_edtf: Mapped[str | None] = date_as_written(
        "when they were written, as written"
    )
    address: Mapped[str | None] = prose("address on the web")
    seen_edtf: Mapped[str | None] = date_as_written("when it was looked at")
    note: Mapped[str | None] = prose("anything else")


class Informant(Keyed):
    """Be somebody who told something, and what they allow."""

    __tablename__ = "informants"
    singular: ClassVar[str] = "informant"
    told_by: ClassVar[tuple[str, ...]] = ("name", "how_they_know")

    name: Mapped[str | None] = prose("their name")
    contact: Mapped[str | None] = prose("how to reach them")
    how_they_know: Mapped[str | None] = prose("how they know")
    said: Mapped[str | None] = prose("what they said, in their words")
    may_be_named: Mapped[str | None] = choice(
        "whether they may be named", "yes", "initials", "no", "not asked"
    )
    may_be_published: Mapped[str | None] = choice(
        "what of their words may be published",
        "all",
        "summary",
        "nothing",
        "not asked",
    )
    consent_words: Mapped[str | None] = prose("what they agreed to, and how")
    consent_edtf: Mapped[str | None] = date_as_written("when they agreed")
    note: Mapped[str | None] = prose("anything else")


class Statement(Keyed):
    """Be somebody's words about place, date or maker, with source and weight."""

    __tablename__ = "statements"
    singular: ClassVar[str] = "statement"
    told_by: ClassVar[tuple[str, ...]] = ("about", "words")

    plate_id: Mapped[str | None] = link("plates", "the plate it speaks of")
    about: Mapped[str | None] = choice(
        "what it speaks of", "place", "date", "maker", "subject", "other"
    )
    words: Mapped[str] = prose("the words, as written or said", required=True)
    source_id: Mapped[str | None] = link("sources", "where they are written")
    informant_id: Mapped[str | None] = link("informants", "who said them")
    feature_id: Mapped[str | None] = link("features", "the place they name")
    place: Mapped[str | None] = choice(
        "how the station lies to it", "inside", "within", "along", "on top of", "from"
    )
    within_m: Mapped[float | None] = number("how far they reach, metres", 0.0)
    weight: Mapped[float | None] = number("how probable they are right", 0.0, 1.0)
    means_edtf: Mapped[str | None] = date_as_written("the date they mean")
    stands_with: Mapped[str | None] = prose("name of what it stands or falls with")
    derived_from: Mapped[list[str] | None] = list_or_record(
        "keys of the statements it repeats"
    )
    more: Mapped[dict[str, Any] | None] = list_or_record(
        "more of it, key by key, as in the evidence file"
    )
    note: Mapped[str | None] = prose("anything else")


class Dating(Keyed):
    """Be a date or a bound of one, kept as written."""

    __tablename__ = "dates"
    singular: ClassVar[str] = "date"
    told_by: ClassVar[tuple[str, ...]] = ("of", "edtf", "words")

    plate_id: Mapped[str] = link("plates", "the plate it dates", required=True)
    of: Mapped[str | None] = choice("what was dated", *DATED)
    edtf: Mapped[str] = date_as_written("the date, EDTF (ISO 8601-2)", required=True)
    words: Mapped[str | None] = prose("the words it was read from")
    trust: Mapped[float | None] = number("how probable it is right", 0.0, 1.0)
    source_id: Mapped[str | None] = link("sources", "who says so")
    statement_id: Mapped[str | None] = link("statements", "the words it was read from")
    note: Mapped[str | None] = prose("how it was read, and anything else")


class Lead(Keyed):
    """Be something to look up or ask, what came of it, and what was not found."""

    __tablename__ = "leads"
    singular: ClassVar[str] = "lead"
    told_by: ClassVar[tuple[str, ...]] = ("what", "state", "because")

    plate_id: Mapped[str | None] = link("plates", "the plate it serves")
    what: Mapped[str] = prose("what to look up or ask", required=True)
    where: Mapped[str | None] = prose("where to look, or whom to ask")
    state: Mapped[str] = choice(
        "its state",
        "to do",
        "asked",
        "answered",
        "nothing found",
        "given up",
        required=True,
    )
    outcome: Mapped[str | None] = prose("what came of it, or was looked through")
    because: Mapped[str | None] = prose("why it was given up")
    due_edtf: Mapped[str | None] = date_as_written("by when")
    source_id: Mapped[str | None] = link("sources", "the source it led to")
    informant_id: Mapped[str | None] = link("informants", "who was asked")
    note: Mapped[str | None] = prose("anything else")
