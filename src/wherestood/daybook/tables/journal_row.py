"""Define the journal, and the index of words that is made from the items."""

from __future__ import annotations

from typing import Any

from sqlalchemy import JSON, Integer, String
from sqlalchemy.orm import Mapped, mapped_column

from wherestood.daybook.tables.base import Base

__all__ = ["JournalRow", "Words"]


class JournalRow(Base):
    """Be one change of one item.

    Attributes
    ----------
    number : int
        Its place in this daybook's journal, from 1.
    uid : str
        32 hexadecimal digits that no other row of any daybook has.
    act : str
        Shared by the rows of one transaction: what is undone together.
    time : str
        UTC, ISO 8601 with microseconds.
    person : str
        Who did it.
    action : str
        ``add``, ``change``, ``remove``, ``restore``, ``undo``, ``redo``,
        ``withdraw``, ``withdraw all`` where the words went everywhere, or
        ``merge``.
    table_name, item_id : str
        What was changed.
    plate_id : str or None
        The plate it concerns.
    before, after : dict or None
        Values of the columns that changed; all of them where it was added.
        Emptied of content where that was withdrawn.
    why : str
        In the person's words; may be empty.
    undoes : str or None
        The act that this one takes back.
    seal : str or None
        Checksum of it and of the seal before it (`wherestood.daybook.seal`).
    sealed_elsewhere : list of [str, str] or None
        Of what came from other copies: the seal before it, and its own, in each.
    """

    __tablename__ = "journal"

    number: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=True)
    uid: Mapped[str] = mapped_column(String(32), unique=True)
    act: Mapped[str] = mapped_column(String(32), index=True)
    time: Mapped[str] = mapped_column(String(32))
    person: Mapped[str] = mapped_column(String)
    action: Mapped[str] = mapped_column(String(16))
    table_name: Mapped[str] = mapped_column(String(32))
    item_id: Mapped[str] = mapped_column(String(32), index=True)
    plate_id: Mapped[str | None] = mapped_column(String(32), index=True)
    before: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))
    after: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))
    why: Mapped[str] = mapped_column(String)
    undoes: Mapped[str | None] = mapped_column(String(32), index=True)
    seal: Mapped[str | None] = mapped_column(String(64))
    sealed_elsewhere: Mapped[list[list[str]] | None] = mapped_column(
        JSON(none_as_null=True)
    )


class Words(Base):
    """Hold an item's words in one case and without accents, for searching."""

    __tablename__ = "words"

    item_id: Mapped[str] = mapped_column(String(32), primary_key=True)
    table_name: Mapped[str] = mapped_column(String(32), index=True)
    plate_id: Mapped[str | None] = mapped_column(String(32), index=True)
    text: Mapped[str] = mapped_column(String)
