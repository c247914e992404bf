"""Compare a photograph made on the spot with its plate, and keep what it tells."""

from __future__ import annotations

import shutil
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np

from wherestood.daybook import Daybook
from wherestood.daybook.files_now import files_now
from wherestood.daybook.keep_photograph import keep_photograph
from wherestood.daybook.kept_fix import reopened
from wherestood.daybook.tables import Fix
from wherestood.errors import InputError
from wherestood.plate.photograph import read_photograph
from wherestood.progress import Progress
from wherestood.record.mapping_json import mapping_of_fix, station_of
from wherestood.server.forms.jobs import JobResult
from wherestood.server.forms.photographs import PhotographGiven
from wherestood.visit.asked_of_photograph import settled_photograph
from wherestood.visit.marks_file import read_marks
from wherestood.visit.photograph_compared import compare_photograph
from wherestood.visit.seen_on_both import HandMarks

__all__ = ["compare_and_keep", "marks_of", "photograph_and_marks"]

#: The same photograph gives the same answer.
_SEED = 1


def compare_and_keep(
    asked: dict[str, Any], daybook: str | None, progress: Progress
) -> JobResult:
    """Compare what was sent in with the plate of a fix; nothing is kept on failure."""
    if daybook is None:
        raise InputError("No daybook is open.", "Open one first.")
    upload = Path(asked["upload"])
    file, marked = photograph_and_marks(upload)
    said = PhotographGiven.model_validate(asked["given"])
    now = datetime.now()
    taken = said.taken.replace(tzinfo=None) if said.taken else None
    photo = settled_photograph(
        read_photograph(file), now, place=said.place_deg, heading_deg=said.heading_deg,
        focal_35_mm=said.focal_35_mm, taken=taken, not_known=said.not_known,
        mirrored=said.mirrored,
    )  # fmt: skip
    with Daybook.open(Path(daybook)) as book:
        with book.reading() as session:
            fix = session.get_one(Fix, asked["fix_id"])
            moved = files_now(session, fix)
        if not fix.answer:
            raise InputError("The answer was withdrawn.", "Look for it anew in Where.")
        again = reopened(book.folder, fix, progress, moved=moved)
        mapping = mapping_of_fix(fix.answer, again.land).at_place(said.place)
        size = photo.width_px, photo.height_px
        marks = (
            read_marks(marked, mapping.scan_px, size)
            if marked
            else marks_of(said, mapping.scan_px, size)
        )
        found = compare_photograph(
            mapping, station_of(fix.answer, said.place), again.plate, photo, now.date(),
            np.random.default_rng(_SEED), marks=marks, mirrored=said.mirrored,
            lens_m=said.lens_height_m, progress=progress,
        )  # fmt: skip
        progress.stage("drawing both pictures")
        keep_photograph(
            book, asked["plate_id"], fix.key, file, photo, again.plate, found,
            mapping.caution(), asked["person"], asked.get("why", ""),
            marks=marked,
        )  # fmt: skip
    shutil.rmtree(upload, ignore_errors=True)
    return JobResult(
        plate_ids=[asked["plate_id"]], notes=[*found.sentences[:2], *found.notes]
    )


def marks_of(
    said: PhotographGiven, plate_px: tuple[int, int], photo_px: tuple[int, int]
) -> HandMarks | None:
    """Return what was marked on the page on both pictures; None for nothing.

    Raises
    ------
    InputError
        If a mark lies off its picture.
    """
    if not said.marks:
        return None
    plate = np.array([one.plate_px for one in said.marks], dtype=np.float64)
    photo = np.array([one.photo_px for one in said.marks], dtype=np.float64)
    for number, where in enumerate(zip(plate, photo, strict=True), start=1):
        for at, size in zip(where, (plate_px, photo_px), strict=True):
            if not ((at >= 0.0) & (at <= size)).all():
                raise InputError(
                    f"Mark {number} lies off its picture.", "Mark it anew on both."
                )
    far = [one.distance_m or np.nan for one in said.marks]
    distance = np.array(far, dtype=np.float64)
    # A distance that a person gives without a doubt: paced or taped, to a twentieth.
    return HandMarks(plate, photo, distance, 0.05 * distance, said.marks_sd_px)


def photograph_and_marks(upload: Path) -> tuple[Path, Path | None]:
    """Return the one photograph that was sent, and the marks by hand if any came.

    Raises
    ------
    InputError
        If there is not one photograph, or more than one file of marks.
    """
    files = sorted(path for path in upload.rglob("*") if path.is_file())
    marks = [one for one in files if one.suffix.lower() == ".csv"]
    photos = [one for one in files if one not in marks]
    if len(photos) != 1 or len(marks) > 1:
        raise InputError(
            f"One photograph is compared at a time; {len(photos)} were sent, and "
            f"{len(marks)} files of marks.",
            "Send one photograph, with a CSV of things marked on both if you have one.",
        )
    return photos[0], marks[0] if marks else None
