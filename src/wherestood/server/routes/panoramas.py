"""Answer for panoramas: their plates, what is seen on two of them, what is joined."""

from __future__ import annotations

from fastapi import APIRouter
from sqlalchemy.orm import Session

from wherestood.daybook import Daybook
from wherestood.daybook.journal import DaybookSession
from wherestood.daybook.main_scan import main_scan
from wherestood.daybook.precision import restricted
from wherestood.daybook.tables import Plate, Scan
from wherestood.daybook.ties_kept import (
    BY_MATCHING,
    plates_of_panorama,
    tell_ties,
    ties_kept,
)
from wherestood.server.desk import Book, Desk, DeskNeeded, WrittenBook
from wherestood.server.forms.jobs import Job
from wherestood.server.forms.panoramas import (
    PanoramaPlate,
    PanoramaTold,
    TieOnPlates,
)
from wherestood.server.forms.plates import Missing
from wherestood.server.readiness import readiness
from wherestood.server.routes.items import Why, item_of

__all__ = ["missing_together", "router"]

router = APIRouter(prefix="/api", tags=["panoramas"])


@router.get("/plates/{plate_id}/panorama", operation_id="getPanorama")
def panorama(desk: DeskNeeded, book: Book, plate_id: str) -> PanoramaTold | None:
    """Tell the panorama that a plate belongs to, if it belongs to one."""
    with book.reading() as session:
        plate: Plate = item_of(session, "plates", plate_id)
        rows = plates_of_panorama(session, plate)
        if not rows:
            return None
        scans = [main_scan(session, one) for one in rows]
        plates = [
            _plate(session, one, scan) for one, scan in zip(rows, scans, strict=True)
        ]
        ties = _ties(session, rows, scans)
    missing = missing_together(desk, book, [one.id for one in rows])
    return PanoramaTold(
        name=plate.panorama or "", plates=plates, ties=ties, missing=missing
    )


@router.post("/plates/{plate_id}/panorama/matches", operation_id="matchPlates")
def match(desk: DeskNeeded, book: WrittenBook, plate_id: str, why: Why = "") -> Job:
    """Look for what shows on two plates; it takes the place of what was found."""
    with book.reading() as session:
        plate: Plate = item_of(session, "plates", plate_id)
    return desk.jobs.start(
        "match",
        f"Looking for what shows on two plates of {plate.panorama or plate.key}",
        {"plate_id": plate_id, "why": why},
        person=desk.person,
        plate_id=plate_id,
    )


def missing_together(desk: Desk, book: Daybook, plate_ids: list[str]) -> list[Missing]:
    """Say what a run of several plates together lacks.

    Each needs its scan; the ground searched may be that of any.
    """
    if len(plate_ids) < 2:
        return [
            Missing(
                what="plates",
                sentence="No other plate belongs to this panorama.",
                remedy="Name the same panorama on each of its plates.",
            )
        ]
    each = [readiness(desk, book, one).missing for one in plate_ids]
    found: dict[str, Missing] = {}
    for missing in each:
        for one in missing:
            if one.what == "scan":
                found[one.sentence] = one
    somewhere = [
        one
        for one in each
        if all(m.what not in ("ground searched", "terrain") for m in one)
    ]
    if not somewhere:
        found |= {m.sentence: m for one in each for m in one}
    return list(found.values())


def _plate(session: DaybookSession, plate: Plate, scan: Scan | None) -> PanoramaPlate:
    return PanoramaPlate(
        plate_id=plate.id,
        key=plate.key,
        title=plate.title,
        scan_id=scan.id if scan else None,
        width_px=scan.width_px if scan else None,
        height_px=scan.height_px if scan else None,
        covered=scan is not None and restricted(session, scan).covered,
    )


def _ties(
    session: Session, plates: list[Plate], scans: list[Scan | None]
) -> list[TieOnPlates]:
    ids = [scan.id if scan else "" for scan in scans]
    counting = {one.id for one in tell_ties(session, plates, ids).items}
    told = []
    for one in ties_kept(session, plates):
        content = one.content or {}
        told.append(
            TieOnPlates(
                evidence_id=one.id,
                key=one.key,
                plate_id=one.plate_id,
                beside_id=content["beside"],
                first_px=content["first_px"],
                second_px=content["second_px"],
                by_machine=one.source_words == BY_MATCHING,
                counts=one.id in counting,
            )
        )
    return told
