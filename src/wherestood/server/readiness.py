"""Say whether a run can be made, what it lacks and what would not count."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

import shapely
from sqlalchemy.orm import Session

from wherestood.daybook import Daybook
from wherestood.daybook.question import layers_of, main_scan
from wherestood.daybook.searched import area_searched
from wherestood.daybook.tables import Plate, Scan
from wherestood.daybook.tell_evidence import ToldEvidence, tell_evidence
from wherestood.errors import WherestoodError
from wherestood.evidence.file import read_evidence
from wherestood.server.desk import Desk
from wherestood.server.forms.answers import EvidenceTold
from wherestood.server.forms.plates import Complained, Missing, Ready
from wherestood.server.plate_ground import NO_TERRAIN, layer_boxes
from wherestood.server.routes.items import item_of
from wherestood.server.scans import scan_file

__all__ = ["readiness", "tell_what_counts"]


def readiness(desk: Desk, book: Daybook, plate_id: str) -> Ready:
    """Say what a run of a plate still needs."""
    missing: list[Missing] = []
    with book.reading() as session:
        plate: Plate = item_of(session, "plates", plate_id)
        scan = main_scan(session, plate)
        missing += _scan_missing(desk, book, plate, scan)
        missing += _ground_missing(book, session, plate)
        told = tell_evidence(session, plate, scan.id if scan else None)
        items = _named(told)
    complaints = _complaints(told, scan, items)
    return Ready(
        can_run=not missing,
        missing=missing,
        left_out=list(told.left_out),
        complaints=complaints,
    )


def tell_what_counts(book: Daybook, plate_id: str) -> EvidenceTold:
    """Tell what a run would be given."""
    with book.reading() as session:
        plate: Plate = item_of(session, "plates", plate_id)
        scan = main_scan(session, plate)
        told = tell_evidence(session, plate, scan.id if scan else None)
        items = _named(told)
    return EvidenceTold(
        document=told.document,
        item_ids=items,
        left_out=list(told.left_out),
        complaints=_complaints(told, scan, items),
    )


def _named(told: ToldEvidence) -> dict[str, str]:
    """Return the items of the daybook by their ids in the evidence file."""
    items: dict[str, str] = {}
    for item in told.items:
        more: Any = getattr(item, "more", None)
        name = (more or {}).get("id") or getattr(item, "key", item.id)
        items.setdefault(str(name), item.id)
    return items


def _complaints(
    told: ToldEvidence, scan: Scan | None, items: dict[str, str]
) -> list[Complained]:
    if told.is_empty:
        return []
    with tempfile.TemporaryDirectory() as folder:
        try:
            checked = read_evidence(
                told.write(Path(folder)),
                width_px=scan.width_px if scan else None,
                height_px=scan.height_px if scan else None,
            )
        except WherestoodError as error:
            return [
                Complained(sentence=error.problem, remedy=error.remedy, item_id=None)
            ]
    return [
        Complained(
            sentence=f"{one.item or one.kind}: {one.problem}",
            remedy=one.remedy,
            item_id=items.get(one.item),
        )
        for one in checked.complaints
    ]


def _scan_missing(
    desk: Desk, book: Daybook, plate: Plate, scan: Scan | None
) -> list[Missing]:
    if scan is None:
        return [
            Missing(
                what="scan",
                sentence="There is no scan of this plate.",
                remedy="Drag one in.",
            )
        ]
    try:
        scan_file(book, scan)
        desk.scans.plate(book, plate, scan)
    except WherestoodError as error:
        return [Missing(what="scan", sentence=error.problem, remedy=error.remedy)]
    return []


def _ground_missing(book: Daybook, session: Session, plate: Plate) -> list[Missing]:
    missing = []
    area = None
    try:
        area = area_searched(plate)
        if area is None:
            missing.append(
                Missing(
                    what="ground searched",
                    sentence="Nothing says where to search.",
                    remedy="Draw a rough circle on the map, or give two coordinates.",
                )
            )
    except WherestoodError as error:
        missing.append(
            Missing(what="ground searched", sentence=error.problem, remedy=error.remedy)
        )
    boxes = layer_boxes(session)
    paths, _ = layers_of(book, session)
    if not paths:
        missing.append(
            Missing(what="terrain", sentence=NO_TERRAIN[0], remedy=NO_TERRAIN[1])
        )
    elif area is not None and not any(
        shapely.intersects(area.polygon, box) for box in boxes
    ):
        missing.append(
            Missing(
                what="terrain",
                sentence="The daybook's terrain does not cover the ground searched.",
                remedy="Add terrain for it, or move the ground searched.",
            )
        )
    return missing
