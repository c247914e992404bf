"""Read what a person types into items, and tell items as records."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import JSON as JSON_COLUMN
from sqlalchemy import Boolean, Column, Float, Integer, inspect, select
from sqlalchemy.orm import Session

from wherestood.daybook.as_written import is_untold
from wherestood.daybook.counted import an
from wherestood.daybook.keys import address_of, find
from wherestood.daybook.loaded import load_referred_to
from wherestood.daybook.tables import (
    ITEMS,
    About,
    Decision,
    Feature,
    FeatureName,
    Item,
    OnPlate,
    Plate,
)
from wherestood.daybook.typed_lists import AS_TYPED, read_list
from wherestood.errors import InputError

__all__ = [
    "column_named",
    "fields_of",
    "find_about",
    "kind_of",
    "lines_of",
    "names_of",
    "one_line",
    "option_of",
    "plate_and_key",
    "record_of",
    "records_of",
    "set_fields",
]

#: Columns that the daybook fills, or that are told by where an item is added.
_NOT_ASKED = {
    "id", "key", "removed", "withdrawn", "revision", "about_table", "about_id",
    "west_deg", "south_deg", "east_deg", "north_deg",
}  # fmt: skip
_LONGEST_SHOWN = 60  # characters of one value in a list


def fields_of(kind: type[Item]) -> dict[str, Column[Any]]:
    """Return the columns a person may fill, by the name of their option."""
    columns = inspect(kind).columns
    skipped = set(_NOT_ASKED)
    if kind.__tablename__ == "terrain_layers":
        skipped -= {"west_deg", "south_deg", "east_deg", "north_deg"}
    if issubclass(kind, OnPlate | About):
        skipped.add("plate_id")
    return {option_of(c.key): c for c in columns if c.key not in skipped}


def option_of(column: str) -> str:
    """Return what an option calls a column: ``maker`` for ``maker_id``."""
    return column.removesuffix("_id").removesuffix("_edtf").replace("_", "-")


def kind_of(table: str) -> type[Item]:
    """Return the class of a table's items.

    Raises
    ------
    InputError
        If there is no such table.
    """
    if table not in ITEMS:
        raise InputError(
            f"There is no {table!r} in a daybook.",
            f"Choose one of: {', '.join(sorted(ITEMS))}.",
        )
    return ITEMS[table]


def column_named(kind: type[Item], name: str) -> Column[Any]:
    """Return the column of a field, called as its option or as the table does.

    Raises
    ------
    InputError
        If a person may fill no such field.
    """
    columns = fields_of(kind)
    column = columns.get(option_of(name))
    if column is None:
        raise InputError(
            f"{an(kind.singular).capitalize()} has no field {name!r}.",
            f"Choose one of: {', '.join(columns)}.",
        )
    return column


def set_fields(session: Session, item: Item, given: Mapping[str, Any]) -> None:
    """Set columns of an item from what was typed, or came as JSON.

    Parameters
    ----------
    session : Session
        Where items that are referred to are found.
    item : Item
        The item.
    given : mapping
        Values by the field's name; None empties it.

    Raises
    ------
    InputError
        If there is no such field, a value cannot be read, or an item is not there.
    """
    for name, value in given.items():
        column = column_named(type(item), name)
        read = None if value is None else _read(session, item, name, column, value)
        setattr(item, column.key, read)


def _read(
    session: Session, item: Item, name: str, column: Column[Any], value: Any
) -> Any:
    if (table := column.info.get("table")) is not None:
        return find(session, ITEMS[table], str(value)).id
    try:
        return _as_typed(column, value)
    except (KeyError, TypeError, ValueError) as error:
        raise InputError(
            f"The {name} of {an(item.singular)} cannot be read: {str(value)[:60]!r}.",
            f"It holds {column.info.get('about', name)}.{_how(column)}",
        ) from error


def _how(column: Column[Any]) -> str:
    typed = AS_TYPED.get(column.info.get("holds", ""))
    return f" Write it as {typed}" if typed else ""


def _as_typed(column: Column[Any], value: Any) -> Any:
    """Return a value as its column holds it, of words or of JSON."""
    kind = column.type
    if isinstance(value, str):
        value = value.strip()  # a space keeps a minus sign in front from the parser
        if isinstance(kind, JSON_COLUMN):
            return read_list(value, column.info.get("holds", ""))
        if isinstance(kind, Boolean):
            return {"yes": True, "no": False}[value.lower()]
        if isinstance(kind, Integer):
            return int(value)
        return float(value) if isinstance(kind, Float) else value
    numbers = int | float if isinstance(kind, Float) else int
    expected: Any = {Boolean: bool, Float: numbers, Integer: numbers}.get(
        type(kind), list | dict if isinstance(kind, JSON_COLUMN) else str
    )
    if isinstance(value, bool) and not isinstance(kind, Boolean):
        raise TypeError
    if not isinstance(value, expected):
        raise TypeError
    return float(value) if isinstance(kind, Float) else value


def record_of(session: Session, item: Item) -> dict[str, Any]:
    """Return an item as a record: links by key, columns without value left out."""
    record: dict[str, Any] = {
        "table": item.__tablename__,
        "address": address_of(session, item),
    }
    for column in inspect(item).mapper.columns:
        value = getattr(item, column.key)
        if value is None or column.key == "about_id":
            continue
        table = column.info.get("table")
        if table is not None:
            other = session.get(ITEMS[table], value)
            value = address_of(session, other) if other else value
        record[column.key.removesuffix("_id") if table else column.key] = value
    if isinstance(item, About):
        about = session.get(ITEMS[item.about_table], item.about_id)
        record["about"] = address_of(session, about) if about else item.about_id
    return record


def records_of(session: Session, items: Sequence[Item]) -> list[dict[str, Any]]:
    """Return items as records, what they refer to being loaded at once."""
    _kept = load_referred_to(session, items)
    return [record_of(session, item) for item in items]


def one_line(item: Item) -> str:
    """Return the one line by which a person knows an item."""
    if item.withdrawn:
        return f"withdrawn on {item.withdrawn[:10]}"
    parts = []
    if getattr(item, "covered", None):
        parts.append("covered")
    for name in item.told_by:
        value = getattr(item, name)
        if value is None or (name == "edtf" and is_untold(item)):
            continue
        shown = value if isinstance(value, str) else _shown(value)
        shown = " ".join(shown.split())
        if not shown:
            continue
        if len(shown) > _LONGEST_SHOWN:
            shown = shown[: _LONGEST_SHOWN - 3].rstrip() + "..."
        parts.append(shown)
    return ", ".join(parts)


def lines_of(session: Session, items: Sequence[Item]) -> list[str]:
    """Return the line of each item in a list: of features, their names go before.

    Parameters
    ----------
    session : Session
        Of the daybook.
    items : sequence of Item
        All of one kind.
    """
    lines = [one_line(item) for item in items]
    if items and isinstance(items[0], About):
        _kept = load_referred_to(session, items)
        lines = [
            ", ".join(p for p in (line, _about(session, item)) if p)
            for item, line in zip(items, lines, strict=True)
        ]
    if items and isinstance(items[0], Decision):
        chosen = select(Decision.supersedes_id, Decision.key).where(
            Decision.supersedes_id.is_not(None), Decision.removed.is_(False)
        )
        by = dict(session.execute(chosen).all())
        return [
            f"{line}, replaced by {by[item.id]}" if item.id in by else line
            for item, line in zip(items, lines, strict=True)
        ]
    if not items or not isinstance(items[0], Feature):
        return lines
    called = names_of(session, [item.id for item in items])
    return [
        line
        if item.withdrawn
        else ", ".join(p for p in (called.get(item.id), line) if p)
        for item, line in zip(items, lines, strict=True)
    ]


def _about(session: Session, item: Item) -> str:
    """Return what a note, a right or a restriction is about."""
    if not isinstance(item, About) or item.about_table not in ITEMS:
        return ""
    about = session.get(ITEMS[item.about_table], item.about_id)
    if about is None:
        return ""
    return f"on {about.singular} {address_of(session, about)}"


def names_of(session: Session, feature_ids: Sequence[str]) -> dict[str, str]:
    """Return the names of features, parted by strokes, by the feature's id."""
    wanted = select(FeatureName).where(
        FeatureName.feature_id.in_(feature_ids),
        FeatureName.removed.is_(False),
        FeatureName.withdrawn.is_(None),
    )
    found: dict[str, list[str]] = {}
    for name in session.scalars(wanted.order_by(FeatureName.key)):
        found.setdefault(name.feature_id, []).append(name.name)
    return {feature: " / ".join(names) for feature, names in found.items()}


def _shown(value: Any) -> str:
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, dict):
        told = (f"{k} {v}" for k, v in value.items() if isinstance(v, str | float))
        return ", ".join(part for part in told if len(part) < _LONGEST_SHOWN)
    if _are_points(value):
        return "; ".join(f"{x:g}, {y:g}" for x, y in value)
    return json.dumps(value, ensure_ascii=False)


def _are_points(value: Any) -> bool:
    return isinstance(value, list) and all(
        isinstance(point, list)
        and len(point) == 2
        and all(isinstance(one, int | float) for one in point)
        for point in value
    )


def plate_and_key(session: Session, address: str) -> tuple[Plate, str | None]:
    """Return the plate and the key of something to be put on it.

    Parameters
    ----------
    session : Session
        Where the plate is found.
    address : str
        ``1987.12/A``, or the plate's key alone.
    """
    try:
        return find(session, Plate, address), None
    except InputError:
        plate, slash, key = address.rpartition("/")
        if not slash:
            raise
        return find(session, Plate, plate), key


def find_about(session: Session, table: str, address: str) -> Item:
    """Return the item that a note, right or restriction is about.

    Raises
    ------
    InputError
        If there is no such table or item.
    """
    return find(session, kind_of(table), address)
