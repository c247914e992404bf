"""Make the forms of items out of the daybook's tables.

A column is a field at once, with its words, choices and limits, so that the pages'
types follow the tables by themselves.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal, get_args, get_type_hints

from pydantic import BaseModel, ConfigDict, Field, create_model
from sqlalchemy import Boolean, Column, Float, Integer, String, inspect

from wherestood.daybook.tables import ITEMS, Item

__all__ = ["ITEM_FORMS", "BatchChange", "ItemForms", "shown_columns"]

#: What the program alone fills.
_MADE_BY_PROGRAM = {"id", "removed", "withdrawn", "revision"}
_EDGES = {"west_deg", "south_deg", "east_deg", "north_deg"}
#: Too long for lists; a fix has a route of its own that gives them.
_LONG = {"fixes": {"answer", "question", "skyline_csv", "evidence_toml", "words"}}
#: Kinds that come in by files or runs, and are not added by hand.
NOT_ADDED = ("fixes", "fix_inputs", "scans", "terrain_layers")
#: Where files lie and what they hold is known by taking them in, not written by hand.
_CUSTODY = {
    "scans": {
        "plate_id", "file", "kept", "original_name", "sha256", "size_bytes", "width_px",
        "height_px", "perceptual_hash", "embedded",
    },
    "plans": {"file", "sha256", "page", "page_ppi", "width_px", "height_px"},
    "terrain_layers": {"files", "kept", "crs", "cell_m", "overlaps", *_EDGES},
}  # fmt: skip
_NAMES = {"dates": "Dating", "evidence": "EvidenceItem"}


class _Form(BaseModel):
    model_config = ConfigDict(extra="forbid")


class BatchChange(_Form):
    """Change several items of one kind at once."""

    ids: list[str] = Field(description="The items.")
    values: dict[str, Any] = Field(description="What each is to hold, by column.")


@dataclass(frozen=True)
class ItemForms:
    """Hold the forms of one table.

    Attributes
    ----------
    kind : type of Item
    whole : type
        As an item is told.
    new : type or None
        As one is added; None for what is not added by hand.
    change : type
        As one is changed: what is left out stays.
    listed : type
        A page of them, and how many there are.
    """

    kind: type[Item]
    whole: type[BaseModel]
    new: type[BaseModel] | None
    change: type[BaseModel]
    listed: type[BaseModel]


def shown_columns(kind: type[Item]) -> list[Column[Any]]:
    """Return the columns that are told of an item in a list."""
    long = _LONG.get(kind.__tablename__, set())
    return [column for column in inspect(kind).columns if column.key not in long]


def _forms_of(kind: type[Item]) -> ItemForms:
    name = _NAMES.get(kind.__tablename__, kind.__name__)
    types = dict(_types_of(kind))
    whole = _made(
        f"{name}Form",
        f"Tell a {kind.singular}.",
        called=(str, Field(description="What a person calls it by: 1987.12/A.")),
        **{
            column.key: (types[column.key], _field(column, required=True))
            for column in shown_columns(kind)
        },
    )
    free = [c for c in inspect(kind).columns if c.key not in _withheld(kind)]
    new = _made(
        f"{name}New",
        f"Add a {kind.singular}.",
        **{column.key: _to_add(column, types[column.key], kind) for column in free},
    )
    change = _made(
        f"{name}Change",
        f"Change a {kind.singular}; what is left out stays.",
        removed=(bool | None, Field(None, description="Whether it is set aside.")),
        revision=(
            int | None,
            Field(None, description="The revision that was read; refused if older."),
        ),
        **{
            column.key: (types[column.key] | None, _field(column, required=False))
            for column in free
        },
    )
    listed = _made(
        f"{name}List",
        "Be a page of items.",
        items=(list.__class_getitem__(whole), Field(description="The items.")),
        total=(int, Field(description="How many there are in all.")),
    )
    added = None if kind.__tablename__ in NOT_ADDED else new
    return ItemForms(kind, whole, added, change, listed)


def _made(form: str, words: str, /, **fields: Any) -> type[BaseModel]:
    """Return a form of its name, which says what it is for."""
    return create_model(form, __base__=_Form, __doc__=words, **fields)


def _withheld(kind: type[Item]) -> set[str]:
    table = kind.__tablename__
    edges = _EDGES if table == "features" else set()
    return _MADE_BY_PROGRAM | edges | _CUSTODY.get(table, set())


def _to_add(column: Column[Any], kind_of: Any, kind: type[Item]) -> Any:
    needed = not column.nullable and column.key != "key"
    if kind.__tablename__ == "decisions" and column.key in ("decided", "decided_by"):
        needed = False  # completed by the daybook
    if kind.__tablename__ == "leads" and column.key == "state":
        return (kind_of, _field(column, default="to do"))
    if needed:
        return (kind_of, _field(column, required=True))
    return (kind_of | None, _field(column, required=False))


def _types_of(kind: type[Item]) -> Iterator[tuple[str, Any]]:
    """Give the type of each column by its name."""
    hints = get_type_hints(kind)
    for column in inspect(kind).columns:
        choices = column.info.get("choices")
        made: Any
        if choices:
            made = Literal[tuple(choices)]
        elif isinstance(column.type, Boolean):
            made = bool
        elif isinstance(column.type, Integer):
            made = int
        elif isinstance(column.type, Float):
            made = float
        elif isinstance(column.type, String):
            made = str
        else:
            hinted = get_args(hints.get(column.key))
            made = hinted[0] if hinted else Any
        yield column.key, (made | None if column.nullable else made)


def _field(column: Column[Any], *, required: bool = False, default: Any = None) -> Any:
    about = str(column.info.get("about", "")) or column.key.replace("_", " ")
    extra: dict[str, Any] = {}
    if column.info.get("least") is not None:
        extra["minimum"] = column.info["least"]
    if column.info.get("most") is not None:
        extra["maximum"] = column.info["most"]
    if column.info.get("table"):
        extra["x-table"] = column.info["table"]
    return Field(
        ... if required else default,
        description=about[0].upper() + about[1:] + ".",
        json_schema_extra=extra or None,
    )


#: The forms of each table by its name.
ITEM_FORMS: dict[str, ItemForms] = {
    name: _forms_of(kind) for name, kind in ITEMS.items() if name != "fix_inputs"
}
