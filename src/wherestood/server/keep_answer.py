"""Keep an answer in the daybook, with its pictures and what the screens show."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC
from pathlib import Path
from typing import Any

import wherestood
from wherestood.daybook import Daybook
from wherestood.daybook.asked import Asked, named_within
from wherestood.daybook.book import OUT
from wherestood.daybook.kept_fix import keep_fix
from wherestood.daybook.originals.names import safe_name
from wherestood.daybook.question import PlateRead
from wherestood.notebook import LocatedPlate
from wherestood.progress import SILENT, Progress
from wherestood.record.atomic import write_text_atomically
from wherestood.record.inputs import Making
from wherestood.record.screen_form import screen_form

__all__ = ["SCREEN", "KeptAnswer", "folder_of_fix", "keep_answer"]

#: What the screens show of an answer, beside its pictures.
SCREEN = "screen.json"
RING_REACH = 1.25  # a ring of half the area again is searched too (1.5 ** 0.5)


@dataclass(frozen=True)
class KeptAnswer:
    """Name a fix that was kept, and the files beside it."""

    id: str
    key: str
    files: tuple[Path, ...]


def folder_of_fix(book: Daybook, plate_key: str, fix_key: str) -> Path:
    """Return where the pictures of a fix lie."""
    return book.folder / OUT / safe_name(plate_key) / fix_key


def keep_answer(
    book: Daybook,
    read: PlateRead,
    answer: LocatedPlate,
    person: str,
    why: str = "",
    *,
    without: Iterable[str] = (),
    more: dict[str, Any] | None = None,
    progress: Progress = SILENT,
) -> KeptAnswer:
    """Keep a fix and draw its pictures.

    Parameters
    ----------
    book : Daybook
        Where.
    read : PlateRead
        What was read of the plate before the search.
    answer : LocatedPlate
        What was found.
    person, why : str
        Who asked, and why.
    without : iterable of str
        Ids of items that did not count.
    more : dict, optional
        How else it was asked, to be kept with it.
    progress : Progress
        Told of each step.
    """
    inputs, area = answer.inputs, answer.inputs.area
    asked = Asked(
        read.scan.file,
        tuple(named_within(book.folder, path) for path in read.terrain),
        area.centre,
        RING_REACH * area.radius_m + inputs.settings.horizon_radius_m,
        read.scan.scan_ppi,
        more or {},
    )
    progress.stage("writing the answer down")
    made = book.clock().astimezone(UTC).replace(microsecond=0).isoformat()
    out = set(without)
    with book.writing(person, why) as session:
        kept = keep_fix(
            session,
            book.folder,
            read.plate,
            answer.answer,
            inputs,
            Making(made, wherestood.__version__),
            asked,
            items=[read.scan, *(one for one in read.told.items if one.id not in out)],
            words=answer.words(),
            after_journal=read.after_journal,
        )
    progress.stage("drawing pictures")
    folder = folder_of_fix(book, read.plate.key, kept.key)
    files = answer.save(folder)
    told = json.dumps(screen_form(answer.answer, answer.inputs), allow_nan=False)
    write_text_atomically(folder / SCREEN, told)
    return KeptAnswer(kept.id, kept.key, files)
