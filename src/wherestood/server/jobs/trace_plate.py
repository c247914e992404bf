"""Trace lines of a plate by machine, and keep them in the daybook."""

from __future__ import annotations

from typing import Any

from sqlalchemy.orm import Session

from wherestood.daybook import Daybook
from wherestood.daybook.question import main_scan
from wherestood.daybook.skylines import (
    keep_ridges,
    keep_skyline,
    line_of,
    lines_on,
)
from wherestood.daybook.tables import Plate, Scan
from wherestood.errors import InputError
from wherestood.plate.inner_ridges import trace_ridges
from wherestood.plate.trace import trace_skyline
from wherestood.progress import Progress
from wherestood.server.forms.jobs import JobResult
from wherestood.server.scans import opened_scan

__all__ = ["trace_plate"]


def trace_plate(
    asked: dict[str, Any], daybook: str | None, progress: Progress
) -> JobResult:
    """Trace the skyline, or ridge lines below it, and keep what was found."""
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
        trace = _ridges if asked.get("what") == "ridge lines" else _skyline
        return trace(book, plate, scan, asked, progress)


def _skyline(
    book: Daybook, plate: Plate, scan: Scan, asked: dict[str, Any], progress: Progress
) -> JobResult:
    before = _there(book, plate.id)
    skyline = trace_skyline(
        opened_scan(book, plate, scan),
        seeds=[(x, y) for x, y in asked.get("pins", ())],
        barriers=[[(x, y) for x, y in line] for line in asked.get("barriers", ())],
        progress=progress,
    )
    with book.writing(asked["person"], _why(asked)) as session:
        if _standing(session, plate.id) != before:
            raise InputError(
                "Somebody drew on the skyline while the machine traced it; theirs "
                "stands, and the machine's was let go.",
                "Trace it again to put the machine's in its place.",
            )
        kept = keep_skyline(session, plate.id, scan.id, skyline, by_hand=False)
        session.flush()
        kept_id = kept.id
    return JobResult(
        evidence_id=kept_id, plate_ids=[plate.id], notes=list(skyline.notes)
    )


def _there(book: Daybook, plate_id: str) -> list[tuple[str, int]]:
    with book.reading() as session:
        return _standing(session, plate_id)


def _standing(session: Session, plate_id: str) -> list[tuple[str, int]]:
    """Return which skylines stand on a plate, each as it is now."""
    return [(one.id, one.revision) for one in lines_on(session, plate_id, "skyline")]


def _ridges(
    book: Daybook, plate: Plate, scan: Scan, asked: dict[str, Any], progress: Progress
) -> JobResult:
    """Look below the skyline that is kept, else below one traced for the purpose."""
    opened = opened_scan(book, plate, scan)
    with book.reading() as session:
        there = lines_on(session, plate.id, "skyline")
    kept = next((one for one in there if one.scan_id in (None, scan.id)), None)
    skyline = line_of(kept, opened.width_px, opened.height_px) if kept else None
    if skyline is None:
        skyline = trace_skyline(opened, progress=progress)
    progress.stage("looking for ridge lines", None)
    found = trace_ridges(opened, skyline)
    with book.writing(asked["person"], _why(asked)) as session:
        keep_ridges(session, plate.id, scan.id, found)
    count = len(found)
    note = "No ridge line was found." if not count else f"Ridge lines found: {count}."
    return JobResult(plate_ids=[plate.id], notes=[note])


def _why(asked: dict[str, Any]) -> str:
    return asked.get("why") or "traced by machine"
