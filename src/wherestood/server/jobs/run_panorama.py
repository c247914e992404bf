"""Find the one station of a panorama's plates, and what shows on two of them."""

from __future__ import annotations

from typing import Any

from wherestood import panorama
from wherestood.daybook import Daybook
from wherestood.daybook.ask_fix import Wish
from wherestood.daybook.ask_panorama import prepare_panorama, with_matches
from wherestood.daybook.keep_panorama import keep_panorama
from wherestood.daybook.keys import find
from wherestood.daybook.main_scan import main_scan
from wherestood.daybook.opened_scan import opened_scan
from wherestood.daybook.tables import Plate
from wherestood.daybook.ties_kept import keep_matches, plates_of_panorama
from wherestood.errors import InputError
from wherestood.progress import Progress
from wherestood.server.forms.jobs import JobResult

__all__ = ["match_plates", "run_panorama"]


def run_panorama(
    book: Daybook, asked: dict[str, Any], wish: Wish, progress: Progress
) -> JobResult:
    """Run a fix of a plate together with the others of its panorama."""
    prepared = prepare_panorama(
        book,
        asked["plate_id"],
        wish,
        progress,
        each_own_lens=bool(asked.get("each_own_lens")),
    )
    person, why = asked["person"], asked.get("why", "")
    if not prepared.matched:
        scans = [one.opened for one in prepared.plates]
        found = panorama.machine_ties(scans, progress, prepared.names)
        prepared = with_matches(book, prepared, found, person, why)
    answer = panorama.locate_panorama(**prepared.given(), progress=progress)
    kept = keep_panorama(book, prepared, answer, person, why, progress=progress)
    return JobResult(
        fix_id=kept[prepared.number].id,
        evidence_id=kept[prepared.number].skyline_id,
        plate_ids=[one.read.plate.id for one in prepared.plates],
        notes=[*prepared.notes, *(str(one) for one in answer.complaints)],
    )


def match_plates(
    asked: dict[str, Any], daybook: str | None, progress: Progress
) -> JobResult:
    """Look for what shows on two plates of a panorama, and keep it."""
    if daybook is None:
        raise InputError("No daybook is open.", "Open one first.")
    with Daybook.open(daybook) as book:
        with book.reading() as session:
            plate = find(session, Plate, asked["plate_id"])
            plates = plates_of_panorama(session, plate)
            if len(plates) < 2:
                raise InputError(
                    f"Plate {plate.key} belongs to no panorama of two plates or more.",
                    "Name the same panorama on each of its plates.",
                )
            scans = [(one, main_scan(session, one)) for one in plates]
        opened, ids = [], []
        for one, scan in scans:
            if scan is None:
                raise InputError(f"Plate {one.key} has no scan.", "Drag one in.")
            opened.append(opened_scan(book.folder, one, scan))
            ids.append(scan.id)
        found = panorama.machine_ties(opened, progress, [one.key for one in plates])
        with book.writing(asked["person"], asked.get("why", "")) as session:
            keep_matches(session, plates, ids, found)
    pairs = len({tie.plates for tie in found})
    said = (
        f"{len(found)} things were found on two plates, on {pairs} "
        f"{'pair' if pairs == 1 else 'pairs'} of plates."
        if found
        else "Nothing was recognised on two plates. Set by hand what is seen on both."
    )
    return JobResult(plate_ids=[one.id for one in plates], notes=[said])
