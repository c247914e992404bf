"""Leave out of a plate's evidence what is not to count in a search."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy.orm import Session

from wherestood.daybook.bearing import name_of_input
from wherestood.daybook.tables import Evidence, Fix, Item, Mark, Statement
from wherestood.daybook.tell_evidence import ToldEvidence
from wherestood.errors import InputError

__all__ = ["LeftOut", "ids_called", "left_out_of", "told_without"]


@dataclass(frozen=True)
class LeftOut:
    """Say what is not to count in a search.

    Attributes
    ----------
    without : tuple of str
        Ids of items.
    without_statements, no_skyline, no_ridge_lines : bool
        Whether none of a kind counts.
    """

    without: tuple[str, ...] = ()
    without_statements: bool = False
    no_skyline: bool = False
    no_ridge_lines: bool = False

    def record(self) -> dict[str, Any]:
        """Return what is out of the usual, as it is kept with a fix."""
        told = {
            "without": list(self.without),
            "without_statements": self.without_statements,
            "no_skyline": self.no_skyline,
            "no_ridge_lines": self.no_ridge_lines,
        }
        return {name: value for name, value in told.items() if value}

    @classmethod
    def of(cls, record: dict[str, Any]) -> LeftOut:
        """Return what a record tells."""
        return cls(
            tuple(record.get("without") or ()),
            bool(record.get("without_statements")),
            bool(record.get("no_skyline")),
            bool(record.get("no_ridge_lines")),
        )

    def holds(self, item: Item) -> bool:
        """Tell whether an item does not count."""
        kinds = {
            "statement": self.without_statements,
            "skyline": self.no_skyline,
            "ridge_line": self.no_ridge_lines,
        }
        return item.id in self.without or kinds.get(_table(item), False)


def left_out_of(session: Session, fix: Fix) -> tuple[str, ...]:
    """Name what did not count in a fix, on purpose."""
    asked: dict[str, Any] = (fix.question or {}).get("asked", {})
    out = LeftOut.of(asked.get("more", {}))
    found = (
        session.get(kind, one)
        for one in out.without
        for kind in (Mark, Evidence, Statement)
    )
    named = [name_of_input(session, item) for item in found if item is not None]
    kinds = {
        "what sources say": out.without_statements,
        "any skyline": out.no_skyline,
        "ridge lines": out.no_ridge_lines,
    }
    return (*named, *(name for name, left in kinds.items() if left))


def ids_called(told: ToldEvidence, names: Sequence[str]) -> tuple[str, ...]:
    """Return the ids of items that are to be left out.

    Parameters
    ----------
    told : ToldEvidence
        What a plate's items tell.
    names : sequence of str
        Their ids, or the keys that they have on the plate. A detail stands for its
        marks.

    Raises
    ------
    InputError
        If one is no mark, evidence or statement of the plate that counts.
    """
    counting = [one for one in told.items if _table(one)]
    found: list[str] = []
    for name in names:
        called = [one.id for one in counting if name in _called(one)]
        if not called:
            known = ", ".join(sorted({_key(one) for one in counting}))
            raise InputError(
                f"No mark, evidence or statement {name!r} of this plate counts.",
                f"Choose from: {known}." if known else "Nothing is there to leave out.",
            )
        found += called
    return tuple(dict.fromkeys(found))


def told_without(told: ToldEvidence, out: LeftOut) -> ToldEvidence:
    """Return what counts."""
    left = {one.id: one for one in told.items if _table(one) and out.holds(one)}
    if not left:
        return told
    gone = {(_table(one), _name(one)) for one in left.values()}
    document: dict[str, Any] = {}
    for table, rows in told.document.items():
        if table == "ground_from":
            document[table] = [name for name in rows if ("statement", name) not in gone]
        elif table == "camera":
            if not any(name == "camera" for name, _ in gone):
                document[table] = rows
        elif isinstance(rows, list):
            document[table] = [row for row in rows if (table, row["id"]) not in gone]
        else:
            document[table] = rows
    return replace(
        told,
        document={table: rows for table, rows in document.items() if rows != []},
        items=tuple(one for one in told.items if one.id not in left),
    )


def _table(item: Item) -> str:
    """Return the table of the evidence file that tells of an item; empty if none."""
    if isinstance(item, Evidence):
        return item.kind or ""
    return {Mark: "mark", Statement: "statement"}.get(type(item), "")


def _called(item: Item) -> tuple[str | None, ...]:
    return item.id, _key(item), item.detail_id if isinstance(item, Mark) else None


def _key(item: Item) -> str:
    return str(getattr(item, "key", item.id))


def _name(item: Item) -> str:
    """Return the id that an item has in the evidence file."""
    more = (item.more or {}) if isinstance(item, Statement) else {}
    return str(more.get("id") or _key(item))
