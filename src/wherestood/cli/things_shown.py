"""Show items of a daybook at the terminal."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from wherestood.cli.screen import say, say_json

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from wherestood.daybook.journal import DaybookSession
    from wherestood.daybook.tables import Fix, Item, Plate

__all__ = ["say_item", "say_items"]

#: Long texts of the program that are shown by commands of their own.
_NOT_SHOWN = ("answer", "question", "words", "skyline_csv", "evidence_toml")
_LONGEST_VALUE = 300  # characters


def say_items(
    session: Session, kind: type[Item], items: Sequence[Item], total: int
) -> None:
    """Write a line for each item, and how many there are."""
    from wherestood.daybook.keys import address_of
    from wherestood.daybook.records import lines_of

    table = Table(box=None, show_header=False, pad_edge=False)
    table.add_column(no_wrap=True)
    table.add_column(overflow="fold")
    for item, line in zip(items, lines_of(session, items), strict=True):
        table.add_row(Text(address_of(session, item)), Text(line))
    if items:
        Console(file=sys.stdout, highlight=False).print(table)
    named = kind.singular if total == 1 else kind.__tablename__.replace("_", " ")
    shown = f", {len(items)} of them shown" if len(items) < total else ""
    say(f"{total} {named}{shown}.")


def say_item(
    session: DaybookSession, folder: Path, item: Item, *, as_json: bool
) -> None:
    """Write all that is kept of an item."""
    from wherestood.daybook.left_out import left_out_of
    from wherestood.daybook.precision import restricted
    from wherestood.daybook.records import names_of, record_of
    from wherestood.daybook.tables import Feature, Fix, Plate

    record = record_of(session, item)
    more: dict[str, Any] = {}
    limits = restricted(session, item)
    if isinstance(item, Fix):
        more["changed_since"] = _changed(session, folder, item)
        more["left_out"] = list(left_out_of(session, item))
    if isinstance(item, Plate):
        more["holds"] = _held(session, item)
    if isinstance(item, Feature):
        more["names"] = names_of(session, [item.id]).get(item.id, "")
    if as_json:
        published = {"precision": limits.precision, "covered": limits.covered}
        say_json({**record, **more, "publish": published})
        return
    say(Text(f"{item.singular} {record['address']}", style="bold"))
    if more.get("names"):
        say(f"  Called {more['names']}.")
    _say_fields(session, item, record)
    if limits.precision != "exact" or limits.covered:
        covered = "; the picture is covered" if limits.covered else ""
        say(f"  Place published: {limits.precision}{covered}.")
    if isinstance(item, Fix):
        _say_fix(item, more["changed_since"], more["left_out"])
    if isinstance(item, Plate):
        told = [f"{name} {number}" for name, number in more["holds"].items()]
        say(f"  On it or about it: {', '.join(told) or 'nothing yet'}.")


def _say_fields(session: Session, item: Item, record: dict[str, Any]) -> None:
    from wherestood.daybook.tables import Fix

    if item.withdrawn:
        say(
            f"  Withdrawn on {item.withdrawn[:10]}: its content was taken out for good."
        )
    if item.removed:
        say("  Set aside.")
    hidden = {
        "table", "address", "id", "key", "removed", "revision", "withdrawn",
    }  # fmt: skip
    hidden |= set(_NOT_SHOWN) if isinstance(item, Fix) else set()
    table = Table(box=None, show_header=False, pad_edge=True)
    table.add_column(no_wrap=True, style="dim")
    table.add_column(overflow="fold")
    for name, value in record.items():
        if name not in hidden:
            label = name.removesuffix("_edtf").replace("_", " ")
            told = _linked(session, item, name) or _text(value)
            table.add_row(Text(label), Text(told))
    if table.row_count:
        Console(file=sys.stdout, highlight=False).print(table)


def _linked(session: Session, item: Item, name: str) -> str:
    """Return the key of what a field refers to, and what that is; empty if nothing."""
    from sqlalchemy import inspect

    from wherestood.daybook.keys import address_of
    from wherestood.daybook.records import lines_of
    from wherestood.daybook.tables import ITEMS

    column = inspect(type(item)).columns.get(f"{name}_id")
    table = column.info.get("table") if column is not None else None
    other = session.get(ITEMS[table], getattr(item, f"{name}_id")) if table else None
    if other is None:
        return ""
    line = lines_of(session, [other])[0]
    return f"{address_of(session, other)}{f' ({line})' if line else ''}"


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list) and all(isinstance(part, str) for part in value):
        return "; ".join(value)
    if isinstance(value, float):
        return f"{value:.10g}"
    text = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
    if text.startswith("{"):
        text = " ".join(text.split())
    if len(text) > _LONGEST_VALUE:
        return text[: _LONGEST_VALUE - 3] + "..."
    return text


def _say_fix(fix: Fix, changed: list[str], left_out: list[str]) -> None:
    if fix.words:
        say("")
        say(fix.words)
    if left_out:
        say(f"Left out of it on purpose: {', '.join(left_out)}.")
    if changed:
        say("Since it was made, what it rests on has changed:")
        for sentence in changed:
            say(f"  {sentence}")
    elif not fix.withdrawn:
        say("Nothing that it rests on has changed since.")


def _changed(session: Session, folder: Path, fix: Fix) -> list[str]:
    from wherestood.daybook.changed_since import changed_since

    return [one.sentence() for one in changed_since(session, folder, fix)]


def _held(session: Session, plate: Plate) -> dict[str, int]:
    from wherestood.daybook.choose import Wanted, count
    from wherestood.daybook.tables import ITEMS

    found = {}
    for name, kind in ITEMS.items():
        if hasattr(kind, "plate_id"):
            number = count(session, kind, Wanted(plate_id=plate.id))
            if number:
                found[name.replace("_", " ")] = number
    return found
