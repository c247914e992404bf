"""Define what items share that weigh in a fix."""

from __future__ import annotations

from sqlalchemy.orm import Mapped, MappedColumn, declared_attr

from wherestood.daybook.tables.base import (
    OnPlate,
    link,
    list_or_record,
    number,
    prose,
    yes_or_no,
)

__all__ = ["Weighed"]


class Weighed(OnPlate):
    """Be an item of evidence on a plate."""

    __abstract__ = True

    trust: Mapped[float | None] = number("how probable it is no blunder", 0.0, 1.0)
    stands_with: Mapped[str | None] = prose("name of what it stands or falls with")
    derived_from: Mapped[list[str] | None] = list_or_record(
        "keys of the items it was taken from"
    )
    traced_blind: Mapped[bool | None] = yes_or_no(
        "whether it was read without sight of what the terrain says"
    )

    @declared_attr
    def source_id(cls) -> MappedColumn[str | None]:  # noqa: N805
        """Refer to the source."""
        column: MappedColumn[str | None] = link("sources", "who says so")
        return column

    source_words: Mapped[str | None] = prose("who says so, in words")
    note: Mapped[str | None] = prose("anything else")
