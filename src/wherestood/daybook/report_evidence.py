"""Tell a report which evidence counted for a fix, and what was set aside, and why."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.journal import DaybookSession
from wherestood.daybook.records import one_line
from wherestood.daybook.tables import (
    Detail,
    Evidence,
    Fix,
    FixInput,
    Informant,
    Item,
    JournalRow,
    Mark,
    Plate,
    Source,
    Statement,
)
from wherestood.record.item_words import agreement, two_digits
from wherestood.record.report.facts import (
    EvidenceFacts,
)

__all__ = ["READ", "evidence_counted", "evidence_set_aside", "who_says", "why_removed"]

UNKNOWN = "UNKNOWN"
#: Begins who says what no source and no informant says.
READ = "read off the plate"
_UNITS = {"px": " px", "m": " m", "mm": " mm", "deg": "°"}
_WEIGHED: tuple[Any, ...] = (Mark, Evidence, Statement)


def _weighed(session: DaybookSession, plate: Plate) -> Iterator[Item]:
    for kind in _WEIGHED:
        chosen = select(kind).where(kind.plate_id == plate.id, kind.withdrawn.is_(None))
        yield from session.scalars(chosen.order_by(kind.key))


def evidence_counted(
    session: DaybookSession, plate: Plate, fix: Fix | None
) -> Iterator[EvidenceFacts]:
    """Give what the fix rests on; of a plate without one, all that stands."""
    told = {str(row["id"]): row for row in (fix.answer or {})["fit"]["evidence"]} if (
        fix is not None and fix.answer
    ) else {}  # fmt: skip
    used = _used(session, fix) if fix is not None else None
    for item in _weighed(session, plate):
        if (item.removed and used is None) or (
            used is not None and item.id not in used
        ):
            continue
        row = told.get(str(item.key))  # type: ignore[attr-defined]
        if row is None and isinstance(item, Evidence) and item.kind == "skyline":
            row = told.get("skyline")
        yield _row(session, item, _told(row))


def _used(session: DaybookSession, fix: Fix) -> set[str]:
    inputs = select(FixInput.item_id).where(
        FixInput.fix_id == fix.id, FixInput.item_id.is_not(None)
    )
    return {one for one in session.scalars(inputs) if one is not None}


def _row(session: DaybookSession, item: Item, told: str) -> EvidenceFacts:
    key = str(item.key)  # type: ignore[attr-defined]
    kind = getattr(item, "kind", None) or item.singular
    says = one_line(item)
    if isinstance(item, Mark):
        says = _mark_says(session, item)
    elif isinstance(item, Evidence):
        says = _evidence_says(item)
    elif isinstance(item, Statement):
        says = f"“{item.words}”"
    said = who_says(session, item)
    return EvidenceFacts(key, str(kind).replace("_", " "), says, said, told)


def _evidence_says(item: Evidence) -> str:
    if item.kind in ("skyline", "ridge_line"):
        return "a line traced on the plate"
    told = [
        _measured(name, _value(value))
        for name, value in (item.content or {}).items()
        if isinstance(value, str | int | float) or _is_row(value)
    ]
    note = [item.note] if item.note else []
    return "; ".join([*told, *note]) or "as read on the plate"


def _measured(name: str, value: str) -> str:
    """Return what a key of an item's content and its value say, in words."""
    stem, _, suffix = name.rpartition("_")
    if suffix not in _UNITS:
        return f"{name.replace('_', ' ')}: {value}"
    words = stem.replace("_", " ")
    if words == "sd" or words.endswith(" sd"):
        words = ", ".join(filter(None, (words[:-3], "give or take")))
    return f"{words} {value}{_UNITS[suffix]}"


def _is_row(value: Any) -> bool:
    """Say whether it is a few numbers or words, as a place on the plate is."""
    return isinstance(value, list) and all(
        isinstance(one, str | int | float) for one in value
    )


def _value(value: Any) -> str:
    if isinstance(value, list):
        return ", ".join(_value(one) for one in value)
    return f"{value:g}" if isinstance(value, float) else str(value)


def _mark_says(session: DaybookSession, mark: Mark) -> str:
    detail = session.get(Detail, mark.detail_id) if mark.detail_id else None
    keys = [str(one.get("feature")) for one in mark.features or ()]
    shape = mark.shape or "point"
    what = f"{shape} on {detail.key}" if detail is not None else shape
    tied = f", tied to {' or '.join(keys)}" if keys else ""
    note = f": {mark.note}" if mark.note else ""
    return f"{what}{tied}{note}"


def who_says(session: DaybookSession, item: Any) -> str:
    """Say where an item stands written, who said it, or who read it off the plate."""
    parts = []
    source = session.get(Source, item.source_id) if item.source_id else None
    if source is not None and not source.withdrawn:
        parts.append(source.citation)
    if getattr(item, "source_words", None):
        parts.append(item.source_words)
    informant = getattr(item, "informant_id", None)
    if informant:
        person = session.get(Informant, informant)
        if person is not None and not person.withdrawn:
            parts.append(f"said by {person.name or person.key}")
    if not parts and isinstance(item, Mark | Evidence):
        parts.append(_read_by(session, item))
    return "; ".join(parts) or UNKNOWN


def _read_by(session: DaybookSession, item: Item) -> str:
    """Say who put an item there: what is read off a plate has no other source."""
    added = select(JournalRow).where(
        JournalRow.item_id == item.id, JournalRow.before.is_(None)
    )
    row = session.scalars(added.order_by(JournalRow.number).limit(1)).first()
    return f"{READ}, {row.person}, {row.time[:10]}" if row else UNKNOWN


def _told(row: Mapping[str, Any] | None) -> str:
    """Say what the answer says of an item."""
    if row is None:
        return "counted nothing by itself"
    if row["kind"] == "skyline":
        return f"{two_digits(float(row['residual']))} px from the computed (typical)"
    if row["kind"] == "ridge line":
        odds = row["log_odds"]
        if odds is None:
            return "too short to count"
        return "agrees" if odds > 0 else "does not agree"
    return agreement(dict(row))


def evidence_set_aside(
    session: DaybookSession, plate: Plate, fix: Fix | None
) -> Iterator[EvidenceFacts]:
    """Give what was set aside or did not count, and why."""
    used = _used(session, fix) if fix is not None else set()
    asked = (fix.question or {}).get("asked", {}) if fix is not None else {}
    without = set((asked.get("more") or {}).get("without") or ())
    for item in _weighed(session, plate):
        if item.removed and item.id not in used:
            yield _row(session, item, why_removed(session, item))
        elif item.id in without:
            yield _row(session, item, "left out when this fix was asked for")
    for complaint in (fix.answer or {}).get("inputs", {}).get("evidence", {}).get(
        "complaints", ()
    ) if fix is not None else ():  # fmt: skip
        yield EvidenceFacts(
            str(complaint.get("id") or ""), str(complaint["kind"]), "could not be used",
            UNKNOWN, str(complaint["problem"]),
        )  # fmt: skip


def why_removed(session: Session, item: Item) -> str:
    """Return why an item was set aside, as the journal has it; empty where not said."""
    chosen = select(JournalRow).where(JournalRow.item_id == item.id)
    for row in session.scalars(chosen.order_by(JournalRow.number.desc())):
        if (row.after or {}).get("removed"):
            return row.why.rstrip(".") if row.why else ""
    return ""
