"""Define what every item of a daybook carries, whatever its table."""

from __future__ import annotations

import uuid
from typing import Any, ClassVar

from sqlalchemy import (
    JSON,
    Boolean,
    Float,
    ForeignKey,
    Integer,
    MetaData,
    String,
    UniqueConstraint,
)
from sqlalchemy.orm import (
    DeclarativeBase,
    Mapped,
    MappedColumn,
    declared_attr,
    mapped_column,
)

__all__ = [
    "About",
    "Base",
    "Item",
    "Keyed",
    "OnPlate",
    "checksum",
    "choice",
    "date_as_written",
    "link",
    "list_or_record",
    "number",
    "prose",
    "whole_number",
    "yes_or_no",
]

NAMES_OF_CONSTRAINTS = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}


class Base(DeclarativeBase):
    """Be the root of all tables."""

    metadata = MetaData(naming_convention=NAMES_OF_CONSTRAINTS)


def _new_id() -> str:
    return uuid.uuid4().hex


def prose(about: str, *, required: bool = False, fixed: bool = False) -> Any:
    """Describe a column of free words.

    Parameters
    ----------
    about : str
        What it holds, for a person to read.
    required : bool
        Whether an item cannot do without.
    fixed : bool
        Whether it stays as it was when the item was added.
    """
    info = {"about": about, "fixed": fixed, "content": True}
    return mapped_column(String, nullable=not required, info=info, active_history=True)


def date_as_written(about: str, *, required: bool = False) -> Any:
    """Describe a column that holds a date, EDTF as a person wrote it."""
    info = {"about": about, "content": True, "edtf": True}
    return mapped_column(String, nullable=not required, info=info, active_history=True)


def checksum(about: str) -> Any:
    """Describe a column that holds a file's checksum; a stub keeps it.

    From it nothing of the file can be told, but the same file is known again.
    """
    info = {"about": about}
    return mapped_column(String, nullable=False, info=info, active_history=True)


def choice(about: str, *known: str, required: bool = False) -> Any:
    """Describe a column that holds one of some known words."""
    info = {"about": about, "choices": known}
    return mapped_column(String, nullable=not required, info=info, active_history=True)


def number(
    about: str,
    least: float | None = None,
    most: float | None = None,
    *,
    fixed: bool = False,
) -> Any:
    """Describe a column that holds a number within limits."""
    info = {
        "about": about, "least": least, "most": most, "fixed": fixed, "content": True,
    }  # fmt: skip
    return mapped_column(Float(53), nullable=True, info=info, active_history=True)


def whole_number(about: str, least: int | None = None) -> Any:
    """Describe a column that holds a whole number."""
    info = {"about": about, "least": least, "content": True}
    return mapped_column(Integer, nullable=True, info=info, active_history=True)


def yes_or_no(about: str) -> Any:
    """Describe a column that holds yes, no, or nothing where it is not known."""
    info = {"about": about, "content": True}
    return mapped_column(Boolean, nullable=True, info=info, active_history=True)


def list_or_record(about: str, *, fixed: bool = False, holds: str = "") -> Any:
    """Describe a column of JSON, and what `daybook.typed_lists` says it holds."""
    info = {"about": about, "fixed": fixed, "content": True, "holds": holds}
    return mapped_column(
        JSON(none_as_null=True), nullable=True, info=info, active_history=True
    )


def link(table: str, about: str, *, required: bool = False) -> Any:
    """Describe a column that refers to an item of another table."""
    info = {"about": about, "table": table}
    return mapped_column(
        String(32), ForeignKey(f"{table}.id"), nullable=not required, index=True,
        info=info, active_history=True,
    )  # fmt: skip


class Item(Base):
    """Be one thing a daybook holds; every change of it is a row of the journal.

    Attributes
    ----------
    id : str
        32 hexadecimal digits, never used twice, so that copies can be merged.
    removed : bool
        Whether a person set it aside. No row is ever deleted.
    withdrawn : str or None
        When its content was taken out for good, UTC; what is left is a stub.
    revision : int
        How often it was written; a writer who read an older one is refused.
    """

    __abstract__ = True

    #: What one is called, and several; what its keys begin with.
    singular: ClassVar[str]
    #: True where nothing but ``removed`` may change once it was added.
    kept_as_added: ClassVar[bool] = False
    #: Columns that make the one line by which a person knows the item.
    told_by: ClassVar[tuple[str, ...]] = ()

    id: Mapped[str] = mapped_column(String(32), primary_key=True)
    removed: Mapped[bool] = mapped_column(Boolean, nullable=False, active_history=True)
    withdrawn: Mapped[str | None] = mapped_column(
        String(32), nullable=True, active_history=True
    )
    revision: Mapped[int] = mapped_column(Integer, nullable=False)

    def __init__(self, **values: Any) -> None:
        given = {"id": _new_id(), "removed": False, **values}
        super().__init__(**given)

    @declared_attr.directive
    def __mapper_args__(cls) -> dict[str, Any]:  # noqa: N805
        return {"version_id_col": cls.__table__.c.revision}


class Keyed(Item):
    """Be an item that a person calls by a key of its own: ``lead-3``.

    Attributes
    ----------
    key : str
        Given by the person, or by the daybook where left out.
    """

    __abstract__ = True

    key: Mapped[str] = mapped_column(
        String, nullable=False, unique=True, info={"about": "what it is called by"}
    )


class OnPlate(Item):
    """Be an item that a person calls by its plate and a key: ``1987.12/A``."""

    __abstract__ = True

    @declared_attr
    def plate_id(cls) -> MappedColumn[str]:  # noqa: N805
        """Refer to the plate."""
        column: MappedColumn[str] = link("plates", "its plate", required=True)
        return column

    key: Mapped[str] = mapped_column(
        String, nullable=False, info={"about": "what it is called by on its plate"}
    )

    @declared_attr.directive
    def __table_args__(cls) -> tuple[UniqueConstraint]:  # noqa: N805
        return (UniqueConstraint("plate_id", "key"),)


class About(Keyed):
    """Be an item that says something about an item of any table.

    Attributes
    ----------
    about_table, about_id : str
        The item; references are checked by `wherestood.daybook.originals.verify`.
    plate_id : str or None
        The plate it concerns, so that the plate's history tells of it.
    """

    __abstract__ = True

    about_table: Mapped[str] = mapped_column(String, nullable=False)
    about_id: Mapped[str] = mapped_column(String(32), nullable=False, index=True)

    @declared_attr
    def plate_id(cls) -> MappedColumn[str | None]:  # noqa: N805
        """Refer to the plate."""
        column: MappedColumn[str | None] = link("plates", "the plate it concerns")
        return column
