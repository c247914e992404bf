"""Trace a plate's skyline by machine, and keep it in the daybook."""

from __future__ import annotations

from typing import Any

from wherestood.daybook import Daybook
from wherestood.daybook.question import main_scan
from wherestood.daybook.skylines import keep_skyline
from wherestood.daybook.tables import Plate, Scan
from wherestood.errors import InputError
from wherestood.plate.trace import trace_skyline
from wherestood.progress import Progress
from wherestood.server.forms.jobs import JobResult
from wherestood.server.scans import opened_scan

__all__ = ["trace_plate"]


def trace_plate(
    asked: dict[str, Any], daybook: str | None, progress: Progress
) -> JobResult:
    """Trace the skyline, led by pins and barriers, and keep it."""
    if daybook is None:
        raise InputError("No daybook is open.", "Open one first.")
    with Daybook.open(daybook) as book:
        with book.reading() as session:
            plate = session.get_one(Plate, asked["plate_id"])
            scan = (
                session.get(Scan, asked["scan_id"])
                if asked.get("scan_id")
                else main_scan(session, plate)
            )
        if scan is None:
            raise InputError(f"Plate {plate.key} has no scan.", "Drag one in.")
        opened = opened_scan(book, plate, scan)
        skyline = trace_skyline(
            opened,
            seeds=[(x, y) for x, y in asked.get("pins", ())],
            barriers=[[(x, y) for x, y in line] for line in asked.get("barriers", ())],
            progress=progress,
        )
        with book.writing(
            asked["person"], asked.get("why") or "traced by machine"
        ) as session:
            kept = keep_skyline(session, plate.id, scan.id, skyline, by_hand=False)
            session.flush()
            kept_id = kept.id
    return JobResult(
        evidence_id=kept_id, plate_ids=[plate.id], notes=list(skyline.notes)
    )
