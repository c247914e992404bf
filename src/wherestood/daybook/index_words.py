"""Keep the words of items in a form in which they are found."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from sqlalchemy import Connection, delete, insert, inspect

from wherestood.daybook.tables import Item, Words

__all__ = ["folded", "index_items", "words_of"]

#: Texts that are made by the program, and would only bury a person's words.
_NOT_INDEXED = {
    "answer", "content", "corners_px", "crop_px", "embedded", "evidence_toml",
    "files", "geometry", "overlaps", "perceptual_hash", "pins", "points_px",
    "question", "registration", "sha256", "skyline_csv", "value",
}  # fmt: skip


def folded(text: str) -> str:
    """Return a text in one case, without accents, with single spaces.

    Examples
    --------
    >>> folded("Mühle am  Bach")
    'muhle am bach'
    """
    if text.isascii():  # most are, and have no accents
        return " ".join(text.lower().split())
    apart = unicodedata.normalize("NFKD", text.casefold())
    bare = "".join(letter for letter in apart if not unicodedata.combining(letter))
    return " ".join(bare.casefold().split())


def index_items(connection: Connection, items: Sequence[Item]) -> None:
    """Write the words of items anew."""
    latest = {item.id: item for item in items}
    gone = list(latest)
    for start in range(0, len(gone), 500):  # SQLite takes 32766 values a statement
        part = gone[start : start + 500]
        connection.execute(delete(Words).where(Words.item_id.in_(part)))
    rows = [row for item in latest.values() if (row := words_of(item))]
    if rows:
        connection.execute(insert(Words), rows)


def words_of(item: Item) -> dict[str, Any] | None:
    """Return the row of words of an item; None where it has none."""
    if item.withdrawn:
        return None
    parts = [getattr(item, "key", "") or ""]
    for column in inspect(item).mapper.columns:
        if column.info.get("content") and column.key not in _NOT_INDEXED:
            parts.extend(_texts(getattr(item, column.key)))
    plate = item.id if item.__tablename__ == "plates" else getattr(item, "plate_id", "")
    text = folded(" | ".join(parts))
    return {
        "item_id": item.id,
        "table_name": item.__tablename__,
        "plate_id": plate or None,
        "text": text,
    }


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        yield from _texts_of_all(value.values())
    elif isinstance(value, list | tuple):
        yield from _texts_of_all(value)


def _texts_of_all(values: Iterable[Any]) -> Iterator[str]:
    for value in values:
        yield from _texts(value)
