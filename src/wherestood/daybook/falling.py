"""Say what of an item is content, and what falls with it when it is withdrawn."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Iterable, Mapping
from functools import cache
from types import MappingProxyType
from typing import Any

from sqlalchemy import inspect

from wherestood.daybook.files_held import is_report
from wherestood.daybook.redact import STUB, Needles, is_too_short, strings_in
from wherestood.daybook.tables import ITEMS, QUERY_SHEET

__all__ = [
    "falls_by",
    "own_words",
    "parts_of_names",
    "redacted",
    "stands_without",
    "stub_columns",
    "stub_of",
    "words_in",
]

#: What falls with an item, by the column that refers to it.
_FALLS_WITH = frozenset({"plate_id", "informant_id", "fix_id"})
_ONLY_WITH = {"feature_id": ("feature_names",)}
#: Names of people, and how to reach them: found elsewhere however short.
_NAMES = frozenset(
    {
        ("informants", "contact"), ("informants", "name"),
        ("proposed_positions", "proposed_by"), ("requests", "asked_by"),
        ("requests", "contact"),
    }
)  # fmt: skip
#: Free words of a person, which others may repeat. A place, a date, a holder or a
#: maker is nobody's words: taking "Kern" out of everywhere would ruin what others say.
_FREE_WORDS = frozenset(
    {
        "because", "conditions", "consent_words", "description", "how_they_know",
        "identified_by", "inscription", "note", "outcome", "quotation", "reason",
        "said", "title", "what", "words",
    }
)  # fmt: skip
#: Fewer words than these are anybody's.
_FEWEST_WORDS = 3
#: What people said is theirs wherever it stands, though two items say the same.
_OF_PEOPLE = _NAMES | {("informants", "said"), ("statements", "words")}
#: Columns by which files are found and times known; no words of a person.
_NO_WORDS = frozenset(
    {
        "decided", "file", "files", "made", "perceptual_hash", "question", "sha256",
        "version",
    }
)  # fmt: skip


@cache
def stub_columns(table: str) -> Mapping[str, Any]:
    """Return the columns of a table that hold content, and what a stub has there."""
    return MappingProxyType(
        {
            column.key: None if column.nullable else STUB
            for column in inspect(ITEMS[table]).columns
            if column.info.get("content")
        }
    )


#: What stays of an issued report: its number, and whom to tell that it was withdrawn.
_STAYS_OF_REPORT = ("number", "made", "plates", "public", "received")


def stub_of(table: str, row: Mapping[str, Any]) -> Mapping[str, Any]:
    """Return the columns of an item that hold content, and what its stub has there.

    Parameters
    ----------
    table : str
        The item's.
    row : mapping
        Its columns, as they are before or after it was withdrawn.
    """
    stub = stub_columns(table)
    if not is_report(table, row):
        return stub
    kept = {name: row["value"].get(name) for name in _STAYS_OF_REPORT}
    empty: dict[str, Any] = {"author": "", "title": STUB, "fixes": [], "files": [],
                             "errata": []}  # fmt: skip
    return {**stub, "value": {**kept, **empty}}


@cache
def _columns_of_words(table: str) -> tuple[str, ...]:
    return tuple(
        column.key
        for column in inspect(ITEMS[table]).columns
        if column.info.get("content")
        and not column.info.get("edtf")
        and column.key not in _NO_WORDS
    )


def words_in(table: str, row: Mapping[str, Any]) -> set[str]:
    """Return the texts of an item that others may repeat: names, and free words."""
    found: set[str] = set()
    for column in _columns_of_words(table):
        value = row.get(column)
        if (table, column) in _NAMES and isinstance(value, str):
            found.add(value)
        elif column in _FREE_WORDS and isinstance(value, str):
            found.update([value] if len(value.split()) >= _FEWEST_WORDS else ())
    return found - {STUB}


def parts_of_names(table: str, row: Mapping[str, Any]) -> set[str]:
    """Return the single words of a person's name: a surname may stand alone."""
    name = row.get("name") if table == "informants" else None
    # An accent that stands apart would part the word.
    composed = unicodedata.normalize("NFC", name or "")
    words = [w for w in re.findall(r"\w[\w'-]*", composed) if not is_too_short(w)]
    capital = {word for word in words if word[0].isupper()}
    return (capital or set(words)) - {STUB.strip("[]")}


def redacted(table: str, row: Mapping[str, Any], needles: Needles) -> dict[str, Any]:
    """Return those columns of an item that hold the words, without them."""
    changed = {}
    for column in _columns_of_words(table):
        value = row.get(column)
        if value is not None and (without := needles.taken_out_of(value)) != value:
            changed[column] = without
    return changed


def falls_by(table: str) -> list[tuple[str, str]]:
    """Return the columns by which an item of a table falls, and the tables meant.

    What an item is *about* (`wherestood.daybook.tables.About`) comes besides.
    """
    return [
        (column.key, str(column.info["table"]))
        for column in inspect(ITEMS[table]).columns
        if column.info.get("table")
        and (column.key in _FALLS_WITH or table in _ONLY_WITH.get(column.key, ()))
    ]


def stands_without(table: str, row: Mapping[str, Any], column: str) -> bool:
    """Tell whether an item stays though the one that a column refers to falls.

    A query sheet is its asker's own: what was replied to it stands in statements, and
    others may have replied to it too, or will.
    """
    asked = table == "leads" and column == "informant_id"
    return asked and str(row.get("what") or "").startswith(QUERY_SHEET)


def own_words(
    falling: Collection[str], items: Iterable[tuple[str, Mapping[str, Any]]]
) -> set[str]:
    """Return texts that other items have in a field of their own, word for word.

    A holder, a plate size or a scanner's name is no repetition of what is withdrawn:
    each item says it of itself. What people said is another matter.

    Parameters
    ----------
    falling : collection of str
        Tables of what falls: only fields that these have too are looked at.
    items : iterable of (str, mapping)
        The other items' tables and columns.
    """
    found: set[str] = set()
    columns = {
        name: [c for c in _columns_of_words(name) if (name, c) not in _OF_PEOPLE]
        for name in set(falling)
    }
    for table, row in items:
        for column in columns.get(table, ()):
            found.update(strings_in(row[column]))
    return found
