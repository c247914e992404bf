"""Draw a report's pictures from what a daybook keeps."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from wherestood.daybook.book import Daybook
from wherestood.daybook.files_now import files_now
from wherestood.daybook.keep_answer import SCREEN, folder_of_fix
from wherestood.daybook.kept_fix import reopened
from wherestood.daybook.keys import find
from wherestood.daybook.main_scan import main_scan
from wherestood.daybook.opened_scan import opened_scan
from wherestood.daybook.report_facts import fix_reported
from wherestood.daybook.tables import Plate
from wherestood.errors import WherestoodError
from wherestood.evidence.joined import joined_skyline, without_skyline
from wherestood.progress import SILENT, Progress
from wherestood.record.against import can_set_against
from wherestood.record.inputs import FixInputs
from wherestood.record.mapping_json import mapping_of_fix
from wherestood.record.report.beside import pictures_beside
from wherestood.record.report.content import Picture
from wherestood.record.report.facts import SeenFacts
from wherestood.record.report.figures import (
    against_picture,
    comparison_picture,
    keyed_plate_picture,
    map_picture,
    view_picture,
)
from wherestood.record.report.fix_again import fix_of_form

__all__ = ["plate_pictures", "screen_of"]


def plate_pictures(
    book: Daybook,
    key: str,
    seen: Sequence[SeenFacts],
    fix_key: str = "",
    *,
    plate_alone: bool = False,
    proposed: bool = True,
    progress: Progress = SILENT,
) -> tuple[tuple[Picture, ...], tuple[str, ...]]:
    """Return the pictures of a plate, and why others are not there.

    Parameters
    ----------
    book : Daybook
    key : str
        The plate's.
    seen : sequence of SeenFacts
        What is lettered on it.
    fix_key : str
        The fix, as `report_facts.fix_reported` takes it.
    plate_alone : bool
        Whether the plate is wanted and neither map nor comparison.
    proposed : bool
        Whether positions that people proposed are shown.
    progress : Progress
        Told of each step.
    """
    with book.reading() as session:
        plate = find(session, Plate, key)
        scan = main_scan(session, plate)
        fix = None if plate_alone else fix_reported(session, plate, fix_key)
        moved = files_now(session, fix) if fix is not None else {}
    pictures: list[Picture] = []
    missing: list[str] = []
    if scan is None:
        missing.append("There is no picture of the plate: no scan was taken in.")
    else:
        progress.stage("drawing the plate with its letters")
        try:
            opened = opened_scan(book.folder, plate, scan)
            pictures.append(keyed_plate_picture(opened, seen))
        except WherestoodError as error:
            missing.append(f"There is no picture of the plate: {error.problem}")
    if fix is None or fix.answer is None:
        return tuple(pictures), tuple(missing)
    beside = folder_of_fix(book, plate.key, fix.key)
    # What was drawn when the fix was made shows what people had proposed.
    shows_them = () if proposed or not fix.answer["proposed"] else ("map",)
    if "camera" not in fix.answer:  # of a panorama, whose pictures are kept as drawn
        return (*pictures, *pictures_beside(beside, *shows_them)), tuple(missing)
    progress.stage("drawing the map and the comparison")
    try:
        again = reopened(book.folder, fix, progress, moved=moved)
    except WherestoodError as error:
        missing.append(
            f"The map and the comparison are not drawn anew: {error.problem}"
        )
        return (*pictures, *pictures_beside(beside, *shows_them)), tuple(missing)
    skyline = joined_skyline(again.evidence.skylines)
    shown = skyline if skyline is not None else without_skyline(again.plate)
    inputs = FixInputs(
        again.plate, again.land, shown, again.area, again.settings,
        ridges=again.evidence.ridge_lines, evidence=again.evidence,
    )  # fmt: skip
    screen = screen_of(beside)
    drawn = fix_of_form(fix.answer, again.land, screen)
    drawn = drawn if proposed else replace(drawn, proposed=())
    pictures += [map_picture(drawn, inputs), comparison_picture(drawn, inputs)]
    pictures.append(view_picture(mapping_of_fix(fix.answer, again.land)))
    pictures += [
        against_picture(drawn, inputs, number)
        for number, one in enumerate(drawn.proposed, start=1)
        if can_set_against(one)
    ]
    pictures += pictures_beside(beside, *(one.name for one in pictures))
    if screen is None:
        missing.append(
            "The computed horizon is not drawn: what was beside the fix in out is gone."
        )
    return tuple(pictures), tuple(missing)


def screen_of(folder: Path) -> dict[str, Any] | None:
    """Return what the screens show of a fix, where it is still there."""
    try:
        told: dict[str, Any] = json.loads((folder / SCREEN).read_text("utf-8"))
    except (OSError, ValueError):
        return None
    return told
