"""List what both sides did that cannot stand side by side unseen."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from wherestood.daybook.handover.diverged import Row, Side, Sides
from wherestood.daybook.handover.kept_out import called
from wherestood.daybook.handover.said_first import SaidFirst

__all__ = [
    "DECISION",
    "Conflict",
    "both_decided",
    "keep_a_main_scan",
    "one_main_scan",
    "same_scans",
]

Item = tuple[str, str]
#: Named in place of a column where both sides decided.
DECISION = "decision"


@dataclass(frozen=True)
class Conflict:
    """Hold one thing that both sides changed, each in its own way.

    Attributes
    ----------
    table, item_id : str
        The item.
    called : str
        What a person calls it.
    column : str
        Which of its columns.
    ours, theirs : object
        What either side has; ours is kept, theirs stays in the journal and in a note.
    """

    table: str
    item_id: str
    called: str
    column: str
    ours: Any
    theirs: Any

    def as_json(self) -> dict[str, Any]:
        """Return it as a JSON record."""
        return {
            "table": self.table,
            "item": self.called,
            "column": self.column,
            "kept": self.ours,
            "theirs": self.theirs,
        }


def one_main_scan(sides: Sides, final: dict[Item, Row]) -> Iterator[Conflict]:
    """Leave a plate the main scan that it has here, and list theirs."""
    ours = {
        row["plate_id"]: ("scans", item_id)
        for item_id, row in sides.ours.items["scans"].items()
        if row["main"] and not row["removed"] and not row["withdrawn"]
    }
    for item, row in final.items():
        main = ours.get(row.get("plate_id"))
        if item[0] != "scans" or main is None or main == item or not row["main"]:
            continue
        if final.get(main, {}).get("main") is False:
            continue  # they made another the main one, and nobody here objected
        row["main"] = False
        here = called(sides.ours.items, main)
        there = called(sides.theirs.items, item)
        yield Conflict(*item, there, "main", here, there)


def keep_a_main_scan(sides: Sides, final: dict[Item, Row], said: SaidFirst) -> None:
    """Leave a plate one main scan, where each side took the other's for no more."""
    was: dict[str, list[Item]] = {}
    for side in (sides.ours, sides.theirs):
        for item_id, row in side.items["scans"].items():
            if row["main"] and not row["removed"] and not row["withdrawn"]:
                was.setdefault(row["plate_id"], []).append(("scans", item_id))
    there = sides.ours.items["scans"]
    for plate, mains in was.items():
        scans = {("scans", i): row for i, row in there.items()} | final
        now = [
            scans[item]
            for item in dict.fromkeys(mains)
            if item in scans
            and not (scans[item]["removed"] or scans[item]["withdrawn"])
        ]
        if len(now) < 2 or any(row["main"] for row in now):
            continue
        if any(
            row["main"] and row["plate_id"] == plate and not row["removed"]
            for (table, _), row in scans.items()
            if table == "scans"
        ):
            continue
        first = min(
            (("scans", row["id"]) for row in now),
            key=lambda item: said.when(item, "plate_id", plate),
        )
        final[first] = {**scans[first], "main": True}


def both_decided(sides: Sides, final: dict[Item, Row]) -> Iterator[Conflict]:
    """List plates on which both sides decided since they parted, and not alike."""
    ours, theirs = _last_decisions(sides.ours), _last_decisions(sides.theirs)
    for plate, one in ours.items():
        other = theirs.get(plate)
        if other is None or ("decisions", other["id"]) not in final:
            continue
        if one["conclusion"] != other["conclusion"]:
            name = called(sides.ours.items, ("plates", plate))
            yield Conflict(
                "plates", plate, name, DECISION, _decided(one), _decided(other)
            )


def same_scans(sides: Sides, final: dict[Item, Row]) -> tuple[tuple[str, str], ...]:
    """Return scans of theirs that came, each with one here of the same file."""
    ours = {
        row["sha256"]: called(sides.ours.items, ("scans", item_id))
        for item_id, row in sides.ours.items["scans"].items()
        if not row["removed"] and not row["withdrawn"]
    }
    here = sides.ours.items["scans"]
    return tuple(
        (_by_its_new_key(sides, final, row), ours[row["sha256"]])
        for (table, item_id), row in final.items()
        if table == "scans" and item_id not in here and row["sha256"] in ours
    )


def _by_its_new_key(sides: Sides, final: dict[Item, Row], row: Row) -> str:
    plate = final.get(("plates", row["plate_id"])) or sides.ours.items["plates"].get(
        row["plate_id"], {}
    )
    return f"{plate.get('key', '?')}/{row['key']}"


def _last_decisions(side: Side) -> dict[str, Row]:
    """Return by plate the last decision that a side added since they parted."""
    added = [
        row
        for item_id, row in side.items["decisions"].items()
        if ("decisions", item_id) in side.added
        and not row["removed"]
        and not row["withdrawn"]
    ]
    return {row["plate_id"]: row for row in sorted(added, key=lambda r: r["decided"])}


def _decided(row: Row) -> Any:
    return f"{row['conclusion']} by {row['decided_by']} ({row['key']}): {row['words']}"
