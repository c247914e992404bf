"""Note in a daybook what a merge came to, where whoever reads it finds it."""

from __future__ import annotations

import json
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.handover.both import DECISION, Conflict
from wherestood.daybook.handover.diverged import MERGES
from wherestood.daybook.handover.settle import Settled
from wherestood.daybook.tables import Note, Setting

__all__ = ["add_notes", "count_merge"]

_KEPT_OURS = "kept of two that differ, in merging"


def count_merge(session: Session, acts: int) -> None:
    """Count the merges of this copy, so that the diary tells of each."""
    if not acts:
        return
    setting = session.scalars(select(Setting).where(Setting.key == MERGES)).first()
    if setting is None:
        setting = Setting(key=MERGES, value={})
        session.add(setting)
    done = (setting.value or {}).get("merges", 0) + 1
    setting.value = {"merges": done, "acts_of_last": acts}


def add_notes(session: Session, settled: Settled) -> None:
    """Keep what was not taken of theirs where whoever reads the item finds it."""
    for one in settled.conflicts:
        row = settled.final.get((one.table, one.item_id), {})
        session.add(
            Note(
                about_table=one.table,
                about_id=one.item_id,
                plate_id=one.item_id if one.table == "plates" else row.get("plate_id"),
                words=_of_conflict(one),
            )
        )


def _of_conflict(one: Conflict) -> str:
    if one.column == DECISION:
        return f"Both copies decided, not alike. Here: {one.ours}. There: {one.theirs}."
    if one.column == "removed":
        side = "here" if one.ours else "in the other copy"
        return f"Set aside {side} while the other worked on it; it was brought back."
    if one.column == "main":
        return f"Main scan in the other copy; here it is {one.ours}."
    column = one.column.removesuffix("_edtf").replace("_", " ")
    return (
        f"{column}: {_spoken(one.ours)} was {_KEPT_OURS}. The other copy has: "
        f"{_spoken(one.theirs)}."
    )


def _spoken(value: Any) -> str:
    if isinstance(value, str):
        return repr(value)
    return json.dumps(value, ensure_ascii=False)
